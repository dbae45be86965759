"""Nets of a board by connectivity of its copper: pieces that touch, joined through plated holes.

Names of nets and pins come from a netlist, else from object attributes; they never join or part copper.
"""

from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt
import scipy
import shapely
from shapely.geometry import Polygon

from paneglow.board.lands import find_lands
from paneglow.board.net_names import name_nets
from paneglow.board.nets_records import CopperNets, CopperPiece
from paneglow.errors import FabricationError
from paneglow.fab import Fabrication, GerberDrawing, Hole, Netlist, Piece, drawn_pieces, hole_polygon

BARREL_REACH_MM = 0.01  # copper drawn up to the edge of a plated hole touches its wall; rounding of both files


def build_nets(fabrication: Fabrication, *, netlist: Netlist | None = None) -> CopperNets:
    """Nets of a board, and its lands.

    Parameters
    ----------
    fabrication : Fabrication
        The set as read.
    netlist : Netlist, optional
        Test points by net, whose names are put on the copper they touch.

    Returns
    -------
    CopperNets
        What is one net is told by copper alone: pieces of one layer that touch, and pieces of all layers at one
        plated hole. Where names and copper disagree stands in `conflicts`.
    """
    roles = [role for role in sorted(fabrication.drawings) if role.startswith("copper_")]
    open_holes = [hole_polygon(hole) for hole in fabrication.holes if not hole.plated]
    drawn = [(role, piece) for role in roles for piece in _pieces(fabrication, role, cut_away=open_holes)]
    tree = shapely.STRtree([piece.polygon for _, piece in drawn])
    pairs = [*_touching(tree, roles=[role for role, _ in drawn]), *_through_holes(tree, holes=fabrication.holes)]
    numbers = _components(len(drawn), pairs=pairs)
    pieces = tuple(
        CopperPiece(layer=role, polygon=piece.polygon, net=int(number), names=piece.names, function=piece.function)
        for (role, piece), number in zip(drawn, numbers, strict=True)
    )
    lands = find_lands(fabrication, pieces=pieces)
    names = name_nets(pieces, tree=tree, landed={land.net for land in lands}, netlist=netlist)
    return CopperNets(
        pieces=pieces,
        names=names.by_net,
        pins=names.pins,
        lands=lands,
        conflicts=names.conflicts,
        tree=tree,
    )


def _pieces(fabrication: Fabrication, role: str, *, cut_away: Sequence[Polygon]) -> tuple[Piece, ...]:
    drawing = fabrication.drawings[role]
    if not isinstance(drawing, GerberDrawing):
        raise FabricationError(f"layer {role} holds no drawing; read the set with read_fabrication")
    return drawn_pieces(drawing, bounds_mm=fabrication.outline.bounds, cut_away=cut_away)


def _touching(tree: shapely.STRtree, *, roles: Sequence[str]) -> list[tuple[int, int]]:
    """Pairs of pieces of one layer that share at least a point."""
    if not roles:
        return []
    first, second = tree.query(tree.geometries)
    layer = np.unique(np.array(roles), return_inverse=True)[1]
    near = (first < second) & (layer[first] == layer[second])
    return _meeting(tree.geometries, others=tree.geometries, pairs=np.stack([first[near], second[near]]))


def _through_holes(tree: shapely.STRtree, *, holes: Iterable[Hole]) -> list[tuple[int, int]]:
    """Pairs of pieces that one plated hole joins: each with the first one met there."""
    barrels = np.array([hole_polygon(hole, grow_mm=BARREL_REACH_MM) for hole in holes if hole.plated], dtype=object)
    if not len(barrels) or not len(tree.geometries):
        return []
    barrel, piece = tree.query(barrels)
    first_at: dict[int, int] = {}
    met = _meeting(tree.geometries, others=barrels, pairs=np.stack([piece, barrel]))
    return [(first_at.setdefault(number, place), place) for place, number in met]


def _meeting(
    shapes: npt.NDArray[np.object_], *, others: npt.NDArray[np.object_], pairs: npt.NDArray[np.intp]
) -> list[tuple[int, int]]:
    """Pairs whose shapes share a point; the one with more corners, often a pour, is prepared once for all."""
    first, second = shapes[pairs[0]], others[pairs[1]]
    swap = shapely.get_num_coordinates(first) < shapely.get_num_coordinates(second)
    larger, smaller = np.where(swap, second, first), np.where(swap, first, second)
    shapely.prepare(larger)
    met = shapely.intersects(larger, smaller)
    return list(zip(pairs[0][met].tolist(), pairs[1][met].tolist(), strict=True))


def _components(count: int, *, pairs: Sequence[tuple[int, int]]) -> npt.NDArray[np.int32]:
    first, second = np.array(pairs, dtype=np.int64).reshape(-1, 2).T
    graph = scipy.sparse.coo_array((np.ones(len(pairs)), (first, second)), shape=(count, count))
    labels: npt.NDArray[np.int32] = scipy.sparse.csgraph.connected_components(graph, directed=False)[1]
    return labels
