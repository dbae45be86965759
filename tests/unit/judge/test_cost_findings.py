"""Rules about money: each is silent on a sound cost file and speaks in its case."""

import re
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from cost_cases import PERFECT, PLAIN, STAMP, TODAY, make_bill, make_costing
from paneglow.cost import build_answer
from paneglow.judge import check_costs
from paneglow.judge.findings import COST_RULES, CostContext

BY_CODE = {rule.code: rule for rule in COST_RULES}
SALE = f"[sale]\nprice = 24\nmargin_percent = 30\nvat_percent = 20\n{STAMP}\n"
SOUND = PLAIN + PERFECT + SALE
GOOD = 100


def context(text=SOUND, *, on=TODAY, good=GOOD, bill=None, left_out=()):
    costing = make_costing(text, bill=bill)
    answer = build_answer(costing, quantities=(good,), seed=1)
    return CostContext(costs=costing.costs, answer=answer, good=good, on=on, left_out=left_out)


def found(code, *args, **keywords):
    return list(BY_CODE[code].find(context(*args, **keywords)))


CHEAP = SOUND.replace("price = 24", "price = 0.50")
JIG = f'[[one_off]]\nname = "jig"\namount = 3000\n{STAMP}\n'
MINIMUM = SOUND.replace("at = 1, each = 0.20 }, { at = 100, each = 0.10", "at = 20000, each = 0.10")
DEMAND = f"[demand]\nmean = 20\nsd = 5\nsalvage = 0\n{STAMP}\n"
WIDE = SOUND.replace("per_joint = 0.01", "per_joint = { value = 0.06, low = 0, high = 1 }")
WHOLE = f'[[operation]]\nname = "build"\nper = "board"\nsolders = true\nminutes = 30\n{STAMP}\n'
ASSUMED_FEES = """[assembly]
per_joint = { value = 0.01, low = 0, high = 0.05 }
origin = "assumed"
dated = 2026-11-01
source = "a range of our own"
"""
UNQUOTED = SOUND[: SOUND.index("[assembly]")] + ASSUMED_FEES + SOUND[SOUND.index("[labour]") :]
STRAY = f'[[stock]]\nitem = "ledd"\npieces = 5\neach = 0.1\n{STAMP}\n'
CASES = {
    "price-below-variable-cost": lambda: context(CHEAP),
    "margin-out-of-reach": lambda: context(SOUND.replace("margin_percent = 30", "margin_percent = 100")),
    "run-does-not-pay": lambda: context(SOUND + JIG),
    "price-too-old": lambda: context(on=date(2026, 11, 1) + timedelta(days=91)),
    "name-without-offer": lambda: context(SOUND + STRAY),
    "price-dated-ahead": lambda: context(on=date(2026, 10, 31)),
    "leftovers-costly": lambda: context(MINIMUM),
    "cheapest-way-open": lambda: context(WIDE, bill=make_bill(mounting="side_view")),
    "run-off-the-demand": lambda: context(SOUND + DEMAND),
    "fees-not-quoted": lambda: context(UNQUOTED, bill=make_bill(mounting="side_view")),
    "minutes-of-whole-board": lambda: context(SOUND + WHOLE),
    "version-left-out": lambda: context(left_out=(("blue one", "blue.toml: there is no such file"),)),
}


def test_every_rule_has_its_own_code_and_a_case_here():
    assert len(BY_CODE) == len(COST_RULES)
    assert set(CASES) == set(BY_CODE)


@pytest.mark.parametrize("code", BY_CODE)
def test_a_rule_is_silent_on_a_sound_cost_file(code):
    assert found(code) == []


@pytest.mark.parametrize("code", CASES)
def test_a_rule_speaks_in_its_case_under_its_own_code_and_severity(code):
    findings = list(BY_CODE[code].find(CASES[code]()))
    assert findings
    for finding in findings:
        assert finding.code == code
        assert finding.severity in BY_CODE[code].severities
        for sentence in (finding.reason, finding.remedy):
            assert re.fullmatch(r"[A-Z0-9].*\.", sentence)


def test_fees_of_ninety_days_are_young_enough_and_a_day_more_is_too_old():
    assert found("price-too-old", on=date(2026, 11, 1) + timedelta(days=90)) == []
    (finding,) = found("price-too-old", on=date(2026, 11, 1) + timedelta(days=91))
    assert "91 days old, more than 90" in finding.reason


def test_one_finding_stands_for_all_tables_of_one_quote():
    late = SOUND.replace("2026-11-01", "2026-05-01", 1)
    (finding,) = found("price-too-old", late)
    assert finding.subject.startswith("board")


def test_assumed_ranges_and_own_timings_do_not_age():
    timed = SOUND.replace('minutes = 0.75\norigin = "quote"', 'minutes = 0.75\norigin = "own-timing"')
    (finding,) = found("price-too-old", timed, on=date(2027, 6, 1))
    assert "solder" not in finding.subject


def test_a_price_below_variable_cost_needs_a_written_reason():
    errors = found("price-below-variable-cost", CHEAP)
    # 1.00 board + 0.80 LEDs + 6 min at 15/h = 1.50: 3.30 by hand
    assert {finding.severity for finding in errors} == {"error"}
    assert "one more piece costs 3.30" in errors[0].reason
    reasoned = CHEAP.replace("vat_percent", 'below_cost_reason = "samples for the fair"\nvat_percent')
    notes = found("price-below-variable-cost", reasoned)
    assert {finding.severity for finding in notes} == {"note"}
    assert "samples for the fair" in notes[0].reason


def test_fees_nobody_quoted_name_no_cheapest_way():
    # 100 boards: boards 100.00, LEDs 80.00; the fees alone 0 to 1600 joints x 0.05 = 80.00: 1.80 to 2.60 a piece
    made = CASES["fees-not-quoted"]()
    assert made.answer.cheapest is None
    assert made.answer.shown.way == "hand"
    assert made.answer.crossovers == ()
    assert {row.way for row in made.answer.sales} == {row.way for row in made.answer.break_even} == {"hand"}
    assert all(row.cheapest_frac is None for row in made.answer.risks)
    (mixed,) = (row for row in BY_CODE["fees-not-quoted"].find(made) if row.subject == "mixed")
    assert "costs 1.80 to 2.60 EUR" in mixed.reason
    assert context().answer.cheapest is not None


def test_a_version_left_out_names_who_asked_for_it():
    (finding,) = BY_CODE["version-left-out"].find(CASES["version-left-out"]())
    assert finding.reason == "The [[option]] 'blue one' of cost.toml is left out: blue.toml: there is no such file."


def test_findings_come_gravest_first():
    text = CHEAP + DEMAND
    made = context(text)
    severities = [row.severity for row in check_costs(made.costs, answer=made.answer, good=GOOD, on=date(2027, 6, 1))]
    assert severities == sorted(severities, key=["error", "warning", "note"].index)
    assert len(set(severities)) >= 2


@pytest.mark.parametrize(("profit", "count"), [("-0.05", 1), ("0.05", 0)])
def test_a_run_that_earns_a_little_pays(profit, count):
    made = context()
    hand = next(row for row in made.answer.sales if row.way == "hand" and row.good == GOOD)
    sales = (hand.model_copy(update={"profit": Decimal(profit)}),)
    changed = replace(made, answer=made.answer.model_copy(update={"sales": sales}))
    assert len(list(BY_CODE["run-does-not-pay"].find(changed))) == count
