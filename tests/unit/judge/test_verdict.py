from dataclasses import replace

import numpy as np
import pytest

from paneglow.assembly import assemble
from paneglow.design import CircuitGroup, Goals, LedGroup, Supply
from paneglow.judge import judge
from paneglow.judge.cautions import CAUTION_KINDS, CautionContext, bare_luminance_cd_m2, build_cautions
from paneglow.judge.light import chromaticity_uv, chromaticity_uv_from_xy
from unit.judge import cases


def verdict(context, **changes):
    fields = ("design", "board", "catalog", "scene", "tally", "look")
    given = {name: getattr(context, name) for name in fields} | changes
    assembled = assemble(given["design"], board=given["board"], catalog=given["catalog"])
    return judge(**given, assembled=assembled)


def cautions(*, wanted=None, mounting="side_view", colour="red", flux_lm=0.01):
    emitter = replace(cases.emitter(cases.SIDE_LED), flux_lm=flux_lm)
    context = CautionContext(
        design=wanted or cases.design(), leds=(("D1", mounting, colour),), scene=cases.scene(emitter)
    )
    return {caution.code: caution for caution in build_cautions(context)}


def test_a_clean_board_without_goals_passes():
    clean = verdict(cases.with_light())
    assert clean.passed
    assert (clean.goals, clean.findings) == ((), ())


def test_a_missed_or_open_goal_does_not_pass():
    context = cases.with_light()
    assert verdict(context, design=cases.design(goals=Goals(evenness_min=0.5))).passed
    assert not verdict(context, design=cases.design(goals=Goals(evenness_min=0.7))).passed


def test_an_error_does_not_pass_and_a_warning_does():
    away = cases.board(replace(cases.SIDE_LED, rotation_deg=180.0), cases.FLAT_LED)
    assert not verdict(cases.with_light(), board=away).passed
    assert verdict(cases.LIGHT_CASES["window-uneven"]()).passed


def test_findings_of_board_and_light_stand_in_one_list():
    codes = {
        finding.code
        for finding in verdict(
            cases.LIGHT_CASES["window-uneven"](), catalog=cases.catalog(laminate_origin="assumed")
        ).findings
    }
    assert codes == {"window-uneven", "laminate-assumed"}


def test_bare_luminance_is_intensity_over_area():
    # A Lambertian square of 1 mm2 with 1 lm: 1/pi cd over 1e-6 m2
    emitter = replace(cases.emitter(cases.SIDE_LED), flux_lm=1.0)
    assert bare_luminance_cd_m2(emitter) == pytest.approx(1e6 / np.pi)


def test_cautions_apply_where_their_cause_is_present_and_only_there():
    assert cautions() == {}
    assert set(cautions(wanted=cases.design(supply=Supply(kind="coin-cell")))) == {"button-cell"}
    assert set(cautions(wanted=cases.design(supply=Supply(kind="battery")))) == {"small-cells"}
    assert set(cautions(wanted=cases.design(supply=Supply(kind="battery", cell="li-ion")))) == {"lithium-cell"}
    assert set(cautions(wanted=cases.design(supply=Supply(kind="usb", flash_hz=3.1)))) == {"flashing"}
    assert cautions(wanted=cases.design(supply=Supply(kind="usb", flash_hz=3.0))) == {}
    assert set(cautions(mounting="through_hole", flux_lm=1.0)) == {"bright-bare-lens"}
    assert cautions(mounting="reverse", flux_lm=1.0) == {}
    assert set(cautions(mounting="lens_down")) == {"hand-soldering"}
    group = LedGroup(at_mm=(8.0, 15.0), part="p", mounting="side_view", current_ma=1.0, diffuser="hot-glue")
    assert set(cautions(wanted=cases.design(led=(group,)))) == {"hot-glue"}


def test_blue_is_named_as_the_hazard_band_and_red_is_not():
    assert "blue hazard band" in cautions(mounting="cutout", colour="white", flux_lm=1.0)["bright-bare-lens"].text
    assert "blue hazard band" not in cautions(mounting="cutout", colour="red", flux_lm=1.0)["bright-bare-lens"].text


def test_flashing_above_the_sensitive_band_is_not_said_to_lie_in_it():
    text = {
        rate: cautions(wanted=cases.design(supply=Supply(kind="usb", flash_hz=rate)))["flashing"].text
        for rate in (10.0, 50.0)
    }
    assert "lies in the band" in text[10.0]
    assert "lies in the band" not in text[50.0]


def test_a_scan_whose_turns_are_seen_flashes_and_a_fast_one_does_not():
    for rate_hz, flashes in ((20.0, True), (200.0, False)):
        scan = CircuitGroup(driver="rail", strings=(("D1",),), resistor_ohm=(150.0,), duty_frac=0.5, cycle_hz=rate_hz)
        wanted = cases.design(supply=Supply(kind="usb"), circuit=(scan,))
        assert ("flashing" in cautions(wanted=wanted)) == flashes


def test_a_piece_that_children_may_get_hold_of_is_told_so_with_every_kind_of_cell():
    for kind, cell in (("coin-cell", None), ("battery", None), ("battery", "li-ion")):
        supplies = [Supply(kind=kind, cell=cell, child_reach=reach) for reach in (True, False)]
        stated = [cautions(wanted=cases.design(supply=supply)).values() for supply in supplies]
        near, far = (" ".join(caution.text for caution in given) for given in stated)
        assert "Children may get hold of this piece" in near
        assert "Children" not in far


def test_every_caution_defers_and_names_its_source():
    group = LedGroup(at_mm=(8.0, 15.0), part="p", mounting="cutout", current_ma=1.0, diffuser="hot-glue")
    everything = cases.design(led=(group,), supply=Supply(kind="coin-cell", flash_hz=10.0))
    stated = cautions(wanted=everything, mounting="cutout", flux_lm=1.0)
    for cell in (None, "li-ion"):
        stated |= cautions(wanted=cases.design(supply=Supply(kind="battery", cell=cell)))
    assert set(stated) == {kind.code for kind in CAUTION_KINDS}
    for caution in stated.values():
        assert caution.text.endswith("Local rules and qualified advice come first.")
        assert caution.source


def test_two_ways_to_uniform_chromaticity_agree():
    xyz = np.array([0.3, 0.5, 0.9])
    x, y = xyz[:2] / xyz.sum()
    assert chromaticity_uv(xyz) == pytest.approx(chromaticity_uv_from_xy(float(x), float(y)))
    assert chromaticity_uv(np.zeros(3)) is None
