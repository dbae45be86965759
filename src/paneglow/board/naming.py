"""Names of windows: the design's where it names a point inside, w1, w2, ... in reading order elsewhere."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple, Protocol

from shapely.geometry import Point, Polygon

from paneglow.errors import DesignError


class NamedPoint(Protocol):
    """A window as the design names it."""

    @property
    def name(self) -> str:
        """Name of the window."""

    @property
    def at_mm(self) -> tuple[float, float]:
        """Any point inside it [mm]."""


class Placed(NamedTuple):
    """What naming needs of one window."""

    polygon: Polygon
    centre_mm: tuple[float, float]


def reading_order(placed: Sequence[Placed]) -> list[int]:
    """Indices in reading order: rows from the top, each from the left.

    A row holds the windows whose centre lies within the height of its highest one.
    """
    waiting = sorted(range(len(placed)), key=lambda index: -placed[index].centre_mm[1])
    order: list[int] = []
    while waiting:
        lower = placed[waiting[0]].polygon.bounds[1]
        row = [index for index in waiting if placed[index].centre_mm[1] >= lower]
        order += sorted(row, key=lambda index: placed[index].centre_mm[0])
        waiting = [index for index in waiting if index not in set(row)]
    return order


def name_windows(placed: Sequence[Placed], *, named: Sequence[NamedPoint], reach_mm: float) -> list[str]:
    """Names of windows that stand in reading order.

    Parameters
    ----------
    placed : sequence of Placed
        Windows in reading order.
    named : sequence of NamedPoint
        Names of the design, each with a point inside its window.
    reach_mm : float
        A point this near to an outline still counts as inside [mm].

    Raises
    ------
    DesignError
        A point that lies in no window, two names for one window, one name twice.
    """
    given: dict[int, NamedPoint] = {}
    for wish in named:
        index = _window_at(placed, wish, reach_mm=reach_mm)
        if index in given:
            raise DesignError(
                f"windows {given[index].name!r} and {wish.name!r} are one opening about "
                f"{_place(placed[index].centre_mm)}; keep one name or move one at_mm"
            )
        if any(wish.name == other.name for other in given.values()):
            raise DesignError(f"window name {wish.name!r} is given twice; every window needs its own name")
        given[index] = wish
    free = _free_names({wish.name for wish in named})
    return [given[index].name if index in given else next(free) for index in range(len(placed))]


def _free_names(taken: set[str]) -> Iterator[str]:
    number = 0
    while True:
        number += 1
        if (name := f"w{number}") not in taken:
            yield name


def _window_at(placed: Sequence[Placed], wish: NamedPoint, *, reach_mm: float) -> int:
    point = Point(wish.at_mm)
    if not placed:
        raise DesignError(f"window {wish.name!r} at {_place(wish.at_mm)}: the board has no window at all")
    distances = [window.polygon.distance(point) for window in placed]
    nearest = min(range(len(placed)), key=distances.__getitem__)
    if distances[nearest] > reach_mm:
        raise DesignError(
            f"window {wish.name!r}: its at_mm {_place(wish.at_mm)} lies in no window; the nearest is "
            f"{distances[nearest]:.2f} mm away, about {_place(placed[nearest].centre_mm)}"
        )
    return nearest


def _place(at_mm: tuple[float, float]) -> str:
    return f"({at_mm[0]:.2f}, {at_mm[1]:.2f})"
