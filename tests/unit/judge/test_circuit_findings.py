import re
from dataclasses import replace

import pytest
from shapely.geometry import box

from paneglow.assembly import assemble
from paneglow.design import ChipDesign, Supply, View
from paneglow.drive import solve_board
from paneglow.judge import check_board
from paneglow.judge.findings import BOARD_RULES, CIRCUIT_RULES
from unit.judge import cases
from unit.judge.circuit_cases import AMBER, BLUE, CIRCUIT_CASES, RED, rail, solved, wired

BY_CODE = {rule.code: rule for rule in (*CIRCUIT_RULES, *BOARD_RULES)}


def found(code, context):
    return list(BY_CODE[code].find(context))


def test_every_circuit_rule_has_its_own_code_and_a_case():
    assert {rule.code for rule in CIRCUIT_RULES} == set(CIRCUIT_CASES)
    assert len(BY_CODE) == len(CIRCUIT_RULES) + len(BOARD_RULES)


@pytest.mark.parametrize("rule", CIRCUIT_RULES, ids=lambda rule: rule.code)
def test_a_circuit_rule_is_silent_on_a_clean_wired_board(rule):
    assert list(rule.find(solved())) == []


@pytest.mark.parametrize("code", CIRCUIT_CASES)
def test_a_circuit_rule_speaks_in_its_case_under_its_own_code_and_severity(code):
    findings = found(code, CIRCUIT_CASES[code]())
    assert findings
    assert {finding.code for finding in findings} == {code}
    assert {finding.severity for finding in findings} <= set(BY_CODE[code].severities)
    for finding in findings:
        for sentence in (finding.reason, finding.remedy):
            assert re.fullmatch(r"[A-Z0-9].*\.", sentence), sentence


def test_a_limit_passed_only_with_a_strong_supply_and_low_voltages_is_a_warning():
    # 5 V, 2.0 V at 5 mA, 155 ohm: about 19 mA as usual, above 20 mA at 1.6 V
    context = solved(wired(rail(1000.0, 155.0)))
    (finding,) = found("led-limit-passed", context)
    assert (finding.subject, finding.severity) == ("D2", "warning")
    assert finding.reason.startswith("With a strong supply and LEDs of low forward voltage its mean current is")
    assert "Usually it is 18" in finding.reason
    (worse,) = found("led-limit-passed", CIRCUIT_CASES["led-limit-passed"]())
    assert worse.severity == "error"


def test_the_amount_above_the_limit_is_told():
    (finding,) = found("led-limit-passed", CIRCUIT_CASES["led-limit-passed"]())
    used, over = (float(text) for text in re.findall(r"is ([\d.]+) mA, ([\d.]+) mA above the 20 mA", finding.reason)[0])
    assert used - over == pytest.approx(20.0, abs=1e-9)


def test_starved_leds_of_one_order_code_share_a_finding():
    more = tuple(replace(BLUE, ref=f"D{number}", at_mm=(29.0, 8.0 + 2 * number)) for number in (3, 4))
    group = rail(1000.0, 220.0).model_copy(
        update={"strings": (("D1",), ("D2",), ("D3",), ("D4",)), "resistor_ohm": (1000.0, 220.0, 220.0, 220.0)}
    )
    context = solved(wired(group, supply=Supply(kind="coin-cell")), leds=(AMBER, BLUE, *more))
    (finding,) = found("led-starved", context)
    assert all(ref in finding.reason + finding.subject for ref in ("D2", "D3", "D4"))


def test_a_starved_led_says_which_share_is_left_and_is_an_error_where_it_stays_dark():
    (finding,) = found("led-starved", CIRCUIT_CASES["led-starved"]())
    assert finding.subject == "D2"
    assert "of its usual light" in finding.reason
    low = Supply(kind="regulated", voltage_v=2.55)
    assert [one.severity for one in found("led-starved", solved(wired(supply=low), leds=(AMBER, BLUE)))][-1] == "error"


@pytest.mark.parametrize(
    ("rate_hz", "severity"), [(100.0, "warning"), (1249.0, "warning"), (1300.0, "note"), (3500.0, None)]
)
def test_full_depth_pwm_is_low_risk_from_1250_and_without_effect_from_3000_hertz(rate_hz, severity):
    # IEEE 1789-2015, from memory
    findings = found("light-flickers", solved(wired(rail(duty_frac=0.5, cycle_hz=rate_hz))))
    assert [finding.severity for finding in findings] == ([] if severity is None else [severity])


@pytest.mark.parametrize(
    ("flash_hz", "distance_mm", "count"), [(3.0, 60.0, 0), (4.0, 60.0, 1), (4.0, 400.0, 0), (0.0, 60.0, 0)]
)
def test_more_than_three_flashes_count_only_where_they_fill_enough_of_the_view(flash_hz, distance_mm, count):
    # Two windows of 136 mm2: 0.038 sr at 60 mm, 0.00085 sr at 400 mm; the limit is 0.006 sr (WCAG 2.3.1)
    wanted = cases.design(supply=Supply(kind="usb", flash_hz=flash_hz), view=View(distance_mm=distance_mm))
    assert len(found("flashes-too-fast", cases.before_light(wanted=wanted))) == count


def test_a_solved_board_is_judged_by_its_circuit_and_not_by_estimates_from_the_design():
    design, board = wired(supply=Supply(kind="coin-cell")), cases.board(AMBER, replace(BLUE, current_ma=30.0))
    catalog = cases.catalog()
    told = {"board": board, "catalog": catalog, "assembled": assemble(design, board=board, catalog=catalog)}
    codes = {finding.code for finding in check_board(design, **told)}
    assert {"current-above-limit", "forward-voltage-too-high", "supply-current-too-high"} <= codes
    drive = solve_board(design, board=board)
    solved_codes = {finding.code for finding in check_board(design, **told, drive=drive)}
    estimates = {"current-above-limit", "forward-voltage-too-high", "supply-current-too-high", "cell-empties-soon"}
    assert not solved_codes & estimates
    assert "led-starved" in solved_codes


def test_pins_ports_and_chip_are_told_by_name():
    chip = ChipDesign(kind="cmos-8bit", pin_max_ma=1.0, port_max_ma=2.0, chip_max_ma=3.0)
    context = CIRCUIT_CASES["chip-starved"]()
    tight = solved(context.design.model_copy(update={"chip": chip}), leds=(AMBER, RED))
    reasons = " ".join(finding.reason for finding in found("pin-limit-passed", tight))
    assert all(words in reasons for words in ("Pin P1's", "Pin P2's", "Port A's", "The chip's"))


def with_led(ref, **changes):
    """The clean wired board, one of its solved LEDs changed."""
    context = solved()
    leds = tuple(led.model_copy(update=changes) if led.ref == ref else led for led in context.drive.leds)
    return replace(context, drive=replace(context.drive, leds=leds))


@pytest.mark.parametrize(("share", "severity"), [(0.51, None), (0.06, "warning"), (0.05, "warning"), (0.04, "error")])
def test_half_the_usual_light_is_starved_and_less_than_a_twentieth_is_dark(share, severity):
    findings = found("led-starved", with_led("D2", light_frac=1.0, weak_light_frac=share))
    assert [finding.severity for finding in findings] == ([] if severity is None else [severity])


@pytest.mark.parametrize(
    ("ghost_ma", "own_ma", "count"), [(0.05, 10.0, 0), (0.11, 10.0, 1), (0.0005, 0.01, 0), (0.0015, 0.01, 1)]
)
def test_a_ghost_is_seen_above_a_hundredth_of_the_leds_own_current_and_above_a_microampere(ghost_ma, own_ma, count):
    assert len(found("ghost-light", with_led("D2", ghost_ma=ghost_ma, mean_ma=own_ma + ghost_ma))) == count


@pytest.mark.parametrize(
    ("junction_c", "severity"), [(84.0, None), (86.0, "warning"), (109.0, "warning"), (111.0, "error")]
)
def test_a_junction_is_warm_above_85_and_too_hot_above_110_degrees(junction_c, severity):
    findings = found("junction-too-warm", with_led("D2", junction_c=junction_c))
    assert [finding.severity for finding in findings] == ([] if severity is None else [severity])


def test_only_windows_that_are_lit_flash():
    # A dark window of 200 mm2 beside two lit ones of 136 mm2: at 200 mm 0.0034 sr flash, below 0.006 sr
    dark = cases.window("dark", box(0.0, 20.0, 20.0, 30.0))
    made = cases.board(windows=(*cases.board().survey.windows, dark))
    wanted = cases.design(supply=Supply(kind="usb", flash_hz=4.0), view=View(distance_mm=200.0))
    assert not found("flashes-too-fast", cases.before_light(wanted=wanted, made=made))
