"""Copper as nets: pieces that touch, joined through plated holes; the lands among them, and the names put on them.

Names of nets and pins come from a netlist, else from object attributes; they never join or part copper.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy
import shapely
from shapely.geometry import MultiPolygon, Polygon

from paneglow.design import Side
from paneglow.errors import FabricationError
from paneglow.fab import (
    Fabrication,
    GerberDrawing,
    Hole,
    Netlist,
    NetPoint,
    ObjectNames,
    Piece,
    drawn_pieces,
    hole_polygon,
    meeting_pairs,
)

Point = tuple[float, float]

BARREL_REACH_MM = 0.01  # copper drawn up to the edge of a plated hole touches its wall; rounding of both files
FACES: Mapping[Side, tuple[str, str]] = {"front": ("copper_front", "mask_front"), "back": ("copper_back", "mask_back")}
LEAST_LAND_MM2 = 0.02  # chosen: an 0201 land has 0.1 mm2; smaller is the rim of a mask opening
PAD_FUNCTIONS = ("SMDPad", "ComponentPad", "BGAPad", "ConnectorPad", "HeatsinkPad")  # Gerber format, aperture functions
PROBE_REACH_MM = 0.05  # chosen: a test point this near to copper is on it; rounding of netlists is 0.0025 mm
LISTED_CONFLICTS = 6  # one sentence each; a netlist of another board disagrees everywhere
SIDE_OF_LAYER: Mapping[str, Side] = {"copper_front": "front", "copper_back": "back"}
MOST_MEETINGS = 5_000_000  # pairs of pieces of one board that touch; the densest of 16 published boards has 0.1 million
NET_TIE_FUNCTION = "EtchedComponent"  # Gerber format, aperture functions: copper that is a part and no conductor


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CopperPiece:
    """One connected part of one object of a copper layer; pieces of one net overlap and touch."""

    layer: str  # copper_front, copper_inner_1, ...
    polygon: Polygon  # Its area
    net: int  # Number of its net
    names: ObjectNames | None  # What the file says of the object it is part of
    function: tuple[str, ...]  # Aperture function attributes of the object, as the file states them


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedPin:
    """A pin of a component where a netlist or an object attribute says that it is."""

    ref: str  # Designator of the component
    pin: str  # Number or letter of the pin
    function: str  # its function as the designer names it, such as A or K
    at_mm: Point  # Place (x, y) on the board, seen from the front
    side: Side | None  # None where it can be touched from both faces
    net: int  # Number of its net


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Land:
    """Bare copper of one net that parts can be soldered to, on one face."""

    side: Side  # Face it lies on
    polygon: Polygon | MultiPolygon  # Its area
    net: int  # Number of its net
    is_pad: bool  # flashed as a pad, not just copper that mask leaves bare


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CopperNets:
    """All copper of a board by net.

    `names` holds a net's name where a file tells one; `conflicts` one sentence for each disagreement of names and
    copper. `tree` finds pieces by place, in their order.
    """

    pieces: tuple[CopperPiece, ...]  # All copper, piece by piece
    names: Mapping[int, str]  # Name by net number, where a file tells one
    pins: tuple[NamedPin, ...]  # Pins of components that the files name
    lands: tuple[Land, ...]  # Bare copper that parts can be soldered to
    conflicts: tuple[str, ...]  # Where names of nets and copper disagree
    tree: shapely.STRtree  # Finds pieces by place, in their order

    @property
    def count(self) -> int:
        """Number of nets, single pieces included."""
        return len({piece.net for piece in self.pieces})

    def name_of(self, net: int) -> str:
        """Name of a net, or a number where the files name none."""
        return self.names.get(net) or f"net {net + 1}"


def build_nets(
    fabrication: Fabrication, *, netlist: Netlist | None = None, joined_nets: Sequence[Collection[str]] = ()
) -> CopperNets:
    """Nets of a board, and its lands.

    Parameters
    ----------
    fabrication : Fabrication
        The set as read.
    netlist : Netlist, optional
        Test points by net, whose names are put on the copper they touch.
    joined_nets : sequence of collection of str, optional
        Nets that copper joins on purpose (net ties, closed jumpers): that is no disagreement of names and copper.

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
    names = name_nets(pieces, tree=tree, landed={land.net for land in lands}, netlist=netlist, joined_nets=joined_nets)
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
    first, second = meeting_pairs(tree, tree.geometries, allowed=MOST_MEETINGS, what="pieces of copper")
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


def find_lands(fabrication: Fabrication, *, pieces: Sequence[CopperPiece]) -> tuple[Land, ...]:
    """All lands of both faces.

    Parameters
    ----------
    fabrication : Fabrication
        For its mask; a face without a mask layer is bare throughout.
    pieces : sequence of CopperPiece
        Copper with its nets.

    Returns
    -------
    tuple of Land
        One per connected bare area of one net. Two pads in one mask opening that copper joins are one land.
    """
    return tuple(land for side in FACES for land in _lands(fabrication, side, pieces=pieces))


def _lands(fabrication: Fabrication, side: Side, *, pieces: Sequence[CopperPiece]) -> Iterator[Land]:
    copper_role, mask_role = FACES[side]
    copper = [piece for piece in pieces if piece.layer == copper_role]
    mask = fabrication.drawings.get(mask_role)
    if isinstance(mask, GerberDrawing):
        openings = [piece.polygon for piece in drawn_pieces(mask, bounds_mm=fabrication.outline.bounds)]
    else:
        openings = [Polygon(piece.exterior) for piece in fabrication.outline.geoms]
    if not copper or not openings:
        return
    bare: dict[int, list[shapely.Geometry]] = defaultdict(list)
    tree = shapely.STRtree([piece.polygon for piece in copper])
    opening, place = tree.query(np.array(openings, dtype=object))
    shapely.prepare(tree.geometries)
    met = shapely.intersects(tree.geometries[place], np.array(openings, dtype=object)[opening])
    for number, below in zip(opening[met].tolist(), place[met].tolist(), strict=True):
        bare[copper[below].net].append(shapely.intersection(openings[number], copper[below].polygon))
    pads = {
        net: shapely.union_all([piece.polygon for piece in copper if piece.net == net and _is_pad(piece)])
        for net in bare
    }
    for net, parts in bare.items():
        for part in shapely.get_parts(shapely.union_all(parts)):
            if isinstance(part, Polygon | MultiPolygon) and part.area >= LEAST_LAND_MM2:
                yield Land(side=side, polygon=part, net=net, is_pad=bool(shapely.intersects(pads[net], part)))


def _is_pad(piece: CopperPiece) -> bool:
    return bool(piece.function) and piece.function[0] in PAD_FUNCTIONS


@dataclass(frozen=True, slots=True, kw_only=True)
class NetNames:
    """Names by net number, named pins, and disagreements in words."""

    by_net: Mapping[int, str]
    pins: tuple[NamedPin, ...]
    conflicts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """One statement that some copper belongs to a net."""

    name: str
    net: int
    at_mm: tuple[float, float]


def name_nets(
    pieces: Sequence[CopperPiece],
    *,
    tree: shapely.STRtree,
    landed: Set[int],
    netlist: Netlist | None = None,
    joined_nets: Sequence[Collection[str]] = (),
) -> NetNames:
    """Names and pins of nets: a netlist names nets before object attributes do, which say best where a pin is.

    Parameters
    ----------
    pieces : sequence of CopperPiece
    tree : STRtree
        Of the pieces, in their order.
    landed : set of int
        Nets that something can be soldered to: an island of a pour without lands may bear any name.
    netlist : Netlist, optional
    joined_nets : sequence of collection of str
        Nets that copper joins on purpose.
    """
    pins = list(_pins_of_pieces(pieces))
    ties = {piece.net for piece in pieces if NET_TIE_FUNCTION in piece.function}
    if netlist is None:
        said, lost = list(_said_by_pieces(pieces)), []
    else:
        touched = [(point, _net_at(point, pieces=pieces, tree=tree)) for point in netlist.points]
        said = [
            _Said(name=point.net, net=net, at_mm=point.at_mm) for point, net in touched if net is not None and point.net
        ]
        known = {(pin.ref, pin.pin) for pin in pins}
        pins += [pin for pin in _pins_of_points(touched) if (pin.ref, pin.pin) not in known]
        lost = list(_lost(touched, netlist=netlist))
    by_net: dict[int, str] = {}
    for one in said:
        by_net.setdefault(one.net, one.name)
    conflicts = _conflicts([one for one in said if one.net in landed], ties=ties, joined_nets=joined_nets)
    return NetNames(by_net=by_net, pins=tuple(pins), conflicts=(*lost, *conflicts))


def _said_by_pieces(pieces: Iterable[CopperPiece]) -> Iterator[_Said]:
    for piece in pieces:
        if piece.names is not None and piece.names.net:
            point = piece.polygon.representative_point()
            yield _Said(name=piece.names.net, net=piece.net, at_mm=(point.x, point.y))


def _pins_of_pieces(pieces: Iterable[CopperPiece]) -> Iterator[NamedPin]:
    for piece in pieces:
        if piece.names is not None and piece.names.pin:
            middle = piece.polygon.centroid
            yield NamedPin(
                ref=piece.names.ref,
                pin=piece.names.pin,
                function=piece.names.function,
                at_mm=(middle.x, middle.y),
                side=SIDE_OF_LAYER.get(piece.layer),
                net=piece.net,
            )


def _net_at(point: NetPoint, *, pieces: Sequence[CopperPiece], tree: shapely.STRtree) -> int | None:
    layers = {"front": ("copper_front",), "back": ("copper_back",)}.get(point.access)
    near = tree.query(shapely.Point(point.at_mm), predicate="dwithin", distance=PROBE_REACH_MM)
    return next((pieces[place].net for place in near if layers is None or pieces[place].layer in layers), None)


def _pins_of_points(touched: Iterable[tuple[NetPoint, int | None]]) -> Iterator[NamedPin]:
    for point, net in touched:
        if net is not None and point.ref and point.pin:
            side: Side | None = "front" if point.access == "front" else "back" if point.access == "back" else None
            yield NamedPin(ref=point.ref, pin=point.pin, function="", at_mm=point.at_mm, side=side, net=net)


def _lost(touched: Sequence[tuple[NetPoint, int | None]], *, netlist: Netlist) -> Iterator[str]:
    off = [point for point, net in touched if net is None and point.access != "inner"]
    if off:
        x, y = off[0].at_mm
        yield (
            f"{netlist.path.name}: {len(off)} of {len(touched)} test points lie on no copper, the first at"
            f" ({x:.2f}, {y:.2f}) mm in line {off[0].line}; export it with the origin of the fabrication files"
        )


def _conflicts(said: Sequence[_Said], *, ties: Set[int], joined_nets: Sequence[Collection[str]]) -> Iterator[str]:
    by_net: dict[int, dict[str, _Said]] = defaultdict(dict)
    by_name: dict[str, dict[int, _Said]] = defaultdict(dict)
    for one in said:
        by_net[one.net].setdefault(one.name, one)
        by_name[one.name].setdefault(one.net, one)
    sentences = [
        f"copper joins the nets {' and '.join(sorted(names))} (at {_places(names.values())})"
        for net, names in by_net.items()
        if len(names) > 1 and net not in ties and not any(names.keys() <= set(joined) for joined in joined_nets)
    ]
    sentences += [
        f"net {name} is {len(nets)} separate pieces of copper (at {_places(nets.values())})"
        for name, nets in by_name.items()
        if len(nets) > 1
    ]
    yield from sentences[:LISTED_CONFLICTS]
    if len(sentences) > LISTED_CONFLICTS:
        yield f"and {len(sentences) - LISTED_CONFLICTS} more nets whose names and copper disagree"


def _places(said: Iterable[_Said]) -> str:
    return " and ".join(f"({one.at_mm[0]:.1f}, {one.at_mm[1]:.1f})" for one in list(said)[:3]) + " mm"
