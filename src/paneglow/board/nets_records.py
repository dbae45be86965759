"""Copper as nets, and the lands that parts are soldered to."""

from collections.abc import Mapping
from dataclasses import dataclass

import shapely
from shapely.geometry import MultiPolygon, Polygon

from paneglow.design import Side
from paneglow.fab import ObjectNames

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CopperPiece:
    """One connected part of one object of a copper layer; pieces of one net overlap and touch."""

    layer: str  # copper_front, copper_inner_1, ...
    polygon: Polygon
    net: int
    names: ObjectNames | None
    function: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedPin:
    """A pin of a component where a netlist or an object attribute says that it is."""

    ref: str
    pin: str
    function: str  # its function as the designer names it, such as A or K
    at_mm: Point
    side: Side | None  # None where it can be touched from both faces
    net: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Land:
    """Bare copper of one net that parts can be soldered to, on one face."""

    side: Side
    polygon: Polygon | MultiPolygon
    net: int
    is_pad: bool  # flashed as a pad, not just copper that mask leaves bare


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CopperNets:
    """All copper of a board by net.

    `names` holds a net's name where a file tells one; `conflicts` one sentence for each disagreement of names and
    copper. `tree` finds pieces by place, in their order.
    """

    pieces: tuple[CopperPiece, ...]
    names: Mapping[int, str]
    pins: tuple[NamedPin, ...]
    lands: tuple[Land, ...]
    conflicts: tuple[str, ...]
    tree: shapely.STRtree

    @property
    def count(self) -> int:
        """Number of nets, single pieces included."""
        return len({piece.net for piece in self.pieces})

    def name_of(self, net: int) -> str:
        """Name of a net, or a number where the files name none."""
        return self.names.get(net) or f"net {net + 1}"
