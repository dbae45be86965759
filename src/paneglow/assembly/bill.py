"""What one board needs: parts by order code, the face they sit on, and who puts them there."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from paneglow.assembly.labour import Builder, BuildWay
from paneglow.board import PlacedLed, PlacementRead
from paneglow.design import Mounting, Side


@dataclass(frozen=True, slots=True, kw_only=True)
class BillRow:
    """Parts of one order code on one face, mounted alike; `mounting` is None for what is no LED."""

    item: str  # order code, or value of the placement file
    count: int  # on one board
    side: Side  # Face the parts are soldered to
    built_by: Builder  # who puts them on the board
    mounting: Mounting | None = None  # Mounting style; None for what is no LED
    glued: bool = False  # Under hot glue, which own hands apply


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """Everything on one board, and the board's own size [mm]."""

    rows: tuple[BillRow, ...]  # parts alike are one row
    size_mm: tuple[float, float]  # of the outline, along x and y


def build_bill(
    leds: Sequence[PlacedLed],
    *,
    ways: Iterable[BuildWay],
    placement: PlacementRead | None,
    size_mm: tuple[float, float],
) -> Bill:
    """What one board needs: its LEDs, and every other part of the placement file by its value.

    Parameters
    ----------
    leds : sequence of PlacedLed
    ways : iterable of BuildWay
        Who builds them, as `build_ways` says of these LEDs. What is no LED is left to a machine.
    placement : PlacementRead or None
        The placement file, where there is one.
    size_mm : tuple of float
        Of the outline, along x and y [mm].
    """
    builder_of = {ref: way.way for way in ways for ref in way.refs}
    counts: dict[BillRow, int] = {}
    for led in leds:
        row = BillRow(
            item=led.part.code,
            count=1,
            side=led.side,
            built_by=builder_of[led.ref],
            mounting=led.mounting,
            glued=led.diffuser == "hot-glue",
        )
        counts[row] = counts.get(row, 0) + 1
    for placed in () if placement is None else placement.rows:
        if placed.ref not in builder_of:
            item = placed.value or placed.package or placed.ref
            row = BillRow(item=item, count=1, side=placed.side or "back", built_by="machine")
            counts[row] = counts.get(row, 0) + 1
    return Bill(rows=tuple(replace(row, count=count) for row, count in counts.items()), size_mm=size_mm)
