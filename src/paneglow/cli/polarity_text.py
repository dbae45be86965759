"""Which way round LEDs are, as a table for the terminal."""

from rich.console import Console
from rich.text import Text

from paneglow.assembly import LedPolarity, Polarity
from paneglow.cli.console import DASH, build_table
from paneglow.report import to_refs_text


def print_polarity(console: Console, polarity: Polarity) -> None:
    """Print a row per order code and style: its LEDs, whether they are the right way round, and its mark as mounted."""
    if not polarity.leds:
        return
    right = sum(one.state == "right" for one in polarity.leds)
    basis = f", by {polarity.basis}" if polarity.basis else ""
    console.print(Text(f"{right} of {len(polarity.leds)} LEDs are the right way round{basis}"))
    checked = sum(row.state == "right" for row in polarity.rows)
    if polarity.rows:
        console.print(Text(f"{checked} of {len(polarity.rows)} rows of the placement file are, checked a second way"))
    console.print()
    table = build_table("part", "style", "LEDs", "way round", "mark", "legend")
    groups: dict[tuple[str, str, str], list[LedPolarity]] = {}
    for one in polarity.leds:
        groups.setdefault((one.part, one.mounting, one.state), []).append(one)
    for (part, mounting, state), leds in groups.items():
        refs = to_refs_text([one.ref for one in leds])
        cells = (part, mounting.replace("_", " "), refs, state, _mark(leds[0]), _legend(leds))
        table.add_row(*(Text(cell) for cell in cells))
    console.print(table)


def _mark(one: LedPolarity) -> str:
    if one.mark is None:
        return "none stated"
    return f"{one.mark.shape} = {one.mark.means}{'' if one.mark.visible else ', hidden'}"


def _legend(leds: list[LedPolarity]) -> str:
    said = {DASH if one.legend is None else one.legend for one in leds}
    return said.pop() if len(said) == 1 else "differs"
