"""`paneglow part`: records of parts, one exact order code each."""

from pathlib import Path
from typing import Annotated, Any

import typer

from paneglow.catalog import PART_QUESTIONS, Part, answer, build_new_part, read_catalog, read_parts_csv
from paneglow.catalog import to_parts_csv as to_csv
from paneglow.catalog import to_parts_toml as to_toml
from paneglow.cli.group import print_problem
from paneglow.errors import CatalogError, OutputError
from paneglow.writing import write_together

PARTS_FOLDER = "parts"

part = typer.Typer(
    name="part",
    help="Write down parts by exact order code: from a data sheet, from a table, into a table.",
    add_completion=False,
    rich_markup_mode=None,
    no_args_is_help=True,
)
Folder = Annotated[
    Path, typer.Argument(metavar="DESIGN", help="A design.toml, or the folder that holds it; parts/ lies beside it.")
]


def _parts_folder(design: Path) -> Path:
    return (design if design.suffix != ".toml" else design.parent) / PARTS_FOLDER


def _write_new(folder: Path, *, name: str, text: str) -> Path:
    """Write a file that must not be there yet."""
    if (folder / name).exists():
        raise OutputError(f"{folder / name}: is already there; move it away or choose another code")
    write_together(folder, contents={name: text.encode("utf-8")})
    return folder / name


def _ask_all() -> dict[str, Any]:
    """Ask every question that applies, each until its answer can be."""
    given: dict[str, Any] = {}
    for question in PART_QUESTIONS:
        given[question.key] = None
        while question.asked(given):
            shown = f" [{question.default}]" if question.default else ""
            words = typer.prompt(f"{question.words}{shown}", default="", show_default=False)
            try:
                given[question.key] = answer(question, words, given=given)
            except CatalogError as problem:
                print_problem(problem)
                continue
            break
    return given


@part.command()
def new(design: Folder = Path()) -> None:
    """Ask for what a data sheet holds and write parts/CODE.toml.

    An answer that cannot be is refused and asked again: a luminous area larger than its body, voltages out of order,
    one terminal as anode and cathode. A mark without evidence is allowed; it blocks release.
    """
    made = build_new_part(_ask_all())
    folder = _parts_folder(design)
    path = _write_new(
        folder,
        name=f"{made.code.replace('/', '-')}.toml",
        text=to_toml([made], comment=f"{made.code}, by paneglow part new"),
    )
    typer.echo(f"{path}")
    if not made.mark_verified:
        typer.echo("Its polarity mark is unverified: designs may use it, release is blocked.")


@part.command("import")
def import_table(
    table: Annotated[Path, typer.Argument(metavar="TABLE.csv", help="A row per order code; see paneglow part export.")],
    design: Folder = Path(),
) -> None:
    """Read a CSV table of many parts and write parts/TABLE.toml.

    Columns are the fields of a part with dots, as export writes them; a column `like` starts a row from a known part.
    """
    folder = _parts_folder(design)
    parts = read_parts_csv(table, known=_known(folder))
    path = _write_new(
        folder, name=f"{table.stem}.toml", text=to_toml(parts, comment=f"{len(parts)} parts from {table.name}")
    )
    typer.echo(f"{path}: {len(parts)} parts")


@part.command("export")
def export_table(
    design: Folder = Path(),
    *,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Write there instead of to the terminal.")
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Also the parts of the starting catalogue.")] = False,
) -> None:
    """Write the parts of parts/*.toml as one CSV table."""
    start = read_catalog().parts
    parts = [one for code, one in _known(_parts_folder(design)).items() if everything or start.get(code) != one]
    if not parts:
        raise CatalogError(f"{_parts_folder(design)}: holds no part of your own; --all gives the starting catalogue")
    text = to_csv(parts)
    if out is None:
        typer.echo(text, nl=False)
    else:
        write_together(out.parent, contents={out.name: text.encode("utf-8")})
        typer.echo(f"{out}: {len(parts)} parts")


def _known(folder: Path) -> dict[str, Part]:
    return read_catalog(user_parts=folder if folder.is_dir() else None).parts
