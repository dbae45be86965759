"""Placement files: one meaning in every dialect of the trade (word variants: common practice, no source)."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from paneglow.errors import PlacementError
from paneglow.fab.placement import PlacementRow, parse_placement, read_placement

CLOSE_MM = 1e-9  # conversions are one multiplication


def parse(text: str, *, name: str = "placement.csv", unit=None) -> tuple[PlacementRow, ...]:
    return parse_placement(text, path=Path(name), unit=unit)


DIALECTS = {
    "commas": "Designator,Val,Package,Mid X,Mid Y,Rotation,Layer\nD1,amber,1204,12.7,-25.4,203.0,bottom\n",
    "mixed quotes": 'Designator,"Val",Package,"Mid X",Mid Y,Rotation,Layer\n"D1","amber",1204,12.7,-25.4,203,"bottom"',
    "semicolons and decimal commas": "RefDes;PosX;PosY;Rot;Side;Value;Footprint\nD1;12,7;-25,4;203;B;amber;1204\n",
    "tabs and mil suffixes": (
        "Designator\tFootprint\tMid X\tMid Y\tRef X\tRef Y\tLayer\tRotation\tComment\r\n"
        "D1\t1204\t500mil\t-1000mil\t0mil\t0mil\tB\t203\tamber\r\n"
    ),
    "mm suffixes": "Ref,Center-X,Center-Y,Layer,Rot,Comment,Package\nD1,12.7mm,-25.4mm,BottomLayer,203deg,amber,1204",
    "unit in the header": "Ref,X (inch),Y [inch],Angle,Side,Value,Package\nD1,0.5,-1.0,203,back,amber,1204",
    "unit above the header": "Centres\nUnits: mil\n\nRef,X,Y,Angle,Side,Value,Package\nD1,500,-1000,203,1,amber,1204",
    "blanks with a header": "# Ref Val Package PosX PosY Rot Side\nD1 amber 1204 12.7 -25.4 203.0 bottom\n# end\n",
    "columns in another order": "Layer,Rotation,Y,X,Name,Value,Pattern,Extra\nBot,203,-25.4,12.7,D1,amber,1204,\n",
}


@pytest.mark.parametrize("text", DIALECTS.values(), ids=DIALECTS.keys())
def test_every_dialect_means_the_same_row(text):
    (row,) = parse(text)
    assert (row.ref, row.side, row.rotation_deg, row.value, row.package) == ("D1", "back", 203.0, "amber", "1204")
    assert (row.x_mm, row.y_mm) == pytest.approx((12.7, -25.4), abs=CLOSE_MM)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_every_encoding_means_the_same_row(tmp_path, encoding):
    text = DIALECTS["tabs and mil suffixes"]
    data = text.encode(encoding)
    path = tmp_path / "centres.csv"
    path.write_bytes(b"\xfe\xff" + data if encoding == "utf-16-be" else data)
    assert read_placement(path) == (parse(text), None)


def test_text_without_header_is_name_x_y_rotation_value_package_and_takes_the_side_from_the_file_name():
    text = "D1\t6.35\t38.10\t32.80\tLED_RED\tCHIP\nR1\t11.65\t30.87\t0.00\t\tCHIP_R\n"
    led, resistor = parse(text, name="places_back.txt")
    assert (led.ref, led.x_mm, led.y_mm, led.rotation_deg, led.value, led.package, led.side, led.line) == (
        *("D1", 6.35, 38.10, 32.80, "LED_RED", "CHIP", "back"),
        1,
    )
    assert (resistor.value, resistor.package) == ("", "CHIP_R")
    assert parse("D1  6.35  38.10  32.80", name="places.txt")[0].side is None


def test_the_argument_is_the_unit_only_where_the_file_is_silent():
    silent = "Ref,X,Y,Rot\nD1,500,1000,0\n"
    assert parse(silent)[0].x_mm == 500.0
    assert parse(silent, unit="mil")[0].x_mm == pytest.approx(12.7, abs=CLOSE_MM)
    assert parse(DIALECTS["unit in the header"], unit="mm")[0].x_mm == pytest.approx(12.7, abs=CLOSE_MM)


@pytest.mark.parametrize(
    ("word", "side"),
    [("Top", "front"), ("T", "front"), ("FRONT", "front"), ("0", "front"), ("TopLayer", "front"), ("Top Side", "front")]
    + [("bottom", "back"), ("b", "back"), ("Back", "back"), ("1", "back"), ("Bottom Layer", "back")],
)
def test_side_words(word, side):
    assert parse(f"Ref,X,Y,Rot,Side\nD1,1,2,0,{word}\n")[0].side == side


def test_blanks_inside_a_value_of_blank_separated_text_stay_one_value():
    (row,) = parse("Ref Val Package PosX PosY Rot Side\nJ1 edge plug P1 1.0 2.0 0 top\n")
    assert (row.value, row.package, row.x_mm, row.side) == ("edge plug", "P1", 1.0, "front")


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("Ref,X,Y,Rot\nD1,nan,0,0\n", 2, "D1 x is 'nan'"),
        ("Ref,X,Y,Rot\nD1,1,inf,0\n", 2, "D1 y is 'inf'"),
        ("Ref,X,Y,Rot\nD1,1e999,0,0\n", 2, "D1 x"),
        ("Ref,X,Y,Rot\nD1,1cm,0,0\n", 2, "D1 x is '1cm'"),
        ("Ref,X,Y,Rot\nD1,1,2,\n", 2, "D1 rotation is ''"),
        ("Ref,X,Y,Rot\nD1,1,2,3mm\n", 2, "needed are degrees"),
        ("Ref,X,Y,Rot\nD1,1,2,0\nD2,1,2,0\nD1,3,4,0\n", 4, "D1 comes again (first in line 2)"),
        ("Ref,X,Y,Rot\n,1,2,0\n", 2, "no designator"),
        ("Ref,X,Y,Rot,Side\nD1,1,2,0,left\n", 2, "D1 side is 'left'"),
        ("Ref,X,Y,Rot\nD1,1,2\n", 2, "3 cells where the header has 4"),
        ('Ref,X,Y,Rot\n"D1,1,2,0\n', 2, "quote"),
        ("Ref,X,Y,Side\nD1,1,2,top\n", 1, "no column for rotation"),
        ("X,Y,Rot,Side\n1,2,0,top\n", 1, "no column for ref"),
        ("Ref,X,Y,Rot\n", None, "no parts"),
        ("", None, "no header"),
        ("C1,100nF,0603,10\nC2,100nF,0603,10\n", None, "no header"),
    ],
)
def test_bad_input_is_one_clear_line(text, line, says):
    with pytest.raises(PlacementError) as caught:
        parse(text)
    assert caught.value.line == line
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_unreadable_files_are_refused_by_name(tmp_path):
    picture = tmp_path / "picture.csv"
    picture.write_bytes(b"\x89PNG\r\n\x00\x00\x00\rIHDR" * 20)
    for path in (tmp_path, tmp_path / "missing.csv", picture):
        with pytest.raises(PlacementError, match=str(path)):
            read_placement(path)


@given(st.text(max_size=300))
def test_any_text_gives_rows_or_a_placement_error(text):
    try:
        rows = parse(text)
    except PlacementError:
        return
    assert rows
