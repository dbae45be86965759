"""`paneglow parts`: what there is to choose from, and records of parts, one exact order code each."""

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Annotated, Any, get_args

import typer
from rich.console import Console

from paneglow.catalog import PART_QUESTIONS, Colour, Part, answer, build_new_part, read_catalog, read_parts_csv
from paneglow.catalog import to_parts_csv as to_csv
from paneglow.catalog import to_parts_toml as to_toml
from paneglow.cli.console import build_console, build_table, text
from paneglow.cli.group import OneLineErrors, print_problem
from paneglow.design import Mounting
from paneglow.errors import CatalogError, OutputError
from paneglow.pipeline import list_choices
from paneglow.report import to_digits
from paneglow.results import ChoiceKind, Choices, LedChoice, WrittenResults, to_json
from paneglow.units import Quantity
from paneglow.writing import write_together

PARTS_FOLDER = "parts"
# What else there is, each a command of its own
OTHERS: dict[ChoiceKind, str] = {
    "laminates": "List laminates: scatter, and absorption of blue, green and red.",
    "masks": "List solder masks: what they pass and return.",
    "inks": "List legend inks: what they pass and return.",
    "films": "List diffusers: what they pass and return.",
    "supplies": "List cells, batteries and other supplies.",
}
Listing = tuple[Sequence[str], Iterable[Sequence[str]], set[str]]  # headings, rows, and which are set flush right

parts = typer.Typer(
    name="parts",
    cls=OneLineErrors,
    help="List LEDs and all else a board is made of; write down your own.",
    add_completion=False,
    rich_markup_mode=None,
)
Folder = Annotated[
    Path, typer.Argument(metavar="DESIGN", help="A design.toml, or the folder that holds it; parts/ lies beside it.")
]
Beside = Annotated[
    Path, typer.Option("--design", metavar="DESIGN", help="Also your own parts, and prices of cost.toml, beside it.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON instead of the text.")]


@parts.callback(invoke_without_command=True)
def leds(
    context: typer.Context,
    *,
    colour: Annotated[Colour | None, typer.Option(help="Only this colour.")] = None,
    size: Annotated[
        str, typer.Option("--size", metavar="SIZE", help="Only this size, such as 0603, 5mm or 1.6x0.8.")
    ] = "",
    style: Annotated[Mounting | None, typer.Option(help="Only what is made for this mounting style.")] = None,
    design: Beside = Path(),
    as_json: AsJson = False,
) -> None:
    """List LEDs to choose from, and all else a board is made of; write down your own.

    Without an option it lists sizes and colours, with one the light, current and voltage of every order code. Light is
    at the test current; what is not measured stands as a range.
    """
    if context.invoked_subcommand is not None:
        return
    found = list_choices(design, kind="leds", colour=colour, size=size, style=style)
    if as_json:
        typer.echo(to_json(found), nl=False)
    elif colour or size or style:
        _print_leds(build_console(), found.leds)
    else:
        _print_sizes(build_console(), found.leds)


def _listing(kind: ChoiceKind) -> Callable[..., None]:
    """The command that lists one of the other kinds."""

    def show(*, design: Beside = Path(), as_json: AsJson = False) -> None:
        found = list_choices(design, kind=kind)
        if as_json:
            typer.echo(to_json(found), nl=False)
        else:
            console = build_console()
            _print_rows(console, *OTHER_ROWS[kind](found))
            if kind != "supplies":
                console.print()
                console.print(text("Three numbers are for blue, green and red light (465, 525 and 625 nm)."))

    return show


for _kind, _words in OTHERS.items():
    parts.command(_kind, help=_words)(_listing(_kind))


def _range(quantity: Quantity, *, scale: float = 1.0) -> str:
    low, high = to_digits(scale * quantity.lowest), to_digits(scale * quantity.highest)
    return low if low == high else f"{low}-{high}"


def _print_rows(console: Console, headings: Sequence[str], rows: Iterable[Sequence[str]], numbers: set[str]) -> None:
    table = build_table(*headings, numbers=frozenset(numbers), whole=frozenset(headings[:1]))
    for row in rows:
        table.add_row(*(text(cell) for cell in row))
    console.print(table)


def _print_sizes(console: Console, choices: Sequence[LedChoice]) -> None:
    """Print a row per size and kind; order codes that differ by their colour alone share one."""
    every = get_args(Colour)
    alike: dict[tuple[str, ...], list[LedChoice]] = {}
    for led in choices:
        stem = led.code.removesuffix(f"-{led.colour}")
        alike.setdefault((stem, "x".join(f"{size:g}" for size in led.size_mm), ", ".join(led.styles)), []).append(led)
    rows = []
    for (stem, size, styles), same in alike.items():
        code = same[0].code if len(same) == 1 else f"{stem}-COLOUR"
        colours = "every" if len(same) == len(every) else ", ".join(led.colour for led in same)
        rows.append((code, size, styles, colours))
    _print_rows(console, ("order code", "mm", "mounting style", "COLOUR"), rows, {"mm"})
    console.print()
    console.print(text(f"COLOUR is {', '.join(every[:-1])} or {every[-1]}."))
    console.print(text("Light, current, voltage: paneglow parts --colour amber (or --size, --style)"))
    console.print(text(f"Also: paneglow parts {', '.join(OTHERS)}"))
    console.print(text("To write down your own: paneglow parts new"))


def _print_leds(console: Console, choices: Sequence[LedChoice]) -> None:
    rows: list[tuple[str, ...]] = []
    for led in choices:
        price = "" if led.price is None else f"{led.price.each} {led.price.currency}"
        light = f"{_range(led.flux_lm)} at {led.test_current_ma:g}"
        rows.append((led.code, light, f"{led.current_max_ma:g}", _range(led.forward_voltage_v), price))
    headings = ["order code", "lm at mA", "mA, most", "volt", "price"]
    if not any(row[-1] for row in rows):
        headings, rows = headings[:-1], [row[:-1] for row in rows]
    _print_rows(console, headings, rows, set(headings[1:]))


def _films(found: Choices) -> Listing:
    rows = [
        (film.code, *(_percents(shares) for shares in (film.transmittance, film.reflectance)), film.origin, film.source)
        for film in (*found.masks, *found.inks, *found.films)
    ]
    numbers = {"passes %", "returns %"}
    return ("name", "passes %", "returns %", "origin", "source"), rows, numbers


def _percents(shares: Iterable[float]) -> str:
    return " / ".join(f"{100 * share:.0f}" for share in shares)


def _laminates(found: Choices) -> Listing:
    rows = [
        (
            laminate.code,
            _range(laminate.reduced_scatter_per_mm),
            " / ".join(to_digits(value) for value in laminate.absorb_per_mm),
            laminate.origin,
            laminate.note,
        )
        for laminate in found.laminates
    ]
    numbers = {"scatter per mm", "absorption per mm"}
    return ("name", "scatter per mm", "absorption per mm", "origin", "what"), rows, numbers


def _supplies(found: Choices) -> Listing:
    rows = [
        (
            supply.code,
            f"{supply.fresh_v:g}",
            "" if supply.capacity_mah is None else f"{supply.capacity_mah:g}",
            f"{supply.continuous_max_ma:g}",
            f"{supply.pulse_max_ma:g}",
            supply.words,
        )
        for supply in found.supplies
    ]
    numbers = {"V", "mAh", "most mA", "pulse mA"}
    return ("name", "V", "mAh", "most mA", "pulse mA", "what"), rows, numbers


OTHER_ROWS: dict[ChoiceKind, Callable[[Choices], Listing]] = {
    "laminates": _laminates,
    "masks": _films,
    "inks": _films,
    "films": _films,
    "supplies": _supplies,
}


def _parts_folder(design: Path) -> Path:
    return (design if design.suffix != ".toml" else design.parent) / PARTS_FOLDER


def _write_new(folder: Path, *, name: str, made: Sequence[Part], comment: str, as_json: bool) -> None:
    """Write a file of parts that must not be there yet, and say so."""
    path = folder / name
    if path.exists():
        raise OutputError(f"{path}: is already there; move it away or choose another code")
    write_together(folder, contents={name: to_toml(made, comment=comment).encode("utf-8")})
    unverified = tuple(one.code for one in made if not one.mark_verified)
    if as_json:
        codes = tuple(one.code for one in made)
        typer.echo(to_json(WrittenResults(files=(str(path),), parts=codes, unverified=unverified)), nl=False)
        return
    typer.echo(f"{path}: {len(made)} part{'s' if len(made) > 1 else ''}")
    if unverified:
        names = f"{', '.join(unverified)}: designs may use {'it' if len(unverified) == 1 else 'them'}"
        build_console().print(text(f"Nothing stands behind the polarity mark of {names}, release is blocked."))


def _ask_all(*, as_json: bool) -> dict[str, Any]:
    """Ask every question that applies, each until its answer can be."""
    given: dict[str, Any] = {}
    for question in PART_QUESTIONS:
        given[question.key] = None
        while question.asked(given):
            shown = f" [{question.default}]" if question.default else ""
            words = typer.prompt(f"{question.words}{shown}", default="", show_default=False, err=as_json)
            try:
                given[question.key] = answer(question, words, given=given)
            except CatalogError as problem:
                print_problem(problem)
                continue
            break
    return given


@parts.command()
def new(design: Folder = Path(), *, as_json: AsJson = False) -> None:
    """Ask for what a data sheet holds and write parts/CODE.toml.

    An answer that cannot be is refused and asked again: a luminous area larger than its body, voltages out of order,
    one terminal as anode and cathode. A mark without evidence is allowed; it blocks release.
    """
    made = build_new_part(_ask_all(as_json=as_json))
    _write_new(
        _parts_folder(design),
        name=f"{made.code.replace('/', '-')}.toml",
        made=[made],
        comment=f"{made.code}, by paneglow parts new",
        as_json=as_json,
    )


@parts.command("import")
def import_table(
    table: Annotated[
        Path, typer.Argument(metavar="TABLE.csv", help="A row per order code; see paneglow parts export.")
    ],
    design: Folder = Path(),
    *,
    as_json: AsJson = False,
) -> None:
    """Read a CSV table of many parts and write parts/TABLE.toml.

    Columns are the fields of a part with dots, as export writes them; a column `like` starts a row from a known part.
    """
    folder = _parts_folder(design)
    made = read_parts_csv(table, known=_known(folder))
    _write_new(
        folder,
        name=f"{table.stem}.toml",
        made=made,
        comment=f"{len(made)} parts from {table.name}",
        as_json=as_json,
    )


@parts.command("export")
def export_table(
    design: Folder = Path(),
    *,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Write there instead of to the terminal.")
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Also the parts of the starting catalogue.")] = False,
    as_json: AsJson = False,
) -> None:
    """Write the parts of parts/*.toml as one CSV table.

    With --json, the table needs a file of its own: name it with --out.
    """
    if as_json and out is None:
        raise typer.BadParameter("--json needs --out FILE, where the table goes")
    start = read_catalog().parts
    own = [one for code, one in _known(_parts_folder(design)).items() if everything or start.get(code) != one]
    if not own:
        raise CatalogError(f"{_parts_folder(design)}: holds no part of your own; --all gives the starting catalogue")
    table = to_csv(own)
    if out is None:
        typer.echo(table, nl=False)
        return
    write_together(out.parent, contents={out.name: table.encode("utf-8")})
    if as_json:
        typer.echo(to_json(WrittenResults(files=(str(out),), parts=tuple(one.code for one in own))), nl=False)
    else:
        typer.echo(f"{out}: {len(own)} parts")


def _known(folder: Path) -> dict[str, Part]:
    return read_catalog(user_parts=folder if folder.is_dir() else None).parts
