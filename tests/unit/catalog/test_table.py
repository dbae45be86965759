"""Parts as a CSV table and as TOML: what is written reads back the same; what cannot be is told by row and column."""

import datetime

import pytest

from paneglow.catalog import (
    Evidence,
    MaximumRatings,
    PolarityMark,
    SolderingLimits,
    TapeOrientation,
    read_catalog,
    read_parts_csv,
    to_parts_csv,
    to_parts_toml,
)
from paneglow.errors import CatalogError
from paneglow.units import Quantity

CATALOG = read_catalog()
SHEET = Evidence(kind="data-sheet", document='own sheet, "amber"; rev. 2', page=2, date=datetime.date(2026, 3, 4))


def told(value):
    return Quantity(value=value, origin="sourced", source="own sheet, page 3")


MARK = {"shape": "tee", "colour": "green", "face": "bottom", "at_mm": (-0.6, 0.0), "terminal": "C"}
FULL = CATALOG.parts["tv-1206-red"].model_copy(
    update={
        "code": "own-red",
        "mark": PolarityMark(
            shape="tee", colour="green", face="bottom", at_mm=(-0.6, 0.0), terminal="C", evidence=SHEET
        ),
        "tape": TapeOrientation(terminal="C", quadrants=(1, 2), evidence=SHEET),
        "soldering": SolderingLimits(reflow_peak_c=told(260.0), reflow_passes=2, moisture_level="3"),
        "ratings": MaximumRatings(pulse_current_max_ma=told(100.0), pulse_duty_frac=0.1),
        "bins": ("R1; 20 to 30 mcd", "R2, 30 to 45 mcd"),
        "note": "two\nlines",
    }
)
# The full part, and one of each way to tell light: flux or intensity, half angle or lobe, peaks
PARTS = [FULL, *(CATALOG.parts[code] for code in ("th-5mm-amber", "rv-1206-white", "sv-0602-blue", "co-1206-green"))]


def reread_csv(tmp_path, text):
    path = tmp_path / "parts.csv"
    path.write_text(text, encoding="utf-8")
    return read_parts_csv(path, known=CATALOG.parts)


def test_a_table_of_parts_reads_back_the_same(tmp_path):
    assert list(reread_csv(tmp_path, to_parts_csv(PARTS))) == PARTS


def test_the_whole_catalogue_goes_through_a_table(tmp_path):
    parts = list(CATALOG.parts.values())
    assert list(reread_csv(tmp_path, to_parts_csv(parts))) == parts


def test_parts_go_through_toml_the_same(tmp_path):
    (tmp_path / "own.toml").write_text(to_parts_toml(PARTS, comment="from a table\nof ours"), encoding="utf-8")
    found = read_catalog(user_parts=tmp_path)
    assert [found.parts[part.code] for part in PARTS] == PARTS


@pytest.mark.parametrize(("separator", "comma"), [(";", ","), ("\t", "."), (";", ".")])
def test_a_spreadsheets_separators_and_decimal_commas_are_read(tmp_path, separator, comma):
    header = separator.join(
        ("code", "like", "forward_voltage_v.value", "forward_voltage_v.origin", "forward_voltage_v.source")
    )
    row = separator.join(("own-amber", "tv-1206-amber", f"2{comma}05", "measured", "bench meter"))
    (part,) = reread_csv(tmp_path, f"\ufeff{header}\r\n{row}\r\n")
    assert part.forward_voltage_v.value == 2.05
    assert part.terminals == CATALOG.parts["tv-1206-amber"].terminals


VOLTS = ",".join(f"forward_voltage_v.{name}" for name in ("value", "low", "high", "origin", "source"))


@pytest.mark.parametrize(
    ("header", "row", "words"),
    [
        (
            f"code,like,{VOLTS}",
            "own,tv-1206-red,2.0,2.2,2.4,sourced,sheet",
            ("row 1", "value 2 must lie between low 2.2"),
        ),
        ("code,like,colour", "own,tv-1206-red,purple", ("row 1", "colour", "allowed are red, orange")),
        ("code,like,test_current_ma", "own,tv-1206-red,twenty", ("row 1", "test_current_ma", "a number is needed")),
        ("code,like,forward_volts", "own,tv-1206-red,2", ("unknown column 'forward_volts'", "forward_voltage_v")),
        ("code,like,terminals", "own,tv-1206-red,2", ("column 'terminals' holds several fields",)),
        ("code,like,code", "own,tv-1206-red,own", ("column 'code' stands twice",)),
        ("code,like", "own,tv-1206-red,2", ("row 1 has 3 cells; the header has 2",)),
        ("code,like", "own,tv-1206-pink", ("row 1, like", "nearest is")),
        ("code,like", "", ("holds no row of parts",)),
    ],
)
def test_a_row_that_cannot_be_is_one_clear_line(tmp_path, header, row, words):
    with pytest.raises(CatalogError) as caught:
        reread_csv(tmp_path, f"{header}\n{row}\n")
    (line,) = str(caught.value).splitlines()
    assert "parts.csv" in line
    assert all(word in line for word in words)


def test_an_emitter_larger_than_its_body_is_refused(tmp_path):
    fields = "emitter_length_mm.value,emitter_length_mm.origin,emitter_length_mm.source"
    with pytest.raises(
        CatalogError, match=r"row 1: emitter_length_mm is 3\.4, larger than the body's length_mm of 3\.2"
    ):
        reread_csv(tmp_path, f"code,like,{fields}\nown,tv-1206-red,3.4,measured,caliper\n")
