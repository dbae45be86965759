"""Drill files: every way to write a number, a hole, a slot or a routed path gives the same hits in mm."""

import math

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from paneglow.errors import DrillError, PaneglowError
from paneglow.fab.drill import MAX_HITS, ROUTED_ARC_SAGITTA_MM, DrillHit, looks_like_drill, parse_drill
from paneglow.fab.drill_fit import BoardPlace, fit_drill
from paneglow.fab.drill_format import DrillFormat, find_drill_format, parse_drill_number
from paneglow.fab.drill_holes import goes_through
from tiny_sets import drill

MICRON_MM = 1e-3
BOARD = BoardPlace(bounds_mm=(0.0, 0.0, 100.0, 60.0), pad_points=np.array([[10.0, 20.0], [30.0, 40.0], [90.0, 50.0]]))


def hits(text: str) -> tuple[DrillHit, ...]:
    return parse_drill(text, name="a.drl").hits


def starts(text: str) -> list[tuple[float, float]]:
    return [(round(hit.start_mm[0], 6), round(hit.start_mm[1], 6)) for hit in hits(text)]


@st.composite
def written_numbers(draw: st.DrawFn) -> tuple[str, DrillFormat, float]:
    """Text of a coordinate, its format, and its value in mm, written here without the reader's code."""
    unit = draw(st.sampled_from(["mm", "inch"]))
    before, after = draw(st.sampled_from([(2, 3), (2, 4), (2, 5), (3, 2), (3, 3), (3, 5), (4, 2), (4, 4)]))
    steps = draw(st.integers(min_value=0, max_value=10 ** (before + after) - 1))
    sign = draw(st.sampled_from(["", "-", "+"]))
    digits = f"{steps:0{before + after}d}"
    kind = draw(st.sampled_from(["point", "leading", "trailing"]))
    text = {
        "point": f"{digits[:before]}.{digits[before:]}",
        "leading": digits.rstrip("0") or "0" * before,
        "trailing": digits.lstrip("0") or "0",
    }[kind]
    zeros = None if kind == "point" else kind
    value = steps / 10**after * (25.4 if unit == "inch" else 1.0) * (-1.0 if sign == "-" else 1.0)
    return sign + text, DrillFormat(unit=unit, zeros=zeros, digits=(before, after)), value


@given(written_numbers())
def test_number_in_any_format_reads_back_within_a_micron(case: tuple[str, DrillFormat, float]) -> None:
    text, written, value_mm = case
    assert parse_drill_number(text, written=written) == pytest.approx(value_mm, abs=MICRON_MM, rel=0)


@given(written_numbers())
def test_whole_file_in_any_format_reads_back_within_a_micron(case: tuple[str, DrillFormat, float]) -> None:
    text, written, value_mm = case
    word = {"mm": "METRIC", "inch": "INCH"}[written.unit or "mm"]
    zeros = {"leading": ",LZ", "trailing": ",TZ", None: ""}[written.zeros]
    before, after = written.digits or (3, 3)
    lines = drill(f"X{text}Y{text}", head=f"{word}{zeros},{'0' * before}.{'0' * after}", tools="T1C0.02")
    (hit,) = hits(lines)
    assert hit.start_mm == pytest.approx((value_mm, value_mm), abs=MICRON_MM, rel=0)


MM_33 = DrillFormat(unit="mm", zeros="trailing", digits=(3, 3))
INCH_24 = DrillFormat(unit="inch", zeros="leading", digits=(2, 4))


@pytest.mark.parametrize(
    ("head", "expected"),
    [
        ("METRIC,TZ,000.000", MM_33),
        ("METRIC,0000.00", DrillFormat(unit="mm", digits=(4, 2))),
        ("INCH,LZ\n;FILE_FORMAT=2:4", INCH_24),
        (";FORMAT={3:3/ absolute / metric / suppress leading zeros}", MM_33),
        (";FORMAT={2:4/ absolute / inch / suppress trailing zeros}", INCH_24),
        ("; FORMAT={-:-/ absolute / inch / decimal}", DrillFormat(unit="inch")),
        ("M71", DrillFormat(unit="mm")),
        ("M72", DrillFormat(unit="inch")),
        (";FORMAT={2:4/ absolute / inch / suppress trailing zeros}\nMETRIC,TZ,000.000", MM_33),
        ("FMAT,2", DrillFormat()),
    ],
)
def test_format_is_found_in_statements_before_comments(head: str, expected: DrillFormat) -> None:
    assert find_drill_format(f"M48\n{head}\n%\nX1Y1\nM30\n") == expected


def test_same_hole_in_four_dialects() -> None:
    # 1.98 in = 50.292 mm, 4.17 in = 105.918 mm
    texts = [
        drill("X019800Y041700", head="INCH,LZ\n;FILE_FORMAT=2:4", tools="T1C0.0315"),
        drill("X19800Y41700", head="INCH,TZ", tools="T1C0.0315"),
        drill("X1.98Y4.17", head="INCH", tools="T01C0.0315F200S65"),
        drill("X50292Y105918", head="METRIC,TZ,000.000", tools="T01F200S65C0.8001"),
    ]
    for text in texts:
        assert starts(text) == [(50.292, 105.918)]
        assert hits(text)[0].diameter_mm == pytest.approx(0.80010, abs=1e-9)


def test_axis_that_is_not_named_stays() -> None:
    assert starts(drill("X1.0Y2.0", "X3.0", "Y4.0")) == [(1.0, 2.0), (3.0, 2.0), (3.0, 4.0)]


def test_incremental_positions_add_up() -> None:
    assert starts(drill("G91", "X1.0Y1.0", "X2.0Y0.5", "G90", "X9.0Y9.0")) == [(1.0, 1.0), (3.0, 1.5), (9.0, 9.0)]


def test_incremental_input_set_in_the_header_holds() -> None:
    text = "M48\nMETRIC\nICI,ON\nT1C0.8\n%\nT1\nX1.0Y1.0\nX1.0Y0.0\nM30\n"
    assert starts(text) == [(1.0, 1.0), (2.0, 1.0)]


def test_work_zero_moves_all_positions() -> None:
    assert starts(drill("G93X10.0Y20.0", "X1.0Y2.0", "G93X0Y0", "X1.0Y2.0")) == [(11.0, 22.0), (1.0, 2.0)]


def test_repeats_step_from_the_last_hole() -> None:
    assert starts(drill("X1.0Y1.0", "R3X2.0", "X0.0Y0.0")) == [
        (1.0, 1.0),
        (3.0, 1.0),
        (5.0, 1.0),
        (7.0, 1.0),
        (0.0, 0.0),
    ]


def test_pattern_is_repeated_step_by_step() -> None:
    assert starts(drill("M25", "X1.0Y1.0", "X2.0Y1.0", "M01", "M02X10.0", "M02Y5.0", "M08")) == [
        (1.0, 1.0),
        (2.0, 1.0),
        (11.0, 1.0),
        (12.0, 1.0),
        (11.0, 6.0),
        (12.0, 6.0),
    ]


def test_slot_runs_from_start_to_end() -> None:
    slot, hole = hits(drill("X1.0Y2.0G85X3.0Y2.0", "X5.0Y5.0"))
    assert (slot.start_mm, slot.end_mm) == ((1.0, 2.0), (3.0, 2.0))
    assert hole.start_mm == hole.end_mm == (5.0, 5.0)


def test_routed_path_is_cut_between_tool_down_and_tool_up() -> None:
    text = drill("G00X1.0Y1.0", "M15", "G01X4.0Y1.0", "X4.0Y3.0", "M16", "G05", "X9.0Y9.0")
    assert [(hit.start_mm, hit.end_mm) for hit in hits(text)] == [
        ((1.0, 1.0), (4.0, 1.0)),
        ((4.0, 1.0), (4.0, 3.0)),
        ((9.0, 9.0), (9.0, 9.0)),
    ]


@pytest.mark.parametrize("arc", ["G03X0.0Y5.0A5.0", "G03X0.0Y5.0I-5.0J0.0"])
def test_routed_arc_stays_on_its_circle(arc: str) -> None:
    pieces = hits(drill("G00X5.0Y0.0", "M15", arc, "M16"))
    length = sum(math.dist(piece.start_mm, piece.end_mm) for piece in pieces)
    assert length == pytest.approx(5.0 * math.pi / 2.0, rel=1e-3)  # a quarter turn; chords are a little shorter
    for piece in pieces:
        middle = [(a + b) / 2 for a, b in zip(piece.start_mm, piece.end_mm, strict=True)]
        assert 5.0 - ROUTED_ARC_SAGITTA_MM - 1e-9 <= math.hypot(*middle) <= 5.0
    assert pieces[-1].end_mm == (0.0, 5.0)


def test_clockwise_arc_by_radius_takes_the_other_side() -> None:
    pieces = hits(drill("G00X0.0Y0.0", "M15", "G02X2.0Y0.0A1.0", "M16"))
    assert max(piece.end_mm[1] for piece in pieces) == pytest.approx(1.0, abs=0.01)


def test_path_cut_without_tool_down_is_said() -> None:
    read = parse_drill(drill("G00X1.0Y1.0", "G01X4.0Y1.0"), name="a.drl")
    assert len(read.hits) == 1
    assert "without M15" in read.notes[0]


def test_unit_may_change_on_the_way() -> None:
    assert starts(drill("X1.0Y1.0", "M72", "X1.0Y1.0")) == [(1.0, 1.0), (25.4, 25.4)]


def test_file_without_tools_has_no_bores() -> None:
    assert hits("M48\nFMAT,2\nMETRIC\n%\nG90\nG05\nM30\n") == ()


def test_tool_defined_in_the_body_is_used() -> None:
    (hit,) = hits("M48\nINCH,TZ\n%\nT10C0.0100\nX2775Y16159\nM30\n")
    assert hit.diameter_mm == pytest.approx(0.254)


def test_tool_with_compensation_index_is_the_tool() -> None:
    assert hits(drill("X1.0Y1.0").replace("\nT1\n", "\nT0101\n"))[0].diameter_mm == 0.8


def test_plating_follows_attributes_of_file_and_tool() -> None:
    text = (
        "M48\n; #@! TF.FileFunction,MixedPlating,1,2\nMETRIC\n"
        "; #@! TA.AperFunction,Plated,PTH,ViaDrill\nT1C0.3\n"
        "; #@! TA.AperFunction,NonPlated,NPTH,ComponentDrill\nT2C3.0\n; #@! TD\nT3C1.0\n"
        "%\nT1\nX1.0Y1.0\nT2\nX2.0Y1.0\nT3\nX3.0Y1.0\nM30\n"
    )
    assert [hit.plated for hit in hits(text)] == [True, False, None]
    for word, plated in (("Plated", True), ("NonPlated", False)):
        (hit,) = hits(drill("X1.0Y1.0", head=f"; #@! TF.FileFunction,{word},1,2,PTH\nMETRIC"))
        assert hit.plated is plated


def test_plating_follows_type_comments_in_turn() -> None:
    text = "M48\nMETRIC\n;TYPE=PLATED\nT1C0.3\n;TYPE=NON_PLATED\nT2C3.0\n%\nT1\nX1.0Y1.0\nT2\nX2.0Y1.0\nM30\n"
    assert [hit.plated for hit in hits(text)] == [True, False]


@pytest.mark.parametrize(
    ("function", "copper_layers", "through"),
    [("Plated,1,4,PTH", 4, True), ("Plated,1,2,Blind", 4, False), ("", 2, True), ("NonPlated,1,2,NPTH", 2, True)],
)
def test_holes_that_stop_inside_are_known(function: str, copper_layers: int, through: bool) -> None:
    assert goes_through(function, copper_layers=copper_layers) is through


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        (("X1.0Y1.0", "G84X2.0"), "line 9: G84 is not understood and may move holes"),
        (("X1.0Y1.0", "M80"), "M80 is not understood"),
        (("G41", "X1.0"), "G41 is not understood"),
        (("X1.0Y", "X1.0"), "is not understood"),
        (("X1.2.3Y1.0",), "is no coordinate"),
        (("G01X1.0Y1.0",), "before any G00"),
        (("G00X1.0Y1.0", "M15", "G02X2.0Y1.0"), "without radius"),
        (("G00X1.0Y1.0", "M15", "G02X9.0Y1.0A1.0"), "cannot span 8 mm"),
        (("T7", "X1.0Y1.0"), "no diameter"),
        (("T0", "X1.0Y1.0"), "before a tool is chosen"),
        (("M02X1.0",), "that no M25 and M01 enclose"),
        (("X1.0Y1.0", f"R{MAX_HITS}X0.1"), "more than 200000 holes"),
        (("X" + "1" * 300,), "allowed are 200"),
    ],
)
def test_statement_that_cannot_be_cut_is_one_clear_line(lines: tuple[str, ...], message: str) -> None:
    with pytest.raises(DrillError, match=message) as caught:
        hits(drill(*lines))
    assert str(caught.value).startswith("a.drl, line ")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("tools", "message"), [("T1C0.0", "above 0"), ("T1C500.0", "is the unit right"), ("T1C0.8.1", "allowed are digits")]
)
def test_absurd_tool_is_refused(tools: str, message: str) -> None:
    with pytest.raises(DrillError, match=message):
        hits(drill("X1.0Y1.0", tools=tools))


def test_header_only_defines_tools() -> None:
    with pytest.raises(DrillError, match="before a tool is chosen"):
        hits("M48\nMETRIC\nT1C0.8\n%\nX1.0Y1.0\nM30\n")


def test_truncated_file_is_refused_and_a_missing_end_is_said() -> None:
    with pytest.raises(DrillError, match="truncated"):
        hits(drill("X1.0Y1.0", "X2.0Y2.0").removesuffix("Y2.0\nM30\n"))
    (note,) = parse_drill(drill("X1.0Y1.0").removesuffix("M30\n"), name="a.drl").notes
    assert "without M30" in note
    assert "holes may be missing" in note


@settings(max_examples=300)
@given(st.lists(st.text(alphabet="XYTCGMRIJA0123456789.+-%;, /N", max_size=12), max_size=12))
def test_any_rubbish_is_read_or_refused_by_our_own_error(lines: list[str]) -> None:
    message = ""
    try:
        parse_drill("\n".join(["M48", "METRIC", "T1C0.8", "%", "T1", *lines, "M30"]), name="a.drl")
    except PaneglowError as error:
        message = str(error)
    assert "\n" not in message


def test_drill_files_are_told_from_other_text() -> None:
    assert looks_like_drill(drill("X1.0Y1.0"))
    assert looks_like_drill("; a comment first\n\nM48\n%\nM30\n")
    assert looks_like_drill("%\nT1C0.8\nX1.0Y1.0\n")
    assert not looks_like_drill("%FSLAX46Y46*%\n%ADD10C,1*%\nX0Y0D03*\nM02*\n")
    assert not looks_like_drill("Designator,Mid X,Mid Y\nD1,1.0,2.0\n")
    assert not looks_like_drill("")


def test_format_that_is_not_stated_is_inferred_from_the_board_and_said() -> None:
    # 10, 20 / 30, 40 / 90, 50 mm in 1/10000 inch, written without unit, digits or zeros
    lines = [f"X{round(x / 25.4e-4)}Y{round(y / 25.4e-4)}" for x, y in ((10, 20), (30, 40), (90, 50))]
    text = "\n".join(["%", "T1C0.031", "T1", *lines, "M30"]) + "\n"
    read, notes = fit_drill(text, name="a.drl", place=BOARD)
    assert read.written == DrillFormat(unit="inch", zeros="trailing", digits=(2, 4))
    assert [hit.start_mm for hit in read.hits] == [
        pytest.approx(place, abs=0.002)  # half a step of 1/10000 inch is 1.3 um
        for place in ((10, 20), (30, 40), (90, 50))
    ]
    assert "does not state its digits and unit" in notes[-1]
    assert "100% of 3 holes inside the outline" in notes[-1]


def test_unit_that_is_not_stated_is_inferred_for_decimals() -> None:
    text = "%\nT1C0.8\nT1\nX10.0Y20.0\nX30.0Y40.0\nM30\n"
    read, _ = fit_drill(text, name="a.drl", place=BOARD)
    assert read.written.unit == "mm"
    assert read.hits[0].start_mm == (10.0, 20.0)


def test_digits_of_a_stated_unit_are_inferred() -> None:
    read, notes = fit_drill(drill("X1000Y2000", "X3000Y4000", head="METRIC,TZ"), name="a.drl", place=BOARD)
    assert read.written.digits == (3, 2)
    assert "read as mm 3.2" in notes[-1]


def test_stated_format_is_never_changed() -> None:
    read, notes = fit_drill(drill("X10.0Y20.0", "X31.0Y40.0"), name="a.drl", place=BOARD)
    assert [hit.start_mm for hit in read.hits] == [(10.0, 20.0), (31.0, 40.0)]
    assert notes == ()


@pytest.mark.parametrize("pads", [BOARD.pad_points, BOARD.pad_points[:0]])
def test_mm_said_to_be_inch_is_refused(pads: npt.NDArray[np.float64]) -> None:
    place = BoardPlace(bounds_mm=BOARD.bounds_mm, pad_points=pads)
    text = drill("X10.0Y20.0", "X30.0Y40.0", head="INCH", tools="T1C0.8")
    with pytest.raises(DrillError, match=r"2 of 2 holes lie outside the board .*scaled by 25.4 they fit") as caught:
        fit_drill(text, name="a.drl", place=place)
    assert str(caught.value).startswith("a.drl: ")


@pytest.mark.parametrize(("pads", "tool"), [(BOARD.pad_points, "0.8"), (BOARD.pad_points[:0], "0.0315")])
def test_inch_said_to_be_mm_is_refused_though_it_lies_inside(pads: npt.NDArray[np.float64], tool: str) -> None:
    # By its lands where there are some, else by drills thinner than any drill
    place = BoardPlace(bounds_mm=BOARD.bounds_mm, pad_points=pads)
    lines = [f"X{x / 25.4:.5f}Y{y / 25.4:.5f}" for x, y in ((10, 20), (30, 40), (90, 50))]
    with pytest.raises(DrillError, match="only when scaled by 25.4"):
        fit_drill(drill(*lines, tools=f"T1C{tool}"), name="a.drl", place=place)


def test_other_origin_is_refused() -> None:
    with pytest.raises(DrillError, match="export both with one origin"):
        fit_drill(drill("X310.0Y-20.0", "X330.0Y-40.0"), name="a.drl", place=BOARD)


def test_few_holes_outside_are_let_be_and_said() -> None:
    read, notes = fit_drill(drill("X10.0Y20.0", "X30.0Y40.0", "X130.0Y40.0"), name="a.drl", place=BOARD)
    assert len(read.hits) == 3
    assert notes == ("a.drl: 1 of 3 holes lie outside the board",)
