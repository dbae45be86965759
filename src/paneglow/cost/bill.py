"""What one board needs: parts by order code, with their joints and the face they sit on."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from paneglow.cost.records import CostFile, Swap
from paneglow.design import Design, LedGroup, Mounting, Side
from paneglow.errors import DesignError
from paneglow.fab import PlacementRow, read_fabrication, read_placement

JOINTS = 2  # a two-terminal chip part; the cost file states others under [build.joints]


@dataclass(frozen=True, slots=True, kw_only=True)
class BillRow:
    """Parts of one order code on one face, mounted alike; `mounting` is None for what is no LED."""

    item: str  # order code, or value of the placement file
    count: int  # on one board
    side: Side
    mounting: Mounting | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """Everything on one board, and the board's own size [mm]."""

    rows: tuple[BillRow, ...]  # parts alike are one row
    size_mm: tuple[float, float]  # of the outline, along x and y


def count_rows(placed: Iterable[tuple[str, Side, Mounting | None]]) -> tuple[BillRow, ...]:
    """Rows of a bill from single parts (code, face, mounting), in the order they first stand."""
    counts: dict[tuple[str, Side, Mounting | None], int] = {}
    for key in placed:
        counts[key] = counts.get(key, 0) + 1
    return tuple(
        BillRow(item=item, side=side, mounting=mounting, count=count)
        for (item, side, mounting), count in counts.items()
    )


def board_size_mm(fabrication: Path, layers: frozenset[tuple[str, str]]) -> tuple[float, float]:
    """Size of a board's outline along x and y [mm], from its fabrication files and the layers named apart.

    Raises
    ------
    FabricationError
        Where the outline cannot be read.
    """
    x_min, y_min, x_max, y_max = read_fabrication(fabrication, layer_files=dict(layers)).outline.bounds
    return x_max - x_min, y_max - y_min


SizeOf = Callable[[Path, frozenset[tuple[str, str]]], tuple[float, float]]


def build_bill(design: Design, *, folder: Path, size_of: SizeOf = board_size_mm) -> Bill:
    """What one board needs: its LEDs, and every other part of the placement file by its value.

    Parameters
    ----------
    design : Design
    folder : Path
        Folder of the design; its fabrication and placement files are read from there.
    size_of : callable, optional
        Stands for `board_size_mm` where it is asked often.

    Raises
    ------
    DesignError
        Where an LED of the design is not in the placement file.
    FabricationError
        Where the outline or the placement file cannot be read.
    """
    stated = design.board
    rows = () if stated.placement is None else read_placement(folder / stated.placement, unit=stated.placement_unit)
    placed = {row.ref: row for row in rows}
    leds = [led for group in design.led for led in _leds(group, placed=placed)]
    refs = {ref for group in design.led for ref in group.refs}
    others = [(row.value or row.package or row.ref, row.side or "back", None) for row in rows if row.ref not in refs]
    size_mm = size_of(folder / stated.fabrication, frozenset(stated.layers.items()))
    return Bill(rows=count_rows([*leds, *others]), size_mm=size_mm)


def _leds(group: LedGroup, *, placed: Mapping[str, PlacementRow]) -> Iterator[tuple[str, Side, Mounting | None]]:
    """The LEDs of one group of the design: code, face, mounting."""
    if not group.refs:
        yield group.part, group.side, group.mounting
    for ref in group.refs:
        if ref not in placed:
            raise DesignError(f"led {ref} is not in the placement file; correct refs, or add it there")
        yield group.part, placed[ref].side or group.side, group.mounting


def swap_parts(bill: Bill, *, swaps: Sequence[Swap]) -> Bill:
    """The bill with LEDs replaced by others, mounted in their own way."""
    by_part = {swap.part: swap for swap in swaps}
    rows = (_swapped(row, by_part.get(row.item)) for row in bill.rows)
    placed = [(row.item, row.side, row.mounting) for row in rows for _ in range(row.count)]
    return replace(bill, rows=count_rows(placed))


def _swapped(row: BillRow, swap: Swap | None) -> BillRow:
    return row if swap is None else replace(row, item=swap.by, mounting=swap.mounting)


def joints_of(row: BillRow, *, costs: CostFile) -> int:
    """Solder joints of all parts of a row."""
    return row.count * costs.build.joints.get(row.item, JOINTS)
