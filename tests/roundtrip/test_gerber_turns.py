"""Mirroring, rotating, scaling and moving by the file's own statements keeps areas, as it must."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from paneglow.fab import draw_coverage, parse_gerber
from paneglow.grid import Grid

PITCH_MM = 0.05
# An aperture without any symmetry (an L with a hole), and a block of two flashes and a stroke.
APERTURES = (
    "%AML*4,1,6,0,0,2,0,2,0.7,0.7,0.7,0.7,3,0,3,0,0,0*1,0,0.4,0.35,0.35*%\n%ADD10L*%\n%ADD11C,0.3*%\n"
    "%ABD20*%\nD10*\nX0Y0D03*\nD11*\nG01*\nX-2000000Y0D02*\nX-1000000Y-1500000D01*\n%AB*%\n"
)


def area_mm2(body: str) -> float:
    drawing = parse_gerber(f"%FSLAX46Y46*%\n%MOMM*%\n{APERTURES}{body}M02*\n", path="turned.gbr")
    assert drawing.bounds_mm is not None
    grid = Grid.over(bounds_mm=drawing.bounds_mm, pitch_mm=PITCH_MM, margin_mm=0.2)
    return float(draw_coverage(drawing, grid=grid).sum(dtype=float)) * grid.pixel_area_mm2


PLAIN = {number: area_mm2(f"D{number}*\nX0Y0D03*\n") for number in (10, 20)}
PLACES = st.tuples(st.integers(-20_000_000, 20_000_000), st.integers(-20_000_000, 20_000_000))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.sampled_from([10, 20]),
    st.sampled_from(["N", "X", "Y", "XY"]),
    st.integers(-3600, 3600),
    st.integers(50, 300),
    PLACES,
)
def test_turned_flash_has_its_area_times_scale_squared(
    number: int, mirror: str, rotation_tenths: int, scale_percent: int, place: tuple[int, int]
) -> None:
    state = f"%LM{mirror}*%\n%LR{rotation_tenths / 10}*%\n%LS{scale_percent / 100}*%\n"
    turned = area_mm2(f"{state}D{number}*\nX{place[0]}Y{place[1]}D03*\n")
    # 0.5 %: at half size the L is 7 pixels wide, where sampling leaves 0.3 %.
    assert turned == pytest.approx(PLAIN[number] * (scale_percent / 100) ** 2, rel=0.005)


@settings(max_examples=20, deadline=None, derandomize=True)
@given(PLACES, st.sampled_from(["X", "Y", "XY"]))
def test_twice_mirrored_block_covers_the_plain_one(place: tuple[int, int], mirror: str) -> None:
    at = f"X{place[0]}Y{place[1]}D03*\n"
    # The block inside turns by the statements in force when it is flashed, and so does the block round it.
    nested = f"%ABD30*%\n%LM{mirror}*%\nD20*\nX0Y0D03*\n%LMN*%\n%AB*%\n%LM{mirror}*%\nD30*\n{at}%LMN*%\nD20*\n{at}"
    assert area_mm2(nested) == pytest.approx(PLAIN[20], rel=0.002)


@settings(max_examples=20, deadline=None, derandomize=True)
@given(st.integers(1, 4), st.integers(1, 4), PLACES)
def test_step_repeat_of_separate_copies_multiplies_the_area(n_x: int, n_y: int, place: tuple[int, int]) -> None:
    repeated = area_mm2(f"%SRX{n_x}Y{n_y}I7.3J8.1*%\nD20*\nX{place[0]}Y{place[1]}D03*\n%SR*%\n")
    assert repeated == pytest.approx(n_x * n_y * PLAIN[20], rel=0.003)
