"""Plane geometry: exact arc areas, bounds and similarity transforms."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from paneglow.fab import Arc, Line
from paneglow.fab.curves import (
    Similarity,
    arc_points,
    arc_sweep_rad,
    circle,
    contour_area_mm2,
    convex_hull,
    polygon,
    reversed_contour,
    segment_bounds,
)

QUARTER = Arc(start_mm=(1.0, 0.0), end_mm=(0.0, 1.0), centre_mm=(0.0, 0.0), clockwise=False)


def test_sweep_follows_the_sense_of_the_arc() -> None:
    clockwise = Arc(start_mm=(1.0, 0.0), end_mm=(0.0, 1.0), centre_mm=(0.0, 0.0), clockwise=True)
    assert arc_sweep_rad(QUARTER) == pytest.approx(math.pi / 2)
    assert arc_sweep_rad(clockwise) == pytest.approx(-3 * math.pi / 2)


def test_areas_of_arcs_are_exact_and_signed() -> None:
    half_disc = (
        Arc(start_mm=(5.0, 1.0), end_mm=(1.0, 1.0), centre_mm=(3.0, 1.0), clockwise=False),
        Line(start_mm=(1.0, 1.0), end_mm=(5.0, 1.0)),
    )
    assert contour_area_mm2(half_disc) == pytest.approx(2 * math.pi)
    assert contour_area_mm2(reversed_contour(half_disc)) == pytest.approx(-2 * math.pi)
    assert contour_area_mm2(circle(centre_mm=(7.0, -3.0), diameter_mm=2.0)) == pytest.approx(math.pi)


def test_bounds_reach_to_the_crest_of_an_arc() -> None:
    crest = Arc(start_mm=(1.0, 0.0), end_mm=(-1.0, 0.0), centre_mm=(0.0, 0.0), clockwise=False)
    assert segment_bounds([crest]) == pytest.approx((-1, 0, 1, 1))
    assert segment_bounds([QUARTER]) == pytest.approx((0, 0, 1, 1))


def test_chords_stay_within_the_sagitta() -> None:
    points = [QUARTER.start_mm, *arc_points(QUARTER, sagitta_mm=0.001)]
    middles = [((x0 + x1) / 2, (y0 + y1) / 2) for (x0, y0), (x1, y1) in zip(points, points[1:], strict=False)]
    assert max(1 - math.hypot(*middle) for middle in middles) <= 0.001
    assert points[-1] == QUARTER.end_mm


def test_hull_leaves_out_inner_and_collinear_points() -> None:
    hull = convex_hull([(0, 0), (2, 0), (1, 0), (2, 2), (0, 2), (1, 1)])
    assert sorted(hull) == [(0, 0), (0, 2), (2, 0), (2, 2)]
    assert contour_area_mm2(polygon(hull)) == pytest.approx(4)


ANGLES = st.floats(-math.pi, math.pi)
SCALES = st.floats(0.1, 10)
SHIFTS = st.tuples(st.floats(-50, 50), st.floats(-50, 50))


@st.composite
def similarities(draw: st.DrawFn) -> Similarity:
    angle, scale = draw(ANGLES), draw(SCALES)
    factor = complex(scale * math.cos(angle), scale * math.sin(angle))
    return Similarity(factor=factor, offset=complex(*draw(SHIFTS)), mirrored=draw(st.booleans()))


@given(similarities())
def test_similarity_scales_areas_and_keeps_their_sign(transform: Similarity) -> None:
    contour = (QUARTER, Line(start_mm=(0.0, 1.0), end_mm=(0.0, 0.0)), Line(start_mm=(0.0, 0.0), end_mm=(1.0, 0.0)))
    expected = transform.scale**2 * math.pi / 4
    # Areas come from differences of coordinates up to 60 mm squared: 1e-9 of 3600 mm2.
    assert contour_area_mm2(transform.of_contour(contour)) == pytest.approx(expected, abs=4e-6)


@given(similarities(), similarities(), SHIFTS)
def test_after_applies_the_first_then_the_second(
    second: Similarity, first: Similarity, point: tuple[float, float]
) -> None:
    assert second.after(first).of_point(point) == pytest.approx(second.of_point(first.of_point(point)), abs=1e-9)
