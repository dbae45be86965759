"""`paneglow placement`: the placement file as an assembly service wants it."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, get_args

import typer

from paneglow.assembly import WrittenPlacement
from paneglow.cli.console import build_console, text
from paneglow.cli.group import EXIT_DONE, EXIT_GOALS_MISSED
from paneglow.fab import DIALECTS, BottomRule, DialectName, PlacementRule, TurnRule, ZeroRule
from paneglow.pipeline import place
from paneglow.report import to_refs_text, to_way_round_text
from paneglow.results import PlacementResults, to_json
from paneglow.writing import write_together


def placement(
    design: Annotated[Path, typer.Argument(metavar="DESIGN", help="A design.toml, or the folder that holds it.")],
    *,
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="File to write.")],
    dialect: Annotated[
        DialectName,
        typer.Option("--dialect", metavar="NAME", help=f"Separator and unit: {', '.join(DIALECTS)}."),
    ] = "comma-mm",
    columns: Annotated[
        str,
        typer.Option(
            "--columns",
            metavar="NAMES",
            help="Your names for reference, x, y, rotation, side and, if wanted, value, package, with commas between.",
        ),
    ] = "",
    sides: Annotated[
        str, typer.Option("--sides", metavar="WORDS", help="Words for front and back, such as top,bottom.")
    ] = "front,back",
    comments: Annotated[
        bool, typer.Option("--comments/--no-comments", help="Say above the header what the numbers mean.")
    ] = True,
    bottom: Annotated[
        BottomRule,
        typer.Option(
            "--bottom",
            metavar="RULE",
            help=f"How rotations of parts on the back are counted: {', '.join(get_args(BottomRule))}.",
        ),
    ] = "turned-left-right",
    zero: Annotated[ZeroRule, typer.Option("--zero", help="Which way a part points at zero.")] = "cathode-left",
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of the text.")] = False,
    turn: Annotated[TurnRule, typer.Option("--turn", help="Axis lens-down parts are turned about.")] = "long-axis",
) -> None:
    """Write the placement file a service wants; check every LED in it.

    The file says in its first lines what its numbers mean, unless you leave them out. Ask the service how it counts
    rotations before you choose:
    services differ, and nothing in the numbers shows it. The written file is read back and every LED placed from it;
    its anode must come down on the positive pad.

    Exit code 1 if an LED would be reversed, its direction is unknown, or nothing stands behind the polarity mark of its
    order code.
    """
    rule = PlacementRule(bottom=bottom, zero=zero, turn=turn)
    form = replace(
        DIALECTS[dialect],
        columns=tuple(name.strip() for name in columns.split(",")) if columns else (),
        sides=tuple(word.strip() for word in sides.split(",")),
        comments=comments,
    )
    written = place(design, dialect=form, rule=rule)
    write_together(out.parent, contents={out.name: written.text.encode()})
    notes = (*rule.words()[:-1], f"y counts upward, lengths in {form.unit}")
    wrong: dict[str, list[str]] = {}
    for check in written.checks:
        if check.state != "correct":
            wrong.setdefault(check.state, []).append(check.ref)
    if as_json:
        results = PlacementResults(file=str(out), leds=written.checks, unverified=written.unverified, notes=notes)
        typer.echo(to_json(results), nl=False)
    else:
        _print_written(written, out=out, wrong=wrong, notes=notes)
    raise typer.Exit(EXIT_GOALS_MISSED if wrong or written.unverified else EXIT_DONE)


def _print_written(
    written: WrittenPlacement, *, out: Path, wrong: Mapping[str, Sequence[str]], notes: Sequence[str]
) -> None:
    console = build_console()
    console.print(text(f"{to_way_round_text(written.checks)} (read back from the file)"))
    for state, refs in wrong.items():
        console.print(text(f"{state}: {to_refs_text(refs)}; paneglow check tells why"))
    if written.unverified:
        codes = ", ".join(written.unverified)
        console.print(text(f"nothing stands behind the polarity mark of {codes}: this blocks release"))
    for words in notes:
        console.print(text(f"note: {words}"))
    console.print(text(f"placement: {out}"), soft_wrap=True)
