import pytest
from numpy.testing import assert_allclose

from paneglow.drive.circuit import CellSupply, RailSupply, build_supply, read_supplies, supply_source
from paneglow.errors import DesignError, RangeError
from paneglow.units import Quantity

CODES = list(read_supplies())


def test_the_catalogue_holds_the_usual_supplies():
    assert {"coin-2032", "alkaline-aa-pair", "nimh-aa-pair", "li-ion", "usb", "regulated"} <= set(CODES)


@pytest.mark.parametrize("code", CODES)
def test_every_figure_has_an_origin_and_a_spelt_out_source(code):
    record = read_supplies()[code]
    values = [value for _, value in record if isinstance(value, Quantity)]
    assert all(len(value.source) > 15 for value in values)
    assert all(text and origin for text, origin in build_supply(code).origins)


@pytest.mark.parametrize("code", CODES)
def test_the_low_end_is_the_weaker_supply_and_the_high_end_the_stronger(code):
    low, nominal, high = (build_supply(code, end=end) for end in ("low", "nominal", "high"))
    for weaker, stronger in ((low, nominal), (nominal, high)):
        for depth in (0.0, 0.5, 0.9):
            under, over = supply_source(weaker, depth_frac=depth), supply_source(stronger, depth_frac=depth)
            assert under.voltage_v < over.voltage_v
            assert under.fast_ohm + under.slow_ohm > over.fast_ohm + over.slow_ohm


def test_two_cells_in_series_have_twice_the_voltage_of_one():
    pair = build_supply("alkaline-aa-pair")
    assert isinstance(pair, CellSupply)
    assert pair.curve.open_circuit_v[0] == pytest.approx(3.2)


def test_the_slow_share_of_the_resistance_of_a_cell_stands_apart():
    source = supply_source(build_supply("coin-2032"), depth_frac=0.0)
    assert_allclose([source.fast_ohm, source.slow_ohm], [10.4, 5.6])


def test_a_stated_voltage_scales_the_cell_and_sets_the_rail():
    cell, rail = build_supply("coin-2032", voltage_v=3.0), build_supply("regulated", voltage_v=2.5)
    assert isinstance(cell, CellSupply)
    assert isinstance(rail, RailSupply)
    assert cell.curve.open_circuit_v[0] == pytest.approx(3.0)
    assert cell.curve.open_circuit_v[-1] == pytest.approx(2.0 * 3.0 / 3.25)
    assert rail.voltage_v == 2.5


def test_a_misspelt_supply_is_refused_with_the_nearest():
    with pytest.raises(DesignError, match="nearest is coin-2032"):
        build_supply("coin-2023")


def test_a_depth_beyond_empty_is_refused():
    with pytest.raises(RangeError, match="depth_frac"):
        supply_source(build_supply("coin-2032"), depth_frac=1.5)
