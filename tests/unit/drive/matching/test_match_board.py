"""Matching on seeded boards: windows agree within 5 % once resistors are of E24, or it is known why not."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from paneglow.drive.series import E24

from matching_boards import SUPPLIES, WIRINGS, match_case
from paneglow.drive.circuit import BoardLights, match_board
from paneglow.drive.matching import board_luminance_cd_m2, match_bought, match_exactly
from unit.judge import cases

AGREEMENT = 0.05  # the promise
# Every wiring on every supply, each with a seed of its own
SAMPLE = [
    (wiring, supply, seed)
    for seed, (wiring, supply) in enumerate((wiring, supply) for wiring in WIRINGS for supply in SUPPLIES)
]


@pytest.mark.parametrize(("wiring", "supply", "seed"), SAMPLE)
def test_windows_within_reach_agree_after_rounding(wiring, supply, seed):
    task = match_case(seed, wiring=wiring, supply=supply).task(luminance_cd_m2=5.0)
    exact = match_exactly(task)
    bought = match_bought(task, exact=exact)
    within = exact.matched.within_reach
    assert within.any()
    levels = bought.luminance_cd_m2[within]
    assert np.abs(levels / bought.level_cd_m2 - 1.0).max() <= AGREEMENT
    assert bought.agreement_frac == pytest.approx(np.abs(levels / bought.level_cd_m2 - 1.0).max())


@pytest.mark.parametrize("seed", range(6))
def test_before_rounding_windows_stand_at_the_level_and_resistors_are_of_the_series_after(seed):
    task = match_case(seed, wiring="resistors", supply="usb").task(luminance_cd_m2=8.0)
    exact = match_exactly(task)
    assert_allclose(exact.luminance_cd_m2, 8.0, rtol=2e-3)  # light is straightened anew until 1e-4 is left
    bought = match_bought(task, exact=exact)
    for ohm in bought.settings.resistor_ohm.values():
        mantissa = ohm / 10.0 ** np.floor(np.log10(ohm) + 1e-9)
        assert np.abs(np.array(E24) - mantissa).min() < 1e-9


def test_what_is_reported_is_what_the_solved_circuit_shows():
    task = match_case(3, wiring="pins", supply="li-ion").task(luminance_cd_m2=5.0)
    bought = match_bought(task, exact=match_exactly(task))
    assert_allclose(bought.luminance_cd_m2, board_luminance_cd_m2(task, point=bought.point), rtol=1e-12)


def test_chosen_ratios_are_kept():
    case = match_case(5, wiring="sinks", supply="usb")
    exact = match_exactly(case.task(luminance_cd_m2=4.0, ratio=[1.0, 2.0, 0.5, 1.0, 3.0]))
    assert_allclose(exact.luminance_cd_m2 / 4.0, [1.0, 2.0, 0.5, 1.0, 3.0], rtol=2e-3)


def test_a_window_out_of_reach_gets_all_it_can_and_is_named():
    case = match_case(7, wiring="resistors", supply="usb")
    dim = case.light.copy()
    dim[0] *= 0.002
    exact = match_exactly(replace(case.task(luminance_cd_m2=8.0), light=dim))
    assert exact.matched.within_reach.tolist() == [False, True, True, True, True]
    led = exact.circuit.leds[0]
    assert exact.point.mean_current_ma[0] == pytest.approx(led.current_max_ma, rel=0.01)


def answer_for(case, *, luminance_cd_m2, **changes):
    match = case.design.drive.match.model_copy(update={"luminance_cd_m2": luminance_cd_m2})
    design = case.design.model_copy(update={"drive": case.design.drive.model_copy(update={"match": match})})
    refs = tuple(led.ref for led in case.leds)
    lights = BoardLights(
        windows=case.names,
        refs=refs,
        per_test_cd_m2=case.light,
        present_frac=dict.fromkeys(refs, 0.1),
        passed_frac=changes.get("passed_frac", dict.fromkeys(refs, 1.0)),
    )
    catalog = cases.catalog().model_copy(update={"parts": changes.get("parts", {})})
    return match_board(design, board=cases.board(*case.leds), catalog=catalog, lights=lights)


def test_an_answer_that_is_as_asked_gives_no_reason():
    answer = answer_for(match_case(3, wiring="resistors", supply="usb", windows=3), luminance_cd_m2=5.0)
    assert answer.reasons == ()
    assert answer.agreement_frac <= AGREEMENT
    assert [window.changes for window in answer.windows] == [(), (), ()]


def test_an_answer_that_falls_short_says_why_and_each_change_that_is_said_to_reach_does():
    case = match_case(2, wiring="resistors", supply="coin-2032", windows=2)
    answer = answer_for(case, luminance_cd_m2=60.0)
    assert answer.reasons
    for number, window in enumerate(answer.windows):
        assert window.after_cd_m2 < 60.0
        supplies = [change for change in window.changes if change.kind == "supply" and change.reaches]
        for change in supplies:
            code = change.words.rpartition("(")[2].rstrip(")")
            design = case.design.model_copy(update={"supply": case.design.supply.model_copy(update={"cell": code})})
            again = match_exactly(replace(case, design=design).task(luminance_cd_m2=60.0))
            assert again.luminance_cd_m2[number] >= 0.99 * 60.0
    assert any(change.reaches for window in answer.windows for change in window.changes)


def test_a_brighter_part_and_a_diffuser_taken_off_are_tried():
    case = match_case(7, wiring="resistors", supply="usb", windows=2)
    dim = replace(case, light=case.light * np.array([[0.02], [1.0]]))
    part = case.leds[0].part
    flux = part.flux_lm.model_copy(update={"value": 20 * part.flux_lm.value, "high": None})
    better = part.model_copy(update={"code": "brighter", "flux_lm": flux})
    veiled = {"D1": 0.1, "D2": 1.0}
    answer = answer_for(dim, luminance_cd_m2=8.0, parts={"brighter": better}, passed_frac=veiled)
    kinds = {change.kind: change for change in answer.windows[0].changes}
    assert kinds["part"].words.startswith("brighter instead of")
    assert kinds["part"].reaches
    assert kinds["diffuser"].reaches  # ten times the light, of which a third was missing
