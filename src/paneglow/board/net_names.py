"""Names on copper: what a netlist and object attributes say of nets and pins, and where they contradict the copper."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass

import shapely

from paneglow.board.nets_records import CopperPiece, NamedPin
from paneglow.design import Side
from paneglow.fab import Netlist, NetPoint

PROBE_REACH_MM = 0.05  # chosen: a test point this near to copper is on it; rounding of netlists is 0.0025 mm
LISTED_CONFLICTS = 6  # one sentence each; a netlist of another board disagrees everywhere
SIDE_OF_LAYER: Mapping[str, Side] = {"copper_front": "front", "copper_back": "back"}


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
    pieces: Sequence[CopperPiece], *, tree: shapely.STRtree, landed: Set[int], netlist: Netlist | None = None
) -> NetNames:
    """Names and pins of nets; a netlist comes before object attributes, which stand in the fabrication files.

    Parameters
    ----------
    pieces : sequence of CopperPiece
    tree : STRtree
        Of the pieces, in their order.
    landed : set of int
        Nets that something can be soldered to: an island of a pour without lands may bear any name.
    netlist : Netlist, optional
    """
    if netlist is None:
        said, pins = list(_said_by_pieces(pieces)), tuple(_pins_of_pieces(pieces))
        lost: list[str] = []
    else:
        touched = [(point, _net_at(point, pieces=pieces, tree=tree)) for point in netlist.points]
        said = [
            _Said(name=point.net, net=net, at_mm=point.at_mm) for point, net in touched if net is not None and point.net
        ]
        pins = tuple(_pins_of_points(touched))
        lost = list(_lost(touched, netlist=netlist))
    by_net: dict[int, str] = {}
    for one in said:
        by_net.setdefault(one.net, one.name)
    return NetNames(
        by_net=by_net, pins=pins, conflicts=tuple([*lost, *_conflicts([one for one in said if one.net in landed])])
    )


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


def _conflicts(said: Sequence[_Said]) -> Iterator[str]:
    by_net: dict[int, dict[str, _Said]] = defaultdict(dict)
    by_name: dict[str, dict[int, _Said]] = defaultdict(dict)
    for one in said:
        by_net[one.net].setdefault(one.name, one)
        by_name[one.name].setdefault(one.net, one)
    sentences = [
        f"copper joins the nets {' and '.join(sorted(names))} (at {_places(names.values())})"
        for names in by_net.values()
        if len(names) > 1
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
