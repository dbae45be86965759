"""`paneglow demo`: a design to start from."""

from collections.abc import Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Annotated

import typer

from paneglow.errors import OutputError, PaneglowError
from paneglow.writing import write_together

EXAMPLE = "harbour-keepsake"
DESIGN_ENTRIES = frozenset(
    ("design.toml", "second-wave.toml", "cost.toml", "placement.csv", "fab", "parts")
)  # the scripts that drew it stay behind


def _find_example() -> Traversable:
    """Return the folder of the example: inside the installed package, or in the checkout this runs from."""
    packed = files("paneglow").joinpath("demo")
    checkout = Path(__file__).resolve().parents[3] / "examples" / EXAMPLE
    for folder in (packed, checkout):
        if folder.joinpath("design.toml").is_file():
            return folder
    raise PaneglowError(f"the example {EXAMPLE} is missing from this installation; install paneglow again")


def _list_files(folder: Traversable, prefix: str = "") -> Iterator[tuple[str, bytes]]:
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if not prefix and entry.name not in DESIGN_ENTRIES:
            continue
        if entry.is_dir():
            yield from _list_files(entry, f"{prefix}{entry.name}/")
        else:
            yield prefix + entry.name, entry.read_bytes()


def demo(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder for the design; made where it is missing.")],
    *,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of the text.")] = False,
) -> None:
    """Write the demonstration design, a harbour at dusk, into a folder.

    Nothing that is already there is overwritten.
    """
    contents = dict(_list_files(_find_example()))
    taken = [name for name in contents if (folder / name).exists()]
    if taken:
        raise OutputError(f"{folder / taken[0]}: is already there; name a new or empty folder")
    for parent in sorted({(folder / name).parent for name in contents}):
        inside = {Path(name).name: data for name, data in contents.items() if (folder / name).parent == parent}
        write_together(parent, contents=inside)
    if as_json:
        from paneglow.results import WrittenResults, to_json  # noqa: PLC0415  takes longer to import than all of this

        typer.echo(to_json(WrittenResults(files=tuple(str(folder / name) for name in contents))), nl=False)
        return
    typer.echo(f"{folder / 'design.toml'}")
    typer.echo(f"Now run: paneglow light {folder}")
