"""The files of a report."""

from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from paneglow.assembly import Building, Polarity, build_bench_drawings
from paneglow.board import Board
from paneglow.errors import to_plain_text
from paneglow.report.bench_sheet import build_bench_sheet
from paneglow.report.building_rows import build_building_rows, to_minutes_text
from paneglow.report.cost_section import build_cost_section
from paneglow.report.images import to_png, with_mark
from paneglow.report.numbers import with_signs
from paneglow.report.page_build import build_page
from paneglow.report.polarity_rows import build_polarity_rows
from paneglow.report.selection import CHANGES_SHOWN, SHORT_WINDOWS
from paneglow.results import (
    BENCH_FILE,
    OTHER_PICTURE,
    PAGE_FILE,
    PICTURES,
    RESULTS_FILE,
    SHORT_PAGE_FILE,
    CostResults,
    Evaluation,
    Results,
    to_json,
)
from paneglow.writing import write_together


def _read_template(name: str) -> str:
    return files("paneglow.report").joinpath("templates", name).read_text(encoding="utf-8")


def _typeset(value: Any) -> Any:
    """What a page prints: units and signs as in the rest of the page, and nothing that does not show."""
    if isinstance(value, Markup):
        return Markup(to_plain_text(value, keep="\n\t"))
    if not isinstance(value, str):
        return value
    return with_signs(to_plain_text(value))


@cache
def _environment() -> Environment:
    return Environment(
        loader=FunctionLoader(_read_template),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_typeset,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def encode_pictures(evaluation: Evaluation) -> dict[str, bytes]:
    """Encode the four pictures as PNG, by name; those of a drafted design are marked across the lower edge."""
    mark = "PROVISIONAL" if evaluation.provisional else None
    return {
        picture.name: to_png(with_mark(getattr(evaluation.pictures, picture.name), words=mark)) for picture in PICTURES
    }


def render_pages(evaluation: Evaluation, *, results: Results, pictures: Mapping[str, bytes]) -> tuple[str, str]:
    """Render the report and its short version, each one self-contained HTML text: no script and nothing loaded."""
    page = build_page(evaluation, results=results, pictures=pictures)
    # The style sheet is ours and holds no user text, so it may go in unescaped
    css = Markup("".join(_read_template(sheet) for sheet in ("report.css", "polarity.css", "cost.css")))
    polarity = render_polarity(evaluation.board, results=results)
    building = render_building(results)
    cost = "" if results.cost is None else render_cost(results.cost)
    given = {
        "page": page,
        "results": results,
        "map": page.board_map,
        "css": css,
        "shown": CHANGES_SHOWN,
        "short_windows": SHORT_WINDOWS,
    }
    long = _environment().get_template("report.html.j2")
    short = _environment().get_template("short.html.j2")
    return long.render(given, polarity=polarity, building=building, cost=cost), short.render(given)


def render_building(results: Results) -> Markup:
    """Render the section about how the board is built; user text in it is escaped, so it may go in as it is."""
    building = results.building
    minutes = "" if building.minutes_by_hand is None else to_minutes_text(building.minutes_by_hand)
    template = _environment().from_string(_read_template("building.html.j2"))
    return Markup(template.render(rows=build_building_rows(building), minutes=minutes))


def render_polarity(board: Board, *, results: Results) -> Markup:
    """Render the section about which way round LEDs are; user text in it is escaped, so it may go in as it is."""
    template = _environment().from_string(_read_template("polarity.html.j2"))
    drawings = build_bench_drawings(board, polarity=results.polarity)
    return Markup(template.render(rows=build_polarity_rows(results.polarity), drawings=drawings, results=results))


def render_cost(results: CostResults) -> Markup:
    """Render the section of the page about money; user text in it is escaped, so it may go into the page as it is."""
    template = _environment().from_string(_read_template("cost.html.j2"))
    return Markup(template.render(section=build_cost_section(results), results=results))


def render_bench_sheet(board: Board, *, polarity: Polarity, building: Building) -> str:
    """Render the sheet to solder from as one self-contained HTML text that prints on A4 and letter paper."""
    sheet = build_bench_sheet(board, polarity=polarity, building=building)
    return _environment().get_template("bench.html.j2").render(sheet=sheet)


def write_report(evaluation: Evaluation, *, results: Results, out: Path) -> Path:
    """Write report.html, report-short.html, bench.html, results.json and the four pictures into a folder.

    Parameters
    ----------
    evaluation : Evaluation
        What the pipeline returned.
    results : Results
        What it amounts to.
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
    pictures = encode_pictures(evaluation)
    contents = {picture.file: pictures[picture.name] for picture in results.pictures}
    if evaluation.other_picture is not None:
        contents[OTHER_PICTURE] = to_png(evaluation.other_picture)
    bench = render_bench_sheet(evaluation.board, polarity=results.polarity, building=results.building)
    contents[BENCH_FILE] = bench.encode()
    contents[RESULTS_FILE] = to_json(results).encode()
    # The page goes last: it stands for a finished report
    page, short_page = render_pages(evaluation, results=results, pictures=pictures)
    contents[SHORT_PAGE_FILE] = short_page.encode()
    contents[PAGE_FILE] = page.encode()
    return write_together(out, contents=contents)[-1]
