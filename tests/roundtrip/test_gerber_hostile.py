"""Gerber text from hostile or unlucky hands gives a drawing or a GerberError: never another exception, never a hang."""

import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from paneglow.errors import GerberError
from paneglow.fab import GerberDrawing, centre_lines, draw_coverage, parse_gerber
from paneglow.grid import Grid

DATA = Path(__file__).parents[1] / "data" / "gerber"
SMALL_GRID = Grid(x_min_mm=0, y_min_mm=0, pitch_mm=0.5, n_x=8, n_y=8)
FILES = sorted(DATA.glob("*/*.gbr"))
TEXTS = [path.read_text() for path in FILES]
PIECES = [
    "%FSLAX46Y46*%", "%FSTAX23Y23*%", "%MOMM*%", "%MOIN*%", "%ADD10C,1*%", "%ADD11R,1X2*%", "%ADD12P,1X5X3X0.2*%",
    "%AMM*1,1,$1,0,0*20,0,1,0,0,1,1,$2x3*%", "%ADD13M,1X2*%", "%ABD20*%", "%AB*%", "%SRX3Y2I5J5*%", "%SR*%", "%LPC*%",
    "%LPD*%", "%LMXY*%", "%LR33*%", "%LS1.5*%", "%TF.Part,Single*%", "%TD*%", "G04 #@! TA.X,1*", "D10*", "D11*", "D12*",
    "D13*", "D20*", "G36*", "G37*", "G01*", "G02*", "G03*", "G74*", "G75*", "X1000000Y1000000D02*", "X2000000Y0D01*",
    "X0Y1000000I500000J500000D01*", "X5Y5D03*", "Y7*", "G91*", "G90*", "G70*", "M02*", "*", "%%", "%", "X", "\x00", "é",
]  # fmt: skip


def read_or_refuse(text: str) -> GerberDrawing | None:
    try:
        drawing = parse_gerber(text, path="hostile.gbr")
    except GerberError as error:
        line, message = error.line, str(error)
    else:
        centre_lines(drawing)
        draw_coverage(drawing, grid=SMALL_GRID)
        return drawing
    assert line is not None
    assert line >= 1
    assert "\n" not in message
    return None


@pytest.mark.parametrize("text", TEXTS, ids=[path.stem for path in FILES])
def test_a_file_cut_anywhere_is_read_or_refused_clearly(text: str) -> None:
    generator = random.Random(5)
    cuts = range(len(text)) if len(text) < 300 else generator.sample(range(len(text)), 300)
    for cut in cuts:
        drawing = read_or_refuse(text[:cut])
        # Nothing is drawn in silence: a file that lost its end says so.
        assert drawing is None or drawing.notes or "M02" in text[:cut]


@settings(max_examples=150, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(TEXTS), st.data())
def test_damaged_bytes_are_read_or_refused_clearly(text: str, data: st.DataObject) -> None:
    characters = list(text)
    for _ in range(data.draw(st.integers(1, 5))):
        place = data.draw(st.integers(0, len(characters) - 1))
        characters[place] = data.draw(st.characters(codec="utf-8"))
    read_or_refuse("".join(characters))


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.lists(st.sampled_from(PIECES), max_size=60))
def test_valid_statements_in_any_order_are_read_or_refused_clearly(pieces: list[str]) -> None:
    read_or_refuse("%FSLAX46Y46*%%MOMM*%%ADD10C,1*%D10*" + "\n".join(pieces))


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.text(max_size=300))
def test_any_text_is_read_or_refused_clearly(text: str) -> None:
    read_or_refuse(text)


@pytest.mark.parametrize(
    "text",
    [
        " " * 300_000 + "%",
        "%" + "\n" * 300_000,
        "*" * 300_000,
        "X" * 300_000,
        "X1" * 150_000 + "*",
        "%AM" + "$1=" * 100_000 + "*%",
        "%AMM*1," + "1+" * 150_000 + "1*%",
        "%AMM*1," + "-" * 150_000 + "1*%",
        "%AMM*$" + "9" * 100_000 + "=1*%",
        "%ADD" + "1" * 100_000 + "C,1*%",
        "%FSLAX46Y46*%%MOMM*%%ADD10C," + "1" * 100_000 + "*%",
        "%TF" + "A" * 150_000 + "," + "," * 150_000 + "*%",
        "%SR" + "X1" * 100_000 + "*%",
        "G04" + " " * 300_000,
        "(" * 300_000,
    ],
    ids=str.__len__,
)
def test_long_nonsense_is_refused(text: str) -> None:
    # Each took below 1 s when written; anything that grows with the square of the length would take hours here
    read_or_refuse(text)
