"""What is written is read back: every point, size, turn and polarity within 1 um (the promise of the writer)."""

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from paneglow.fab import (
    Arc,
    FabricationDrawing,
    Flash,
    Hole,
    LayerDrawing,
    Line,
    ObroundAperture,
    RectangleAperture,
    Region,
    RoundAperture,
    Stroke,
    build_circle,
    build_polygon,
    draw_coverage,
    parse_gerber,
    read_fabrication,
    write_fabrication,
)
from paneglow.fab.write import to_file_texts
from paneglow.grid import Grid

PROMISE_MM = 1e-3
BARE_ROLES = ("copper_front", "copper_back", "mask_front", "mask_back")
SQUARE = build_polygon([(0.0, 0.0), (80.0, 0.0), (80.0, 60.0), (0.0, 60.0)])

lengths = st.floats(0.05, 20.0)
points = st.tuples(st.floats(-150.0, 150.0), st.floats(-150.0, 150.0))
turns = st.floats(-math.pi, math.pi)
apertures = st.one_of(
    st.builds(RoundAperture, diameter_mm=lengths),
    st.builds(RectangleAperture, width_mm=lengths, height_mm=lengths),
    st.builds(RectangleAperture, width_mm=lengths, height_mm=lengths, rotation_rad=turns),
    st.builds(ObroundAperture, width_mm=lengths, height_mm=lengths),
)
flashes = st.builds(Flash, at_mm=points, aperture=apertures, dark=st.booleans())


def polar(centre, radius, angle):
    return centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)


@st.composite
def paths(draw):
    """Joined lines and arcs; arcs of at least 3 degrees, so that their ends fix the circle."""
    at = draw(points)
    segments = []
    for _ in range(draw(st.integers(1, 6))):
        length, heading = draw(lengths), draw(turns)
        if draw(st.booleans()):
            segments.append(Line(start_mm=at, end_mm=polar(at, length, heading)))
        else:
            centre = polar(at, length, heading)
            sweep = draw(st.floats(math.radians(3), math.radians(357))) * draw(st.sampled_from([-1, 1]))
            end = polar(centre, length, heading + math.pi + sweep)
            segments.append(Arc(start_mm=at, end_mm=end, centre_mm=centre, clockwise=sweep < 0))
        at = segments[-1].end_mm
    return tuple(segments)


@st.composite
def contours(draw):
    """Star-shaped contour whose sides are lines or half circles."""
    centre, count = draw(points), draw(st.integers(3, 9))
    corners = [polar(centre, draw(st.floats(1.0, 20.0)), 2 * math.pi * i / count) for i in range(count)]
    segments = []
    for start, end in pairwise([*corners, corners[0]]):
        if draw(st.booleans()):
            segments.append(Line(start_mm=start, end_mm=end))
        else:
            middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
            segments.append(Arc(start_mm=start, end_mm=end, centre_mm=middle, clockwise=draw(st.booleans())))
    return tuple(segments)


strokes = st.builds(Stroke, path=paths(), pen_mm=st.floats(0.05, 3.0), dark=st.booleans())
regions = st.builds(Region, contour=contours(), dark=st.booleans())
drawn = st.lists(st.one_of(flashes, strokes, regions), min_size=1, max_size=8).map(tuple)


def layer_text(objects):
    drawing = FabricationDrawing(
        name="tile",
        layers=(LayerDrawing(role="copper_front", objects=objects), LayerDrawing(role="copper_back", objects=())),
        outline=(SQUARE,),
    )
    return to_file_texts(drawing)["tile-copper-front.gbr"]


def assert_same_path(found, expected):
    assert len(found) == len(expected)
    for mine, theirs in zip(expected, found, strict=True):
        assert type(theirs) is type(mine)
        assert math.dist(theirs.start_mm, mine.start_mm) < PROMISE_MM
        assert math.dist(theirs.end_mm, mine.end_mm) < PROMISE_MM
        if isinstance(mine, Arc):
            assert math.dist(theirs.centre_mm, mine.centre_mm) < PROMISE_MM
            assert theirs.clockwise == mine.clockwise


def half_extent(aperture):
    """Half width and height of an aperture's bounding box, from elementary geometry."""
    if isinstance(aperture, RoundAperture):
        return aperture.diameter_mm / 2, aperture.diameter_mm / 2
    turn = getattr(aperture, "rotation_rad", 0.0)
    cos, sin = abs(math.cos(turn)), abs(math.sin(turn))
    return (
        (aperture.width_mm * cos + aperture.height_mm * sin) / 2,
        (aperture.width_mm * sin + aperture.height_mm * cos) / 2,
    )


def assert_same_object(found, expected):
    assert type(found).__name__ == f"{type(expected).__name__}Mark"
    assert found.dark == expected.dark
    if isinstance(expected, Region):
        (contour,) = found.contours
        assert_same_path(contour, expected.contour)
        return
    if isinstance(expected, Stroke):
        assert_same_path(found.segments, expected.path)
        assert found.shape.disc_mm == pytest.approx(expected.pen_mm, abs=PROMISE_MM)
        return
    assert math.dist(found.at_mm, expected.at_mm) < PROMISE_MM
    x, y = half_extent(expected.aperture)
    assert found.shape.bounds_mm == pytest.approx((-x, -y, x, y), abs=PROMISE_MM)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(objects=drawn)
def test_every_object_of_a_layer_is_read_back(objects):
    found = parse_gerber(layer_text(objects), path="tile.gbr")
    assert not found.negative
    assert found.notes == ()
    assert len(found.objects) == len(objects)
    for theirs, mine in zip(found.objects, objects, strict=True):
        assert_same_object(theirs, mine)


inside_x, inside_y = st.floats(2.0, 78.0), st.floats(2.0, 58.0)
places = st.tuples(inside_x, inside_y)


@st.composite
def holes(draw):
    start = draw(places)
    # A slot is longer than what the four places of the file could round away
    end = draw(places) if draw(st.booleans()) else start
    if math.dist(start, end) < 0.01:
        end = start
    return Hole(start_mm=start, end_mm=end, diameter_mm=draw(st.floats(0.2, 6.0)), plated=draw(st.booleans()))


def by_place(found):
    return sorted(found, key=lambda hole: (hole.plated, round(hole.start_mm[0], 2), round(hole.start_mm[1], 2)))


@settings(max_examples=25, deadline=None, derandomize=True)
@given(bores=st.lists(holes(), min_size=1, max_size=6, unique_by=lambda hole: round(hole.start_mm[0], 1)))
def test_every_hole_and_slot_is_read_back(tmp_path_factory, bores):
    folder = tmp_path_factory.mktemp("board") / "fab"
    layers = tuple(LayerDrawing(role=role, objects=()) for role in BARE_ROLES)
    write_fabrication(
        FabricationDrawing(name="tile", layers=layers, outline=(SQUARE,), holes=tuple(bores)), folder=folder
    )
    found = read_fabrication(folder)
    assert len(found.holes) == len(bores)
    for theirs, mine in zip(by_place(found.holes), by_place(bores), strict=True):
        assert theirs.plated == mine.plated
        assert math.dist(theirs.start_mm, mine.start_mm) < PROMISE_MM
        assert math.dist(theirs.end_mm, mine.end_mm) < PROMISE_MM
        assert theirs.diameter_mm == pytest.approx(mine.diameter_mm, abs=PROMISE_MM)


def test_a_board_is_read_back_as_one_set(tmp_path):
    pad = RectangleAperture(width_mm=2.0, height_mm=1.0, rotation_rad=math.radians(30))
    flash = Flash(at_mm=(20.0, 20.0), aperture=pad)
    opening = build_circle(centre_mm=(20.0, 20.0), radius_mm=3.0)
    roles = ("copper_inner_1", "copper_inner_2", "mask_front", "mask_back", "legend_front", "legend_back")
    drawing = FabricationDrawing(
        name="tile",
        layers=(
            LayerDrawing(
                role="copper_front",
                objects=(
                    Region(contour=SQUARE),
                    Region(contour=opening, dark=False),
                    flash,
                ),
            ),
            LayerDrawing(role="copper_back", objects=()),
            *(LayerDrawing(role=role, objects=(Region(contour=opening),)) for role in roles),
        ),
        outline=(SQUARE, build_circle(centre_mm=(60.0, 40.0), radius_mm=5.0)),
    )
    write_fabrication(drawing, folder=tmp_path / "fab")
    found = read_fabrication(tmp_path / "fab")
    assert found.copper_layers == 4
    assert set(found.drawings) == {"copper_front", "copper_back", *roles}
    # The reader flattens the circle of the cut-out to chords; their sagitta is far below 1 % of its area
    assert found.outline.area == pytest.approx(80 * 60 - math.pi * 25, abs=0.1)
    grid = Grid.over(bounds_mm=(0.0, 0.0, 80.0, 60.0), pitch_mm=0.1)
    copper = draw_coverage(found.drawings["copper_front"], grid=grid).sum() * grid.pixel_area_mm2
    # 0.5 % of the window's edge cells: the promise of the reader for areas
    assert copper == pytest.approx(80 * 60 - math.pi * 9 + 2.0, rel=0.005)
