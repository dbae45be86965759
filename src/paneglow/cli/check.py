"""`paneglow check`: the defects that show without tracing light."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from paneglow.assembly import Building, LedPolarity, Polarity
from paneglow.cli.console import build_console, build_table, print_changes, print_findings, print_provisional, text
from paneglow.cli.group import EXIT_DONE, EXIT_GOALS_MISSED
from paneglow.drive import DriveResults
from paneglow.judge import release_blockers
from paneglow.pipeline import check_design
from paneglow.report import (
    build_building_rows,
    build_load_row,
    life_sentences,
    render_bench_sheet,
    supply_sentence,
    to_digits,
    to_minutes_text,
    to_refs_text,
    to_way_round_text,
)
from paneglow.results import CheckResults, build_check_results, to_json
from paneglow.writing import write_together

LOADS_SHOWN = 3  # those nearest to their limits; --json has them all


def check(
    design: Annotated[Path, typer.Argument(metavar="DESIGN", help="A design.toml, or the folder that holds it.")],
    *,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of the text.")] = False,
    bench: Annotated[
        Path | None, typer.Option("--bench", metavar="FILE", help="Also write the sheet to solder from, as HTML.")
    ] = None,
) -> None:
    """Find defects of a design in seconds, without tracing light.

    Looks at windows and what shadows them, LEDs and where they stand, which way round they are by copper, mark and
    placement file, pads, copper and holes in their way, how they are built, the supply, the currents and how long
    they last. How it will
    look, and with it every goal, takes paneglow light.

    Exit code 1 where a finding is an error or blocks release.
    """
    found = check_design(design)
    results = build_check_results(
        found.board,
        assembled=found.assembled,
        drive=found.drive,
        findings=found.findings,
        provisional=found.provisional,
        changes=found.changes,
    )
    if as_json:
        typer.echo(to_json(results), nl=False)
    else:
        _print_check(results)
        print_provisional(results.provisional, path=design)
    if bench is not None:
        sheet = render_bench_sheet(found.board, polarity=found.assembled.polarity, building=found.assembled.building)
        write_together(bench.parent, contents={bench.name: sheet.encode()})
        if not as_json:
            build_console().print(text(f"bench sheet: {bench}"), soft_wrap=True)
    grave = bool(release_blockers(found.findings))
    raise typer.Exit(EXIT_GOALS_MISSED if grave else EXIT_DONE)


def _print_check(results: CheckResults) -> None:
    """Print every finding, gravest first, in 80 columns."""
    console = build_console()
    errors = sum(finding.severity == "error" for finding in results.findings)
    blocking = len(release_blockers(results.findings)) - errors
    counted = f"{len(results.findings)} findings, {errors} of them errors" if results.findings else "nothing found"
    counted += f", {blocking} more block release" if blocking else ""
    console.print(text(f"{results.name}: {results.leds} LEDs, {results.windows} windows, {counted}"))
    _print_polarity(console, results.polarity)
    _print_building(console, results.building)
    if results.drive is not None:
        _print_drive(console, results.drive)
    if results.findings:
        console.print()
        print_findings(console, results.findings, changes=results.changes)
    for note in results.notes:
        console.print(text(f"note: {note}"))
    if results.changes:
        console.print()
        print_changes(console, results.changes, findings=results.findings)


def _print_drive(console: Console, drive: DriveResults) -> None:
    """Print what the supply gives, a row per current, every load against its limit, and how long the supply lasts."""
    console.print()
    console.print(text(supply_sentence(drive)))
    table = build_table("LEDs", "mA", "at most", "peak", "at most", "light at worst", numbers=frozenset(("mA", "peak")))
    groups: dict[tuple[str, ...], list[str]] = {}
    for led in drive.leds:
        currents = (led.mean_ma, led.mean_max_ma, led.peak_ma, led.peak_max_ma)
        cells = (*(to_digits(value) for value in currents), to_digits(100 * led.weak_light_frac) + " %")
        groups.setdefault(cells, []).append(led.ref)
    for cells, refs in groups.items():
        table.add_row(text(to_refs_text(refs)), *(text(cell) for cell in cells))
    console.print(table)
    rows = [build_load_row(load) for load in drive.loads]
    for row in sorted(rows, key=lambda row: -row.percent)[:LOADS_SHOWN]:
        over = ", too much" if row.over else ""
        console.print(text(f"{row.subject}: {row.quantity} {row.used} of {row.limit} ({row.percent:g} %){over}"))
    if len(rows) > LOADS_SHOWN:
        console.print(text(f"and {len(rows) - LOADS_SHOWN} loads that are further from their limits"))
    for sentence in () if drive.life is None else life_sentences(drive.life):
        console.print(text(sentence))


def _print_polarity(console: Console, polarity: Polarity) -> None:
    """Print a row per order code and style: its LEDs, whether they are the right way round, and its mark as mounted."""
    if not polarity.leds:
        return
    console.print(text(to_way_round_text(polarity.leds, basis=polarity.basis)))
    state_of = {one.ref: one.state for one in polarity.leds}
    same = sum(row.state == state_of.get(row.ref) != "not told" for row in polarity.rows)
    if polarity.rows:
        share = "All" if same == len(polarity.rows) else f"{same} of"
        console.print(
            text(f"{share} {len(polarity.rows)} placement rows were confirmed by a second, independent check")
        )
    console.print()
    table = build_table("order code", "style", "LEDs", "way round", "mark once mounted")
    groups: dict[tuple[str, str, str], list[LedPolarity]] = {}
    for one in polarity.leds:
        groups.setdefault((one.part, one.mounting, one.state), []).append(one)
    for (part, mounting, state), leds in groups.items():
        refs = to_refs_text([one.ref for one in leds])
        cells = (part, mounting.replace("_", " "), refs, state, _mark(leds[0]))
        table.add_row(*(text(cell) for cell in cells))
    console.print(table)
    for line in _legend_lines(polarity.leds):
        console.print(text(line))


def _mark(one: LedPolarity) -> str:
    if one.mark is None:
        return "none stated"
    return f"{one.mark.shape} = {one.mark.means}{'' if one.mark.visible else ', hidden'}"


def _legend_lines(leds: Sequence[LedPolarity]) -> Iterator[str]:
    said: dict[tuple[str, bool | None], list[str]] = {}
    for one in leds:
        if one.legend is not None:
            said.setdefault((one.legend, one.legend_agrees), []).append(one.ref)
    for (electrode, agrees), refs in said.items():
        wrong = ", which is wrong" if agrees is False else ""
        words = "both ends" if electrode == "both ends" else f"the {electrode}"
        yield f"the legend marks {words} of {to_refs_text(refs)}{wrong}"


def _print_building(console: Console, building: Building) -> None:
    """Print a row per order code and style: who builds it, what the board's pads reach, how it stands."""
    if not building.ways:
        return
    by_hand = sum(len(way.refs) for way in building.ways if way.way == "hand")
    minutes = "" if building.minutes_by_hand is None else f": {to_minutes_text(building.minutes_by_hand)} a board"
    console.print(text(f"{by_hand} of {sum(len(way.refs) for way in building.ways)} LEDs are built by hand{minutes}"))
    console.print()
    table = build_table("LEDs", "part", "style", "built", "pads", "stands", "behind")
    for row in build_building_rows(building):
        cells = (row.refs, row.part, row.mounting, row.way.removeprefix("by "), row.goals, row.stand, row.height)
        table.add_row(*(text(cell) for cell in cells))
    console.print(table)
