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
