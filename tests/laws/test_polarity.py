"""No LED the wrong way round passes: seeded boards under every rule, dialect and style, right and spoilt."""

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from paneglow.assembly import assemble
from paneglow.fab import DIALECTS, PlacementRule
from paneglow.judge import check_board
from polarity_boards import BOTTOMS, TURNS, ZEROS, Made, make_case, right_file_deg, right_rows, through_file, with_row

STOPS = {
    "placement-misread",
    "led-reversed",
    "led-off-its-lands",
    "led-on-one-net",
    "led-leads-nowhere",
    "land-missing",
    "legend-mark-disagrees",
    "two-ways-disagree",
    "polarity-not-told",
}
BOARDS = 64  # each right once and spoilt once: 128 cases
NEEDLESS_MOST_FRAC = 0.02
FILES = 200
TURNED_DEG = (90.0, 180.0, 270.0)


def checked(design, *, board, catalog):
    assembled = assemble(design, board=board, catalog=catalog)
    return check_board(design, board=board, catalog=catalog, assembled=assembled)


def stops(made, placement, *, catalog=None):
    """Subjects of the findings that stop a board for its polarity, with their codes."""
    board = made.board(placement, catalog=catalog)
    found = checked(made.case.design, board=board, catalog=catalog or made.case.catalog)
    return {(finding.subject, finding.code) for finding in found if finding.code in STOPS}


def random_rule(rng):
    return PlacementRule(bottom=rng.choice(BOTTOMS), zero=rng.choice(ZEROS), turn=rng.choice(TURNS))


def has_odd_mark(case):
    """Whether the mark of an LED means its anode: marks of legend ink, and most marks of parts, mean the cathode."""
    return any(truth.part.terminals.named(truth.part.mark.terminal).role == "anode" for truth in case.truths)


def tells_opposite_marks(made, placement):
    found = checked(made.case.design, board=made.board(placement), catalog=made.case.catalog)
    return any(finding.code == "same-lands-opposite-marks" for finding in found)


def turns_matter(case, told, meant):
    """Whether a file made under one rule puts at least one LED another way under the other."""
    return any(abs(right_file_deg(truth, told) - right_file_deg(truth, meant)) > 0.01 for truth in case.truths)


def spoil_by_a_turned_row(rng, made, placement):
    row = rng.choice(placement.rows[: len(made.case.truths)])
    return with_row(placement, row.ref, rotation_deg=row.rotation_deg + rng.choice(TURNED_DEG)), None


def spoil_by_a_side(rng, made, placement):
    row = rng.choice(placement.rows[: len(made.case.truths)])
    return with_row(placement, row.ref, side="front" if row.side == "back" else "back"), None


def spoil_by_another_rule(field, words):
    """The service reads the file otherwise than it was made."""

    def spoil(rng, made, placement):
        other = [replace(placement.rule, **{field: word}) for word in words]
        other = [rule for rule in other if turns_matter(made.case, rule, placement.rule)]
        return (replace(placement, rule=rng.choice(other)), None) if other else None

    return spoil


def spoil_by_a_sibling(rng, made, placement):
    """The reel holds the sibling: alike in all but the way it lies in its tape."""
    rule = replace(placement.rule, zero="as-taped")
    placement = through_file(right_rows(made.case, rule), dialect="comma-mm", rule=rule)
    truth = rng.choice(made.case.truths)
    across = {(1, 2): (3, 4), (3, 4): (1, 2), (1, 3): (2, 4), (2, 4): (1, 3)}
    tape = truth.part.tape.model_copy(update={"quadrants": across[truth.part.tape.quadrants]})
    sibling = truth.part.model_copy(update={"tape": tape})
    parts = made.case.catalog.parts | {truth.part.code: sibling}
    return placement, made.case.catalog.model_copy(update={"parts": parts})


SPOILERS = (
    spoil_by_a_turned_row,
    spoil_by_another_rule("bottom", BOTTOMS),
    spoil_by_another_rule("zero", ZEROS),
    spoil_by_another_rule("turn", TURNS),
    spoil_by_a_sibling,
    spoil_by_a_side,
)


@pytest.fixture(scope="module")
def verdicts():
    """What every seeded case gave: which are right and were stopped, which are wrong and passed, and what was met."""
    needless, passed, met = [], [], {"right": 0, "wrong": 0, "odd": 0, "seen": set()}
    for seed in range(BOARDS):
        rng = random.Random(1000 + seed)
        legend_wrong = seed % 8 == 7
        case = make_case(seed, turn_deg=rng.choice((0.0, 90.0, rng.uniform(0, 360))), legend_wrong=legend_wrong)
        made, rule, dialect = Made(case), random_rule(rng), rng.choice(list(DIALECTS))
        placement = through_file(right_rows(case, rule), dialect=dialect, rule=rule)
        met["seen"] |= {dialect, rule.bottom, rule.zero, rule.turn, *(truth.mounting for truth in case.truths)}
        found = stops(made, placement)
        if legend_wrong:
            met["wrong"] += 1
            if {subject for subject, code in found if code == "legend-mark-disagrees"} != {t.ref for t in case.truths}:
                passed.append((seed, "legend"))
            continue
        met["right"] += 1
        odd = has_odd_mark(case)
        met["odd"] += odd
        if odd != tells_opposite_marks(made, placement):
            passed.append((seed, "opposite marks"))
        if found:
            needless.append((seed, found))
        spoilt = next(
            made_wrong for one in (SPOILERS[seed % 6], SPOILERS[0]) if (made_wrong := one(rng, made, placement))
        )
        met["wrong"] += 1
        if not stops(made, spoilt[0], catalog=spoilt[1]):
            passed.append((seed, SPOILERS[seed % 6]))
    return needless, passed, met


def test_no_wrong_case_passes(verdicts):
    _, passed, met = verdicts
    assert met["wrong"] >= 60
    assert 10 <= met["odd"] < met["right"], "marks that mean the anode are among the cases, and are told"
    assert passed == []


def test_right_cases_are_hardly_ever_stopped(verdicts):
    needless, _, met = verdicts
    assert met["right"] + met["wrong"] >= 100
    assert len(needless) <= NEEDLESS_MOST_FRAC * met["right"], needless


def test_the_cases_meet_every_dialect_rule_and_style(verdicts):
    styles = {"lens_down", "top_view", "reverse", "side_view"}
    assert verdicts[2]["seen"] >= {*DIALECTS, *BOTTOMS, *ZEROS, *TURNS, *styles}


def spoilt_rows(rng, placement, refs):
    """One row turned by 90, 180 or 270 deg, or mirrored: onto the other face, or its rotation counted backwards."""
    ref = rng.choice(refs)
    row = next(one for one in placement.rows if one.ref == ref)
    backwards = {"rotation_deg": -row.rotation_deg}
    # A part is placed within a few degrees: turned by less, it is no wrong one (`ASKEW_DEG` of assembly/other_rows.py)
    matters = abs((2 * row.rotation_deg + 180.0) % 360 - 180.0) > 20.0
    kinds = [{"rotation_deg": row.rotation_deg + turn} for turn in TURNED_DEG]
    kinds += [{"side": "front" if row.side == "back" else "back"}, *([backwards] if matters else [])]
    return row.ref, rng.choice(kinds)


def test_every_one_of_200_files_with_one_spoilt_row_is_caught():
    missed, kinds = [], set()
    for seed in range(FILES // 10):
        rng = random.Random(seed)
        made = Made(make_case(300 + seed))
        refs = [truth.ref for truth in made.case.truths]
        for number in range(10):
            rule, dialect = random_rule(rng), rng.choice(list(DIALECTS))
            rows = through_file(right_rows(made.case, rule), dialect=dialect, rule=rule)
            ref, change = spoilt_rows(rng, rows, refs)
            spoilt = with_row(rows, ref, **change)
            again = through_file(spoilt.rows, dialect=dialect, rule=rule)
            kinds |= set(change)
            if not any(subject == ref for subject, _ in stops(made, again)):
                missed.append((seed, number, ref, change))
    assert missed == []
    assert kinds == {"rotation_deg", "side"}


@settings(max_examples=30, deadline=None)
@given(
    seed=st.integers(0, 9),
    turn_deg=st.floats(0.0, 360.0, allow_nan=False),
    mirrored=st.booleans(),
    zero=st.sampled_from(ZEROS),
    bottom=st.sampled_from(BOTTOMS),
    reversed_one=st.booleans(),
)
def test_the_verdict_does_not_change_when_the_whole_board_is_turned_or_mirrored(
    seed, turn_deg, mirrored, zero, bottom, reversed_one
):
    rule = PlacementRule(zero=zero, bottom=bottom)

    def verdict(case):
        rows = through_file(right_rows(case, rule), dialect="comma-mm", rule=rule)
        if reversed_one:
            rows = with_row(rows, "D1", rotation_deg=rows.rows[0].rotation_deg + 180.0)
        return stops(Made(case), rows)

    plain = verdict(make_case(seed))
    assert plain == ({("D1", "led-reversed")} if reversed_one else set())
    assert verdict(make_case(seed, turn_deg=turn_deg, mirrored=mirrored)) == plain
