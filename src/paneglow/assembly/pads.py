"""The board's own pads under a part: exposed copper, in the part's frame."""

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from shapely import affinity, make_valid
from shapely.geometry import Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union
from skimage.measure import find_contours

from paneglow.board import Board, PlacedLed, board_point
from paneglow.catalog import Terminal, Terminals
from paneglow.units import FiniteFloat, NonNegativeFloat, PointMm, Record

EDGE_LEVEL = 0.5  # coverage of a pixel that an edge halves
# Mask is opened a little wider than copper-free windows and lands, which bares rims of copper up to this wide
RIM_MM = 0.25  # chosen: twice the usual mask margin of 0.075 to 0.1 mm, and a little more
SEARCH_MARGIN_MM = 2.5  # chosen: beyond the terminals; lands of lens-down and legged parts end within it
MITRE_LIMIT = 2.0

MapFloats = npt.NDArray[np.float32]


class FoundPad(Record):
    """Exposed copper that takes one terminal; distances along the part, outward from its middle."""

    terminal: str  # name of the terminal it takes
    inner_mm: FiniteFloat  # inner edge from the middle of the part, along it; below 0 beyond the middle
    outer_mm: FiniteFloat  # outer edge from the middle
    low_mm: FiniteFloat  # lower edge across the part, in its frame
    high_mm: FiniteFloat  # upper edge across the part
    area_mm2: NonNegativeFloat  # Area of the exposed copper
    centre_mm: PointMm  # on the board, seen from the front
    shared: bool  # another terminal of the part stands on the same piece of exposed copper

    @property
    def length_mm(self) -> float:
        """Along the part [mm]."""
        return self.outer_mm - self.inner_mm

    @property
    def width_mm(self) -> float:
        """Across the part [mm]."""
        return self.high_mm - self.low_mm


def part_frame_of(led: PlacedLed, shape: Polygon) -> Polygon:
    """A polygon on the board, carried into the frame of a placed part."""
    origin = board_point(led, point_mm=(0.0, 0.0))
    along = board_point(led, point_mm=(1.0, 0.0))
    across = board_point(led, point_mm=(0.0, 1.0))
    # Columns of the way out are orthonormal, so the way back is their transpose
    ax, ay = along[0] - origin[0], along[1] - origin[1]
    bx, by = across[0] - origin[0], across[1] - origin[1]
    shift = (-(ax * origin[0] + ay * origin[1]), -(bx * origin[0] + by * origin[1]))
    turned: Polygon = affinity.affine_transform(shape, [ax, ay, bx, by, *shift])
    return turned


def find_pads(led: PlacedLed, *, board: Board) -> tuple[FoundPad | None, ...]:
    """Pads of the board under the terminals of a placed part.

    Parameters
    ----------
    led : PlacedLed
        Its part must state terminals.
    board : Board
        Its lands, or where no files were read the raster of its faces.

    Returns
    -------
    tuple of FoundPad or None
        In the order of the part's terminals; None where no exposed copper lies under or beside a terminal.

    Notes
    -----
    Exposed copper is copper without mask on the part's face. Lands are exact whichever way they are turned; on a raster
    the outline runs through half-covered pixels, so that upright edges are found to about a tenth of its pitch. Rims
    narrower than `RIM_MM`, which wide mask openings bare, are taken off first.
    """
    return find_copper(led, board=board)[0]


def find_copper(led: PlacedLed, *, board: Board) -> tuple[tuple[FoundPad | None, ...], tuple[Polygon, ...]]:
    """Pads under the terminals of a placed part, as `find_pads` gives them, and the bare copper near that is none.

    The latter are outlines in the frame of the part.
    """
    terminals = led.part.terminals
    if terminals is None:
        return (), ()
    pieces = exposed_copper(led, board=board, reach_mm=_reach_mm(terminals))
    homes = [_home_of(pad, pieces) for pad in terminals.pads]
    pads = tuple(
        None if home is None else _found(led, pad, pieces[home], shared=homes.count(home) > 1)
        for pad, home in zip(terminals.pads, homes, strict=True)
    )
    return pads, tuple(piece for index, piece in enumerate(pieces) if index not in homes)


def _reach_mm(terminals: Terminals) -> float:
    return max(math.hypot(*pad.at_mm) + pad.length_mm for pad in terminals.pads) + SEARCH_MARGIN_MM


def exposed_copper(led: PlacedLed, *, board: Board, reach_mm: float) -> tuple[Polygon, ...]:
    """Pieces of exposed copper about a placed part, in its frame; rims are left out."""
    return tuple(part_frame_of(led, piece) for piece in _exposed_pieces(led, board=board, reach_mm=reach_mm))


def _exposed_pieces(led: PlacedLed, *, board: Board, reach_mm: float) -> list[Polygon]:
    if board.nets is not None:
        about = Point(led.at_mm).buffer(reach_mm)
        near = [land.polygon for land in board.nets.lands if land.side == led.side and land.polygon.intersects(about)]
        return _without_rims(_polygons(unary_union([polygon.intersection(about.envelope) for polygon in near])))
    maps = board.maps
    copper, mask = (maps.copper_front, maps.mask_front) if led.side == "front" else (maps.copper_back, maps.mask_back)
    grid = maps.grid
    x_mm, y_mm = grid.x_centres_mm(), grid.y_centres_mm()
    rows = np.flatnonzero(np.abs(y_mm - led.at_mm[1]) <= reach_mm)
    columns = np.flatnonzero(np.abs(x_mm - led.at_mm[0]) <= reach_mm)
    if rows.size == 0 or columns.size == 0:
        return []
    cut = np.ix_(rows, columns)
    exposed = np.minimum(copper[cut], 1.0 - mask[cut])
    corner = (x_mm[columns[0]], y_mm[rows[0]])
    return _without_rims(_outlines(exposed.astype(np.float32), corner_mm=corner, pitch_mm=grid.pitch_mm))


def _outlines(coverage: MapFloats, *, corner_mm: tuple[float, float], pitch_mm: float) -> list[Polygon]:
    """Polygons through half-covered pixels; odd rings are holes of the even ones they lie in."""
    rings = find_contours(np.pad(coverage, 1), EDGE_LEVEL)  # type: ignore[no-untyped-call]
    shape: BaseGeometry = Polygon()
    for ring in sorted((ring for ring in rings if len(ring) >= 4), key=lambda ring: -Polygon(ring).area):
        points = np.column_stack(
            [corner_mm[0] + (ring[:, 1] - 1) * pitch_mm, corner_mm[1] + (ring[:, 0] - 1) * pitch_mm]
        )
        shape = shape.symmetric_difference(make_valid(Polygon(points)))
    return _polygons(shape)


def _without_rims(pieces: list[Polygon]) -> list[Polygon]:
    shrunk = unary_union(pieces).buffer(-RIM_MM / 2, join_style="mitre", mitre_limit=MITRE_LIMIT)
    return _polygons(shrunk.buffer(RIM_MM / 2, join_style="mitre", mitre_limit=MITRE_LIMIT))


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    geoms = getattr(shape, "geoms", [shape])
    return [piece for piece in geoms if isinstance(piece, Polygon) and not piece.is_empty]


def terminal_outline(pad: Terminal) -> Polygon:
    """Metal of a terminal on the solder face, in the part's frame."""
    (x, y), half_length, half_width = pad.at_mm, pad.length_mm / 2, pad.width_mm / 2
    return box(x - half_length, y - half_width, x + half_length, y + half_width)


def _home_of(pad: Terminal, pieces: Sequence[Polygon]) -> int | None:
    """Index of the piece under most of a terminal; failing that, of one that lies just beyond its outer end."""
    metal = terminal_outline(pad)
    shares = [piece.intersection(metal).area for piece in pieces]
    if shares and max(shares) > 0.0:
        return int(np.argmax(shares))
    outward = math.copysign(1.0, pad.at_mm[0])
    beyond = Point(pad.at_mm[0] + outward * pad.length_mm / 2, pad.at_mm[1])
    near = [
        (piece.distance(beyond), index)
        for index, piece in enumerate(pieces)
        if outward * piece.centroid.x > 0.0 and abs(piece.centroid.y - pad.at_mm[1]) <= pad.width_mm
    ]
    return min(near)[1] if near and min(near)[0] <= SEARCH_MARGIN_MM else None


def _found(led: PlacedLed, pad: Terminal, piece: Polygon, *, shared: bool) -> FoundPad:
    x_min, y_min, x_max, y_max = piece.bounds
    inner, outer = (x_min, x_max) if pad.at_mm[0] >= 0 else (-x_max, -x_min)
    centre = board_point(led, point_mm=(piece.centroid.x, piece.centroid.y))
    return FoundPad(
        terminal=pad.name,
        inner_mm=inner,
        outer_mm=outer,
        low_mm=y_min,
        high_mm=y_max,
        area_mm2=piece.area,
        centre_mm=centre,
        shared=shared,
    )
