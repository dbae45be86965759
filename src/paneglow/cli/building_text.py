"""Who builds which LEDs, as a table for the terminal."""

from rich.console import Console
from rich.text import Text

from paneglow.assembly import Building
from paneglow.cli.console import build_table
from paneglow.report import build_building_rows, to_minutes_text


def print_building(console: Console, building: Building) -> None:
    """Print a row per order code and style: who builds it, what the board's lands reach, how it stands."""
    if not building.ways:
        return
    by_hand = sum(len(way.refs) for way in building.ways if way.way == "hand")
    minutes = "" if building.minutes_by_hand is None else f": {to_minutes_text(building.minutes_by_hand)} a board"
    console.print(Text(f"{by_hand} of {sum(len(way.refs) for way in building.ways)} LEDs are built by hand{minutes}"))
    console.print()
    table = build_table("LEDs", "part", "style", "built", "lands", "stands", "behind")
    for row in build_building_rows(building):
        cells = (row.refs, row.part, row.mounting, row.way.removeprefix("by "), row.goals, row.stand, row.height)
        table.add_row(*(Text(cell) for cell in cells))
    console.print(table)
