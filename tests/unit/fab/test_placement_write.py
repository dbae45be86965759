"""What is written in any dialect is read again as the same rows, and says of itself what it means."""

from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from paneglow.errors import PlacementError
from paneglow.fab import (
    DIALECTS,
    BottomRule,
    PlacementRow,
    PlacementRule,
    TurnRule,
    ZeroRule,
    read_placement,
    to_placement_text,
)
from paneglow.fab.placement import parse_placement
from paneglow.fab.placement_rule import parse_rule

WORD = st.text("abcXYZ019-_. ", min_size=0, max_size=8).map(lambda text: " ".join(text.split()))
PLACE_MM = st.integers(-400_000_000, 400_000_000).map(lambda steps: steps / 1e6)
RULES = st.builds(
    PlacementRule,
    bottom=st.sampled_from(get_args(BottomRule)),
    zero=st.sampled_from(get_args(ZeroRule)),
    turn=st.sampled_from(get_args(TurnRule)),
)


@st.composite
def row_lists(draw):
    count = draw(st.integers(1, 5))
    return tuple(
        PlacementRow(
            ref=f"D{number}",
            x_mm=draw(PLACE_MM),
            y_mm=draw(PLACE_MM),
            rotation_deg=draw(st.integers(0, 359_999_999)) / 1e6,
            side=draw(st.sampled_from(("front", "back"))),
            value=draw(WORD),
            package=draw(WORD),
            line=0,
        )
        for number in range(1, count + 1)
    )


def read_again(text):
    path = Path("a.csv")
    return tuple(replace(row, line=0) for row in parse_placement(text, path=path)), parse_rule(
        text.splitlines(), path=path
    )


@pytest.mark.parametrize("dialect", DIALECTS)
@settings(max_examples=60, deadline=None)
@given(rows=row_lists(), rule=RULES)
def test_rows_and_rule_come_back_identical_and_a_second_writing_gives_the_same_bytes(dialect, rows, rule):
    text = to_placement_text(rows, dialect=dialect, rule=rule)
    found, stated = read_again(text)
    assert found == rows, "places to 1e-6 mm and rotations to 1e-6 deg, far within 0.001 mm and 0.01 deg"
    assert stated == replace(rule, y="up")
    assert to_placement_text(found, dialect=dialect, rule=rule) == text


def test_dialects_differ_in_unit_and_separator_and_name_columns_in_plain_words():
    assert {dialect.unit for dialect in DIALECTS.values()} == {"mm", "inch", "mil"}
    assert {dialect.separator for dialect in DIALECTS.values()} == {",", ";", "\t"}
    text = to_placement_text(ROWS, dialect="comma-mm", rule=PlacementRule())
    header = next(line for line in text.splitlines() if not line.startswith("#"))
    assert header == "Reference,X (mm),Y (mm),Rotation (deg),Side,Value,Package"


ROWS = (PlacementRow(ref="D1", x_mm=1.0, y_mm=2.5, rotation_deg=90.0, side="back", value="amber", package="", line=0),)


def test_a_file_names_its_rule_in_words_a_person_can_follow(tmp_path):
    rule = PlacementRule(bottom="turned-left-right", zero="cathode-left")
    path = tmp_path / "board.csv"
    path.write_text(to_placement_text(ROWS, dialect="tab-mil", rule=rule))
    lines = path.read_text().splitlines()
    assert lines[0] == "# rotations: bottom=turned-left-right zero=cathode-left turn=long-axis y=up"
    assert "# at zero the cathode is at the left" in lines
    assert "# unit: mil" in lines
    assert read_placement(path)[1] == rule
    assert [(one.x_mm, one.y_mm) for one in read_placement(path)[0]] == [(1.0, 2.5)]


def test_the_user_names_columns_and_faces_and_leaves_comments_out():
    mine = replace(
        DIALECTS["tab-mil"], columns=("Teil", "Links", "Unten", "Winkel", "Seite"), sides=("T", "B"), comments=False
    )
    text = to_placement_text(ROWS, dialect=mine, rule=PlacementRule())
    assert text.splitlines()[0] == "Teil\tLinks\tUnten\tWinkel\tSeite"
    assert text.splitlines()[1].split("\t")[0::4] == ["D1", "B"]
    assert len(text.splitlines()) == 2
    (row,) = parse_placement(text, path=Path("a.csv"), unit="mil", columns=mine.columns)
    assert replace(row, line=0, value="amber") == ROWS[0]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"columns": ("Part", "X", "Y")}, "needed are 5 to 7 different names for ref, x, y, rotation, side"),
        ({"columns": ("A", "B", "C", "C", "D")}, "different names"),
        ({"columns": ("Part", "X (inch)", "Y", "Turn", "Side")}, "names another unit than mm"),
        ({"sides": ("up", "down")}, "known for the front are top, t, front"),
        ({"sides": ("back", "front")}, "known for the front are"),
    ],
)
def test_names_that_could_not_be_read_again_are_refused(changes, words):
    with pytest.raises(PlacementError, match=words):
        replace(DIALECTS["comma-mm"], **changes)


def test_an_angle_a_hair_below_a_full_turn_is_written_within_0_to_360():
    text = to_placement_text(
        [replace(ROWS[0], rotation_deg=359.9999999), replace(ROWS[0], ref="D2", rotation_deg=-90.0)],
        dialect="comma-mm",
        rule=PlacementRule(),
    )
    assert [line.split(",")[3] for line in text.splitlines()[-2:]] == ["0", "270"]


def test_a_statement_with_an_unknown_word_is_refused_in_one_line():
    with pytest.raises(PlacementError, match=r"a\.csv, line 1: rotations are stated as bottom=sideways; known are"):
        parse_rule(["# rotations: bottom=sideways"], path=Path("a.csv"))


def test_a_file_that_states_nothing_has_no_rule():
    assert parse_rule(["Designator,X,Y,Rotation", "D1,0,0,0"], path=Path("a.csv")) is None


def test_what_no_file_can_hold_is_refused():
    row = PlacementRow(ref="D1", x_mm=0, y_mm=0, rotation_deg=0, side="back", value='3 "', package="", line=0)
    with pytest.raises(PlacementError, match="holds a quote or a line break"):
        to_placement_text([row], dialect="comma-mm", rule=PlacementRule())
    with pytest.raises(PlacementError, match="D1 has no side"):
        to_placement_text([replace(row, value="", side=None)], dialect="comma-mm", rule=PlacementRule())
