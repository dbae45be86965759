"""Whatever lines draw it, an outline becomes the same boards: areas, cut-outs, panels; what cannot close says where."""

import math
import random

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon

from paneglow.errors import FabricationError
from paneglow.fab.drawing import CentreLine
from paneglow.fab.outline import OutlineReading, build_outline
from paneglow.fab.outline_faces import GAP_MM, MAX_POINTS, SAGITTA_MM, build_outline_faces
from paneglow.fab.records import Arc, Line, Point, Segment

Corners = tuple[Point, ...]
NO_POINTS = np.empty((0, 2))
SQUARE = ((0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0))


def stroke(*segments: Segment, is_region: bool = False) -> CentreLine:
    return CentreLine(segments=segments, width_mm=0.1, is_region=is_region, dark=True)


def path(*corners: Point, closed: bool = True, is_region: bool = False) -> CentreLine:
    ends = corners[1:] + corners[:1] if closed else corners[1:]
    lines = [Line(start_mm=a, end_mm=b) for a, b in zip(corners, ends, strict=False)]
    return stroke(*lines, is_region=is_region)


def edges(*corners: Point) -> list[CentreLine]:
    """Every edge of a closed contour as a stroke of its own."""
    return [path(a, b, closed=False) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]


def circle(x: float, y: float, radius: float) -> CentreLine:
    start = (x + radius, y)
    return stroke(Arc(start_mm=start, end_mm=start, centre_mm=(x, y), clockwise=False))


def box(x: float, y: float, width: float, height: float) -> Corners:
    return ((x, y), (x + width, y), (x + width, y + height), (x, y + height))


def points(*places: Point) -> npt.NDArray[np.float64]:
    return np.array(places, dtype=np.float64).reshape(-1, 2)


def reading(
    lines: list[CentreLine],
    *,
    copper: npt.NDArray[np.float64] = NO_POINTS,
    mask: npt.NDArray[np.float64] = NO_POINTS,
) -> OutlineReading:
    return build_outline(lines, copper_points=copper, mask_points=mask, name="edge.gbr")


def outline(lines: list[CentreLine], **content: npt.NDArray[np.float64]) -> MultiPolygon:
    return reading(lines, **content).outline


def test_closed_stroke_is_a_board_to_the_centre_of_its_line() -> None:
    board = outline([path(*SQUARE)])
    assert board.area == pytest.approx(400.0, abs=1e-6)
    assert board.bounds == (0.0, 0.0, 20.0, 20.0)


def test_region_is_a_board() -> None:
    assert outline([path(*SQUARE, is_region=True)]).area == pytest.approx(400.0, abs=1e-6)


@given(st.randoms(use_true_random=False))
@settings(max_examples=30)
def test_order_direction_and_repetition_of_edges_do_not_matter(shuffler: random.Random) -> None:
    lines = edges(*SQUARE, (0.0, 15.0)) + edges(*box(5.0, 5.0, 4.0, 4.0))
    turned = []
    for line in lines + shuffler.sample(lines, 3):
        (segment,) = line.segments
        backward = Line(start_mm=segment.end_mm, end_mm=segment.start_mm)
        turned.append(stroke(backward) if shuffler.random() < 0.5 else line)
    shuffler.shuffle(turned)
    board = outline(turned)
    assert board.area == pytest.approx(400.0 - 16.0, abs=1e-6)
    assert len(board.geoms) == 1
    assert len(board.geoms[0].interiors) == 1


def test_circle_keeps_its_area_within_the_sagitta() -> None:
    # Chords lie inside the circle by at most the sagitta, on average two thirds of it
    lost_mm2 = 2.0 * math.pi * 10.0 * SAGITTA_MM
    area = outline([circle(0.0, 0.0, 10.0)]).area
    assert math.pi * 100.0 - lost_mm2 <= area <= math.pi * 100.0


def test_rounded_corners_join_their_edges() -> None:
    slot = [
        path((0.0, 0.0), (10.0, 0.0), closed=False),
        stroke(Arc(start_mm=(10.0, 0.0), end_mm=(10.0, 4.0), centre_mm=(10.0, 2.0), clockwise=False)),
        path((10.0, 4.0), (0.0, 4.0), closed=False),
        stroke(Arc(start_mm=(0.0, 0.0), end_mm=(0.0, 4.0), centre_mm=(0.0, 2.0), clockwise=True)),
    ]
    assert outline(slot).area == pytest.approx(40.0 + math.pi * 4.0, rel=1e-3)


def test_cut_outs_are_interior_rings_and_islands_in_them_are_boards() -> None:
    board = outline([path(*SQUARE), path(*box(4.0, 4.0, 12.0, 12.0)), path(*box(8.0, 8.0, 4.0, 4.0))])
    assert [round(piece.area, 6) for piece in board.geoms] == [400.0 - 144.0, 16.0]
    assert [len(piece.interiors) for piece in board.geoms] == [1, 0]


def test_overlapping_cut_outs_are_one() -> None:
    board = outline(
        [path(*SQUARE), path(*box(4.0, 4.0, 6.0, 6.0)), path(*box(7.0, 7.0, 6.0, 6.0))],
        copper=points((1.0, 1.0), (18.0, 18.0)),
    )
    assert board.area == pytest.approx(400.0 - (36.0 + 36.0 - 9.0), abs=1e-6)
    assert len(board.geoms[0].interiors) == 1


def test_loop_across_the_edge_bites_into_the_board() -> None:
    board = outline([path(*SQUARE), path(*box(15.0, 5.0, 10.0, 4.0))], copper=points((1.0, 1.0), (10.0, 18.0)))
    assert board.area == pytest.approx(400.0 - 5.0 * 4.0, abs=1e-6)


def test_cut_in_of_a_region_opens_no_gap() -> None:
    cut_in = (
        (0.0, 0.0),
        (20.0, 0.0),
        (20.0, 20.0),
        (0.0, 20.0),
        (0.0, 10.0),
        (5.0, 10.0),
        (5.0, 15.0),
        (10.0, 15.0),
        (10.0, 10.0),
        (5.0, 10.0),
        (0.0, 10.0),
    )
    board = outline([path(*cut_in, is_region=True)], copper=points((1.0, 1.0)))
    assert board.area == pytest.approx(400.0 - 25.0, abs=1e-6)


def test_several_boards_are_pieces_largest_first() -> None:
    board = outline([path(*box(30.0, 0.0, 5.0, 5.0)), path(*SQUARE)])
    assert [round(piece.area) for piece in board.geoms] == [400, 25]


def test_boards_in_a_frame_are_known_by_their_copper() -> None:
    # By nesting alone the frame would be board and the boards in it cut-outs
    frame = path(*box(-5.0, -5.0, 60.0, 30.0))
    boards = [path(*box(0.0, 0.0, 20.0, 20.0)), path(*box(25.0, 0.0, 20.0, 20.0))]
    cut_outs = [path(*box(8.0, 8.0, 4.0, 4.0)), path(*box(33.0, 8.0, 4.0, 4.0))]
    copper = points(*((x + dx, y) for x in (2.0, 10.0, 18.0) for y in (2.0, 18.0) for dx in (0.0, 25.0)))
    read = reading([frame, *boards, *cut_outs], copper=copper)
    assert [round(piece.area, 6) for piece in read.outline.geoms] == [384.0, 384.0]
    assert "1 closed areas, 1000.0 mm2 in all, hold neither copper nor mask openings" in read.notes[0]


def test_lands_that_overhang_a_cut_out_do_not_fill_it() -> None:
    copper = points((1.0, 1.0), (18.0, 18.0), (8.5, 8.5), (8.5, 11.5), (8.5, 10.0))
    board = outline([path(*SQUARE), path(*box(8.0, 8.0, 4.0, 4.0))], copper=copper)
    assert board.area == pytest.approx(384.0, abs=1e-6)


def test_line_across_a_board_does_not_split_it() -> None:
    score = path((10.0, -2.0), (10.0, 22.0), closed=False)
    read = reading([path(*SQUARE), score], copper=points((5.0, 5.0)), mask=points((15.0, 5.0)))
    assert read.outline.area == pytest.approx(400.0, abs=1e-6)
    assert len(read.outline.geoms) == 1
    assert any("share an edge are read as one board" in note for note in read.notes)
    assert any("2 open lines" in note and "cut nothing" in note for note in read.notes)


def test_two_drawings_of_one_edge_leave_no_sliver() -> None:
    near = tuple((x + 0.003, y - 0.002) for x, y in SQUARE)
    board = outline([path(*SQUARE), path(*near)], copper=points((5.0, 5.0)))
    assert len(board.geoms) == 1
    assert board.area == pytest.approx(400.0, abs=0.1)


@pytest.mark.parametrize("gap_mm", [0.0, 1e-6, 0.0005, 0.01, 0.99 * GAP_MM])
def test_small_gap_is_closed(gap_mm: float) -> None:
    read = reading([path((0.0, gap_mm), (0.0, 20.0), (20.0, 20.0), (20.0, 0.0), (0.0, 0.0), closed=False)])
    assert read.outline.area == pytest.approx(400.0, abs=20.0 * gap_mm + 1e-6)  # an edge of 20 mm may tilt by the gap
    assert bool(read.notes) == (gap_mm > 0.001)  # ends within 1 um are one point and need no word


def test_end_that_stops_short_of_a_line_is_joined_to_it() -> None:
    bar = path((0.0, 0.0), (20.0, 0.0), closed=False)
    cap = path((3.0, 0.05), (3.0, 9.0), (12.0, 9.0), (12.0, 0.05), closed=False)
    assert outline([bar, cap]).area == pytest.approx(81.0, abs=0.01)


def test_open_outline_says_where_and_how_wide() -> None:
    with pytest.raises(FabricationError) as caught:
        outline([path((0.5, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0), (0.0, 0.0), closed=False)])
    assert str(caught.value) == (
        "edge.gbr: the outline is open: a gap of 0.5 mm from (0.000, 0.000) to (0.500, 0.000) mm; allowed is 0.1 mm:"
        " close the contour"
    )


def test_open_outline_is_not_replaced_by_its_closed_cut_outs() -> None:
    edge = path((0.0, 1.0), (0.0, 20.0), (20.0, 20.0), (20.0, 0.0), (0.0, 0.0), closed=False)
    lines = [edge, path(*box(8.0, 8.0, 4.0, 4.0))]
    copper = points((1.0, 1.0), (3.0, 9.0), (18.0, 18.0))
    with pytest.raises(FabricationError, match=r"hold only 0% of the copper; the outline is open: a gap of 1 mm"):
        outline(lines, copper=copper)


def test_outline_of_another_board_is_refused() -> None:
    with pytest.raises(FabricationError, match="is this the outline of this board"):
        outline([path(*SQUARE)], copper=points(*((110.0 + x, 5.0) for x in range(9)), (5.0, 5.0)))


def test_empty_outline_is_refused() -> None:
    with pytest.raises(FabricationError, match="edge.gbr: draws nothing"):
        outline([])


@pytest.mark.parametrize(("width_mm", "height_mm"), [(3000.0, 20.0), (0.8, 0.8)])
def test_absurd_size_is_refused(width_mm: float, height_mm: float) -> None:
    said = f"outline is {width_mm:g} x {height_mm:g} mm; allowed is 2 to 1200 mm on its longer side: is the unit right"
    with pytest.raises(FabricationError, match=said):
        outline([path(*box(0.0, 0.0, width_mm, height_mm))])


def test_outline_of_too_many_points_is_refused() -> None:
    teeth = [(x / 1000, float(x % 2)) for x in range(MAX_POINTS)]
    with pytest.raises(FabricationError, match="edge.gbr: the outline has 30001 points; allowed are 30000"):
        outline([path(*teeth, is_region=True)])


def test_scribble_across_a_sheet_is_refused_before_its_four_million_crossings_are_computed() -> None:
    places = np.random.default_rng(2).uniform(0.0, 100.0, size=(3000, 2))
    with pytest.raises(FabricationError, match="edge.gbr: the lines of the outline meet each other more than"):
        outline([path(*map(tuple, places.tolist()))])


def test_ends_crowded_into_a_point_are_refused_before_they_are_paired() -> None:
    fan = [stroke(Line(start_mm=(0.0, k * 1e-8), end_mm=(10.0, k * 1e-3))) for k in range(10_000)]
    with pytest.raises(FabricationError, match="too many ends"):
        outline(fan)


def test_faces_of_rubbish_are_no_error() -> None:
    assert build_outline_faces([path((1.0, 1.0), closed=False)]).faces == ()
    assert build_outline_faces([stroke(Line(start_mm=(1.0, 1.0), end_mm=(1.0, 1.0)))]).faces == ()
