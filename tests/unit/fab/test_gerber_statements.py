"""What single statements mean: places, attributes, notes; and the one clear line for what cannot be drawn."""

import math
from pathlib import Path

import pytest

from paneglow.errors import GerberError
from paneglow.fab import Arc, GerberDrawing, Line, centre_lines, parse_gerber
from paneglow.fab.drawing import FlashMark, RegionMark, StrokeMark
from paneglow.fab.gerber import MAX_EXTENT_MM
from paneglow.fab.gerber_state import MAX_COORDINATE_MM

HEAD = "%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.5*%\nD10*\n"


def read(body: str, *, head: str = HEAD, end: str = "M02*\n") -> GerberDrawing:
    return parse_gerber(head + body + end, path=Path("layer.gbr"))


def test_drawing_is_in_mm_whatever_the_unit() -> None:
    drawing = read("X010000Y020000D03*\n", head="%FSLAX24Y24*%%MOIN*%%ADD10C,0.1*%D10*\n")
    (flash,) = drawing.objects
    assert isinstance(flash, FlashMark)
    assert flash.at_mm == pytest.approx((25.4, 50.8))
    assert flash.shape.disc_mm == pytest.approx(2.54)


def test_bounds_hold_widths_and_arcs() -> None:
    drawing = read("G75*\nX3000000Y2000000D02*\nG03*\nX1000000Y2000000I-1000000J0D01*\n")
    assert drawing.bounds_mm == pytest.approx((0.75, 1.75, 3.25, 3.25))


def test_empty_file_has_no_bounds_and_no_lines() -> None:
    drawing = read("")
    assert drawing.bounds_mm is None
    assert centre_lines(drawing) == ()


def test_centre_lines_give_segments_widths_and_contours() -> None:
    drawing = read(
        "G75*\nG01*\nX0Y0D02*\nX2000000Y0D01*\nG03*\nX3000000Y1000000I0J1000000D01*\n"
        "G36*\nX5000000Y0D02*\nG01*\nX6000000D01*\nY1000000D01*\nX5000000Y0D01*\nG37*\nX9000000D03*\n"
    )
    stroke, contour = centre_lines(drawing)
    assert stroke.width_mm == 0.5
    assert not stroke.is_region
    assert stroke.segments == (
        Line(start_mm=(0.0, 0.0), end_mm=(2.0, 0.0)),
        Arc(start_mm=(2.0, 0.0), end_mm=(3.0, 1.0), centre_mm=(2.0, 1.0), clockwise=False),
    )
    assert contour.is_region
    assert contour.width_mm == 0.0
    assert contour.segments[0].start_mm == contour.segments[-1].end_mm == (5.0, 0.0)


def test_stroke_of_zero_size_aperture_keeps_its_centre_line() -> None:
    drawing = read("G01*\nX0Y0D02*\nX2000000Y0D01*\n", head=HEAD.replace("0.5", "0"))
    assert [line.width_mm for line in centre_lines(drawing)] == [0.0]


def test_move_to_the_same_place_does_not_break_a_stroke() -> None:
    drawing = read("G01*\nX0Y0D02*\nX2000000D01*\nX2000000D02*\nX3000000D01*\nX4000000D02*\nX5000000D01*\n")
    assert [len(mark.segments) for mark in drawing.objects if isinstance(mark, StrokeMark)] == [2, 1]


@pytest.mark.parametrize(
    ("statement", "fields"),
    [
        ("%TF.FileFunction,Copper,L1,Top*%", ("Copper", "L1", "Top")),
        ("G04 #@! TF.FileFunction,Copper,L1,Top*", ("Copper", "L1", "Top")),
        ("G04 #@!TF.FileFunction,Profile,NP*", ("Profile", "NP")),
        ("%TF.FileFunction*%", ()),
        ("%TF.FileFunction,Other,50\\u0025 grey*%", ("Other", "50% grey")),
    ],
)
def test_file_attribute_is_read(statement: str, fields: tuple[str, ...]) -> None:
    assert read(statement).attributes["FileFunction"] == fields


def test_plain_comment_is_no_attribute() -> None:
    drawing = read("G04 TF.FileFunction,Copper,L1,Top*\nG04 #@! nonsense*\n")
    assert drawing.attributes == {}
    assert len(drawing.notes) == 1


def test_aperture_function_goes_with_the_shape_until_deleted() -> None:
    drawing = read(
        "%TA.AperFunction,ViaPad*%%ADD11C,1*%%TD*%%ADD12C,1*%D11*\nX0Y0D03*\nD12*\nX0Y0D03*\n",
    )
    shapes = [mark.shape for mark in drawing.objects if isinstance(mark, FlashMark)]
    assert [shape.function for shape in shapes] == [("ViaPad",), ()]


def test_image_offset_moves_everything() -> None:
    (flash,) = read("%OFA1.5B-2*%X1000000Y1000000D03*\n").objects
    assert isinstance(flash, FlashMark)
    assert flash.at_mm == pytest.approx((2.5, -1.0))


@pytest.mark.parametrize(
    "neutral", ["%OFA0B0*%", "%MIA0B0*%", "%SFA1.0B1.0*%", "%IR0*%", "%ASAXBY*%", "%IPPOS*%", "%INname*%", "%LNx*%"]
)
def test_deprecated_statement_without_effect_is_taken(neutral: str) -> None:
    assert read(neutral + "X0Y0D03*\n").notes == ()


def test_line_ends_of_all_systems_and_byte_order_mark_are_taken() -> None:
    text = HEAD + "G01*\nX0Y0D02*\nX2000000\nY1000000D01*\nM02*\n"
    variants = (text, text.replace("\n", "\r\n"), text.replace("\n", "\r"), "\ufeff" + text, text + "\x1a")
    objects = [parse_gerber(variant, path="a").objects for variant in variants]
    ends = {mark.segments[-1].end_mm for (mark,) in objects if isinstance(mark, StrokeMark)}
    assert ends == {(2.0, 1.0)}


def test_what_follows_the_end_is_not_read() -> None:
    assert len(read("X0Y0D03*\n", end="M02*\nthis is no Gerber").objects) == 1


def test_missing_end_is_noted_with_its_line() -> None:
    (note,) = read("X0Y0D03*\n", end="").notes
    assert note.startswith("line 5: the file does not end in M02*")


@pytest.mark.parametrize(
    ("body", "line", "words"),
    [
        ("X0Y0D0", 5, "ends inside a statement"),
        ("%LPD*", 5, "ends inside a statement"),
        ("G36*\nX0Y0D02*\nX1Y1D01*\n", 7, "ends inside a region"),
        ("%ABD12*%\nX0Y0D03*\n", 6, "ends inside a block"),
        ("%SRX2Y2I1J1*%\nX0Y0D03*\n", 6, "ends inside a step-repeat"),
    ],
)
def test_truncated_file_is_refused(body: str, line: int, words: str) -> None:
    with pytest.raises(GerberError, match=words) as caught:
        read(body, end="")
    assert caught.value.line == line
    assert str(caught.value).startswith(f"layer.gbr, line {line}: ")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("D11*\nX0Y0D03*\n", "aperture D11 is used before it is defined; add an %ADD11"),
        ("%ADD5C,1*%\nD05*\n", "D05 is no operation"),
        ("%ADDXC,1*%\n%ADD3C,1*%D3*X0Y0D05*\n", "coordinates without an operation|no operation|allowed"),
        ("X1.5Y2D03*\n", "whole numbers"),
        ("X12345678901234567890Y0D03*\n", "cannot read"),
        ("X6000000000Y0D03*\n", f"allowed are {MAX_COORDINATE_MM:g} mm"),
        ("X0Y0D03*\nX3000000000Y0D03*\n", f"3000 mm wide; allowed are {MAX_EXTENT_MM:g} mm"),
        ("X0Y0D04*\n", "D04 is no operation"),
        ("X1Y1*\n", "without an operation"),
        ("G12*\n", "G12 is not allowed"),
        ("hello*\n", "cannot read"),
        ("%XX1*%\n", "not part of the format"),
        ("%XX1%\n", "does not end in"),
        ("%OFA1C2*%\n", "cannot read %OFA1C2"),
        ("%FSTAX23Y23*%\nX123456Y1D03*\n", "more than the 5 digits"),
        ("%AMM*$1=1000000x1000000*$2=$1x$1x$1x$1x$1*$3=$2x$2x$2x$2x$2x$2*1,1,$3,0,0*%\n%ADD12M*%\n", "not finite"),
        ("%MOFT*%\n", "allowed are %MOMM"),
        ("%FSLAX99Y99*%\n", "0 to 6 integer and 1 to 7"),
        ("%FSnonsense*%\n", "FSLAX46Y46"),
        ("%LPX*%\n", "allowed are %LPD"),
        ("%LMZ*%\n", "allowed are LMN"),
        ("%LRabc*%\n", "not a decimal number"),
        ("%LS0*%\n", "scale 0"),
        ("%LS1e3*%\n", "not a decimal number"),
        ("%MIA1B0*%\n", "export again without it"),
        ("%SFA2B2*%\n", "export again without it"),
        ("%IR90*%\n", "export again without it"),
        ("%ASAYBX*%\n", "export again without it"),
        ("%IPODD*%\n", "allowed are %IPPOS"),
        ("%TF*%\n", "cannot read attribute"),
        ("%SRX0Y1I1J1*%\n", "1 to 100000 copies"),
        ("%SRX1.5Y1I1J1*%\n", "whole numbers"),
        ("%SRX99999Y99999I1J1*%\n", "1 to 100000 copies"),
        ("%SRQ1*%\n", "cannot read step-repeat"),
        ("%AB*%\n", "without an aperture block"),
        ("%ABD1*%\n", "cannot read aperture block"),
        ("%ABD12*%\nX0Y0D03*\n%AB*%\nD12*\nG01*\nX0Y0D01*\n", "can only be flashed"),
        ("G36*\nG36*\n", "G36 inside a region"),
        ("G36*\nX0Y0D03*\n", "flash .D03. inside a region"),
        ("G36*\n%LPC*%\n", "inside a region"),
        ("G36*\n%SRX2Y2I1J1*%\n", "inside a region"),
        ("G75*\nG03*\nX0Y0D02*\nX4000000Y0I1000000J0D01*\n", "different circles"),
        ("G74*\nG03*\nX0Y0D02*\nX4000000Y0I1000000J0D01*\n", "quarter turn"),
        ("%ADD12Q,1*%\n", "aperture template 'Q' is unknown"),
        ("%ADD12C*%\n", "has 0 values; needed are 1 to 3"),
        ("%ADD12C,-1*%\n", "negative size"),
        ("%ADD12R,1*%\n", "has 1 values; needed are 2 to 4"),
        ("%ADD12R,1XX1*%\n", "not a decimal number"),
        ("%ADD12P,1X2*%\n", "polygon with 2 corners"),
        ("%ADD12P,1X3.5*%\n", "polygon with 3.5 corners"),
        ("%ADD12C,9999*%\n", "check its unit"),
        ("%AM*1,1,1,0,0*%\n", "without a name"),
        ("%AMM*frog*%\n", "neither a primitive"),
        ("%AMM*1,1,1+,0,0*%\n", "not a complete expression"),
        ("%AMM*1,1,(1,0,0*%\n", "not a complete expression"),
        ("%AMM*1,1,1),0,0*%\n", "not a complete expression"),
        ("%AMM*1,1,1 2,0,0*%\n", "not a complete expression"),
        ("%AMM*1,1,1e5,0,0*%\n", "cannot read"),
        ("%AMM*1,1,x2,0,0*%\n", "where a value is needed"),
        ("%AMM*1,1,1/$1,0,0*%\n%ADD12M,0*%\n", "divides by zero"),
        ("%AMM*1,2,1,0,0*%\n%ADD12M*%\n", "macro exposure is 2"),
        ("%AMM*1,1,-1,0,0*%\n%ADD12M*%\n", "circle diameter is -1"),
        ("%AMM*3,1*%\n%ADD12M*%\n", "primitive 3 is unknown"),
        ("%AMM*1,1*%\n%ADD12M*%\n", "has 1 modifiers; needed are 4 to 5"),
        ("%AMM*4,1,3,0,0,1,0,1,1*%\n%ADD12M*%\n", "macro outline of 3 sides has 6 numbers"),
        ("%AMM*4,1,1.5,0,0,1,0,1,1*%\n%ADD12M*%\n", "macro outline with 1.5 sides"),
        ("%AMM*7,0,0,1,2,0.1,0*%\n%ADD12M*%\n", "not below outer"),
        ("%AMM*6,0,0,1,0.1,0.1,2.5,0,0,0*%\n%ADD12M*%\n", "moire with 2.5 rings"),
    ],
)
def test_what_cannot_be_drawn_is_one_clear_line(body: str, words: str) -> None:
    with pytest.raises(GerberError, match=words) as caught:
        read(body)
    assert caught.value.line is not None
    assert "\n" not in str(caught.value)


def test_malformed_aperture_number_that_is_used_names_the_definition() -> None:
    with pytest.raises(GerberError, match="D11 is used before"):
        read("%ADD1 1C,1*%\nD11*\nX0Y0D03*\n")


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("%MOMM*%%ADD10C,1*%D10*", "before the format is stated"),
        ("%FSLAX24Y24*%%ADD10C,1*%", "before the unit is stated"),
        ("%FSLAX24Y24*%%MOMM*%", "before an aperture is chosen"),
    ],
)
def test_file_that_does_not_state_itself_is_refused(head: str, words: str) -> None:
    with pytest.raises(GerberError, match=words):
        read("X1Y1D03*\n", head=head)


def test_growth_by_nested_blocks_is_refused_before_it_happens(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("paneglow.fab.work.MAX_SEGMENTS", 20_000)  # the true limit takes seconds to reach
    levels = "".join(
        f"%ABD{11 + k}*%\nD{10 + k}*\n" + "".join(f"X{x}Y0D03*\n" for x in range(100)) + "%AB*%\n" for k in range(8)
    )
    with pytest.raises(GerberError, match="more than 20000 segments"):
        read(levels + "D18*\nX0Y0D03*\n")


def test_step_repeat_beyond_the_limit_is_refused_at_once() -> None:
    with pytest.raises(GerberError, match="more than 10000000 corners"):
        read("%SRX300Y300I0.1J0.1*%\n" + "X0Y0D03*\n" * 12 + "%SR*%\n")


def test_deep_nesting_is_refused() -> None:
    with pytest.raises(GerberError, match="nested 21 deep; allowed are 20"):
        read("".join(f"%ABD{11 + k}*%\n" for k in range(30)))


def test_deep_brackets_do_not_exhaust_the_stack() -> None:
    with pytest.raises(GerberError, match="cannot read"):
        read("%AMM*1,1," + "(" * 50_000 + "1" + ")" * 50_000 + ",0,0*%\n")


def test_arcs_without_quadrant_mode_are_noted() -> None:
    drawing = read("X0Y0D02*\nG03*\nX1000000Y1000000I0J1000000D01*\n")
    assert any("read as G75" in note for note in drawing.notes)


def test_ends_off_the_circle_are_noted() -> None:
    drawing = read("G75*\nX1000000Y0D02*\nG03*\nX0Y1100000I-1000000J0D01*\n")
    assert any("different distances" in note for note in drawing.notes)


def test_arc_without_radius_becomes_a_line() -> None:
    drawing = read("G75*\nX0Y0D02*\nG03*\nX1000000Y0D01*\n")
    assert centre_lines(drawing)[0].segments == (Line(start_mm=(0.0, 0.0), end_mm=(1.0, 0.0)),)
    assert len(drawing.notes) == 1


def test_polarity_goes_with_each_object() -> None:
    drawing = read("X0Y0D03*\n%LPC*%\nG36*\nX0Y0D02*\nG01*\nX1Y0D01*\nX1Y1D01*\nX0Y0D01*\nG37*\n%LPD*%\nX5Y5D03*\n")
    assert [(type(mark), mark.dark) for mark in drawing.objects] == [
        (FlashMark, True),
        (RegionMark, False),
        (FlashMark, True),
    ]


def test_full_circle_survives_turning_and_mirroring() -> None:
    drawing = read(
        "%ABD20*%\nG75*\nG03*\nX1000000Y0D02*\nX1000000Y0I-1000000J0D01*\n%AB*%\n"
        "%LMX*%\n%LR33*%\nD20*\nX5000000Y5000000D03*\n"
    )
    (line,) = centre_lines(drawing)
    (arc,) = line.segments
    assert isinstance(arc, Arc)
    assert arc.start_mm == arc.end_mm
    assert arc.clockwise
    assert math.dist(arc.start_mm, arc.centre_mm) == pytest.approx(1.0)


def test_stray_marks_are_taken() -> None:
    drawing = read("*\n%%\n%\n%\nN10X0Y0D03*\nG37*\n")
    assert len(drawing.objects) == 1
    assert drawing.notes == ("line 10: G37 without G36 before it; ignored",)


def test_width_of_a_rectangle_stroke_is_its_smaller_side() -> None:
    drawing = read("%ADD11R,2X0.3*%\nD11*\nG01*\nX0Y0D02*\nX5000000D01*\n")
    assert centre_lines(drawing)[0].width_mm == pytest.approx(0.3)


def test_oversized_text_is_refused_unread(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("paneglow.fab.gerber.MAX_TEXT_CHARS", 10)
    with pytest.raises(GerberError, match="allowed are 10"):
        read("")


def test_oversized_macro_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("paneglow.fab.macro.MAX_MACRO_STEPS", 2)
    with pytest.raises(GerberError, match="3 statements; allowed are 2"):
        read("%AMM*1,1,1,0,0*1,1,1,0,0*1,1,1,0,0*%\n")
