import pytest
from numpy.testing import assert_allclose

from boards_under_drive import parts
from paneglow.catalog import ForwardCurve
from paneglow.drive.circuit import build_drive_led
from paneglow.errors import CatalogError
from paneglow.physics import relative_light
from shockley import diode_voltage_v

WHITE = parts()["rv-1206-white"]


def with_points(part, **points):
    curve = ForwardCurve(origin="sourced", source="data sheet, figure 2", **points)
    return part.model_copy(update={"electrical": part.electrical.model_copy(update={"forward_curve": curve})})


def test_every_part_of_the_catalogue_is_a_load_that_meets_its_voltage_at_its_test_current():
    for part in parts().values():
        drive = build_drive_led("D1", part)
        voltage_v = float(diode_voltage_v(part.test_current_ma, curve=drive.curve))
        assert voltage_v == pytest.approx(part.forward_voltage_v.value, abs=1e-6)
        assert drive.peak_current_max_ma >= drive.current_max_ma


def test_every_assumed_figure_of_a_load_has_a_range_and_a_source():
    for part in parts().values():
        for name, value in part.electrical:
            assert value is None or value.lowest < value.highest, f"{part.code}: {name}"
        assert {origin for _, origin in build_drive_led("D1", part).origins} <= {"sourced", "assumed", "measured"}


@pytest.mark.parametrize(("end", "field"), [("low", "lowest"), ("nominal", "value"), ("high", "highest")])
def test_the_ends_of_the_voltage_range_shift_the_whole_curve(end, field):
    drive, nominal = build_drive_led("D1", WHITE, voltage=end), build_drive_led("D1", WHITE)
    shift_v = getattr(WHITE.forward_voltage_v, field) - WHITE.forward_voltage_v.value
    current_ma = [0.1, 5.0, 20.0]
    assert_allclose(
        diode_voltage_v(current_ma, curve=drive.curve),
        diode_voltage_v(current_ma, curve=nominal.curve) + shift_v,
        atol=1e-9,
    )


def test_printed_points_outweigh_what_is_usual():
    current_ma, voltage_v = (1.0, 5.0, 10.0, 20.0, 30.0), (2.65, 2.85, 3.0, 3.25, 3.45)
    drive = build_drive_led("D1", with_points(WHITE, current_ma=current_ma, voltage_v=voltage_v))
    # Read to 5 mV; the curve cannot follow every rounding of the print
    assert_allclose(diode_voltage_v(current_ma, curve=drive.curve), voltage_v, atol=0.02)
    assert "data sheet, figure 2" in drive.origins[0][0]


def test_printed_light_is_followed():
    printed = with_points(
        WHITE, current_ma=(2.0, 5.0, 20.0), voltage_v=(2.8, 2.95, 3.3), relative_flux=(0.14, 0.32, 1.0)
    )
    drive = build_drive_led("D1", printed)
    assert_allclose(relative_light((2.0, 5.0, 20.0), curve=drive.flux), (0.14, 0.32, 1.0), rtol=0.05)  # 3 % each


def test_a_part_without_electrical_values_is_refused_with_a_remedy():
    with pytest.raises(CatalogError, match="start it `like`"):
        build_drive_led("D1", WHITE.model_copy(update={"electrical": None}))


def test_points_that_do_not_fit_together_are_refused():
    with pytest.raises(ValueError, match="as many points"):
        ForwardCurve(current_ma=(1.0, 2.0), voltage_v=(2.0,), origin="sourced", source="data sheet")
    with pytest.raises(ValueError, match="must rise"):
        ForwardCurve(current_ma=(2.0, 1.0), voltage_v=(2.0, 2.1), origin="sourced", source="data sheet")
    with pytest.raises(ValueError, match="or none"):
        ForwardCurve(
            current_ma=(1.0, 2.0), voltage_v=(2.0, 2.1), relative_flux=(1.0,), origin="sourced", source="data sheet"
        )
