"""The files of a report, all written whole or not at all."""

import os
import tempfile
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from paneglow.assembly import build_bench_drawings
from paneglow.board import Board
from paneglow.errors import OutputError
from paneglow.report.cost_section import build_cost_section
from paneglow.report.images import to_png
from paneglow.report.page_build import build_page
from paneglow.report.polarity_rows import build_polarity_rows
from paneglow.results import PAGE_FILE, PICTURES, RESULTS_FILE, CostResults, Evaluation, Results, build_results, to_json


def _read_template(name: str) -> str:
    return files("paneglow.report").joinpath("templates", name).read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    return Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)


def encode_pictures(evaluation: Evaluation) -> dict[str, bytes]:
    """Encode the four pictures as PNG, by name."""
    return {picture.name: to_png(getattr(evaluation.pictures, picture.name)) for picture in PICTURES}


def render_page(evaluation: Evaluation, *, results: Results, pictures: Mapping[str, bytes]) -> str:
    """Render the report as one self-contained HTML text, pictures embedded, no script and nothing loaded."""
    page = build_page(evaluation, results=results, pictures=pictures)
    template = _environment().from_string(_read_template("report.html.j2"))
    # The style sheet is ours and holds no user text, so it may go in unescaped
    sheets = ("report.css", "polarity.css", "cost.css")
    css = _environment().filters["safe"]("".join(_read_template(sheet) for sheet in sheets))
    polarity = render_polarity(evaluation.board, results=results)
    cost = "" if results.cost is None else render_cost(results.cost)
    return template.render(page=page, results=results, map=page.board_map, css=css, polarity=polarity, cost=cost)


def render_polarity(board: Board, *, results: Results) -> Markup:
    """Render the section about which way round LEDs are; user text in it is escaped, so it may go in as it is."""
    template = _environment().from_string(_read_template("polarity.html.j2"))
    drawings = build_bench_drawings(board, polarity=results.polarity)
    return Markup(template.render(rows=build_polarity_rows(results.polarity), drawings=drawings, results=results))


def render_cost(results: CostResults) -> Markup:
    """Render the section of the page about money; user text in it is escaped, so it may go into the page as it is."""
    template = _environment().from_string(_read_template("cost.html.j2"))
    return Markup(template.render(section=build_cost_section(results), results=results))


def _write_aside(folder: Path, content: bytes) -> Path:
    """Write bytes under a name of their own in the folder and return it; nothing stays where that fails."""
    handle, name = tempfile.mkstemp(prefix=".paneglow-", suffix=".part", dir=folder)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(name).chmod(0o644)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)


def write_whole(folder: Path, *, contents: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write several files so that none is ever seen half-written; other files of the folder stay as they are.

    Parameters
    ----------
    folder : Path
        Made where it is missing.
    contents : mapping of str to bytes
        File names and their content. All are written aside first and then put in place in this order.

    Returns
    -------
    tuple of Path
        The files, in order.

    Raises
    ------
    OutputError
        Where the folder cannot be made or written.
    """
    aside: dict[Path, Path] = {}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in contents.items():
            aside[folder / name] = _write_aside(folder, content)
        for path, waiting in aside.items():
            waiting.replace(path)
    except OSError as problem:
        reason = problem.strerror or "it cannot be written"
        raise OutputError(f"{folder}: {reason}; choose another folder with --out") from problem
    finally:
        for waiting in aside.values():
            waiting.unlink(missing_ok=True)
    return tuple(aside)


def write_report(evaluation: Evaluation, *, out: Path) -> Path:
    """Write report.html, results.json and the four pictures into a folder.

    Parameters
    ----------
    evaluation : Evaluation
        What the pipeline returned.
    out : Path
        Folder; made where it is missing. Only the report's own files in it are replaced.

    Returns
    -------
    Path
        The page.

    Raises
    ------
    OutputError
        Where the folder cannot be made or written.
    """
    results = build_results(evaluation)
    pictures = encode_pictures(evaluation)
    contents = {picture.file: pictures[picture.name] for picture in results.pictures}
    contents[RESULTS_FILE] = to_json(results).encode()
    # The page goes last: it stands for a finished report
    contents[PAGE_FILE] = render_page(evaluation, results=results, pictures=pictures).encode()
    return write_whole(out, contents=contents)[-1]
