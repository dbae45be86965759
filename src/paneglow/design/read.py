"""design.toml to a Design, and what single fields cannot say: names used twice, an LED placed twice or nowhere."""

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from paneglow.design.records import Design
from paneglow.design.toml import parse_record, parse_toml, place_text
from paneglow.errors import DesignError

DESIGN_FILE = "design.toml"
GAP_ON_BOARD_MOST_MM = 10.0  # chosen: legs and lenses are shorter than this
GAP_MOST_MM = {"carrier": 50.0, "top_view": 50.0}  # chosen: a second board or a cover stands behind


def read_design(path: Path | str) -> Design:
    """Read one design.

    Parameters
    ----------
    path : Path or str
        A design.toml (any name) or the folder that holds it.

    Returns
    -------
    Design
        File names inside it stay relative to the folder of the design.

    Raises
    ------
    DesignError
        If the file is missing or not TOML, or anything in it cannot be; all problems are reported, one line each.
    """
    file = design_file(path)
    data = parse_toml(file, error=DesignError)
    design, problems = parse_record(Design, data)
    problems += consistency_problems(data)
    if problems or design is None:
        raise DesignError("\n".join(f"{file}: {problem}" for problem in problems))
    return design


def design_file(path: Path | str) -> Path:
    """The design file itself, where a folder may have been named instead."""
    given = Path(path)
    return given / DESIGN_FILE if given.is_dir() else given


def consistency_problems(data: Mapping[str, Any]) -> list[str]:
    """Contradictions between the fields of one design, one line each.

    Parameters
    ----------
    data : mapping
        Plain data of a design file. It may hold wrong types: those are reported elsewhere and skipped here, so that one
        reading reports every problem.
    """
    leds, windows = _tables(data, "led"), _tables(data, "window")
    return [
        *_placing_problems(leds),
        *_twice(_refs(leds), "ref"),
        *_twice(_names(windows), "window name"),
        *_wiring_problems(data, leds=leds),
    ]


def _tables(data: Mapping[str, Any], key: str) -> list[tuple[str, Mapping[str, Any]]]:
    """The tables of an array with their places in words; what is no table is left out."""
    array = data.get(key)
    if not isinstance(array, list | tuple):
        return []
    return [(place_text((key, index)), table) for index, table in enumerate(array) if isinstance(table, Mapping)]


def _placing_problems(leds: Iterable[tuple[str, Mapping[str, Any]]]) -> Iterator[str]:
    for place, led in leds:
        by_ref, by_point = bool(led.get("refs")), led.get("at_mm") is not None
        if by_ref and by_point:
            yield f"{place}: has both refs and at_mm; keep refs (from the placement file) or at_mm, not both"
        gap, style = led.get("gap_mm"), led.get("mounting")
        most = GAP_MOST_MM.get(str(style), GAP_ON_BOARD_MOST_MM)
        if isinstance(gap, int | float) and gap > most:
            yield (
                f"{place}, gap_mm: is {gap:g} mm; a {str(style).replace('_', ' ')} LED stands at most {most:g} mm off"
                " the board, so is a point missing? A distance behind the board is mounting carrier"
            )
        if not by_ref and not by_point:
            yield f"{place}: has neither refs nor at_mm; give refs of the placement file or at_mm = [x, y]"


def _refs(leds: Iterable[tuple[str, Mapping[str, Any]]]) -> Iterator[tuple[str, str]]:
    for place, led in leds:
        refs = led.get("refs", ())
        yield from ((place, ref) for ref in refs if isinstance(ref, str)) if isinstance(refs, list | tuple) else ()


def _wiring_problems(data: Mapping[str, Any], *, leds: list[tuple[str, Mapping[str, Any]]]) -> Iterator[str]:
    """LEDs that circuits name and the design has not, that stand in two circuits, or that get no current at all."""
    wired = [(place, ref) for place, group in _tables(data, "circuit") for ref in _wired(group)]
    placed = {ref for number, (_, led) in enumerate(leds, start=1) for ref in _led_names(led, number=number)}
    yield from (
        f"{place}: there is no led {ref!r}; name refs of [[led]], a die of several as D1.red"
        for place, ref in wired
        if not {ref, ref.rpartition(".")[0]} & placed
    )
    yield from _twice(wired, "led")
    drive = data.get("drive")
    by_design = isinstance(drive, Mapping) and drive.get("currents") == "design"
    driven = set() if by_design else {word for _, ref in wired for word in (ref, ref.rpartition(".")[0])}
    for number, (place, led) in enumerate(leds, start=1):
        names = _led_names(led, number=number)
        stated = any(led.get(key) is not None for key in ("current_ma", "die_current_ma", "die_duty_frac"))
        if not stated and not set(names) <= driven:
            left = next(name for name in names if name not in driven)
            yield (
                f"{place}: current_ma is missing; give it, or wire {left} in a [[circuit]]; of a part with logic inside"
                " give die_duty_frac"
            )
    if wired and not isinstance(data.get("supply"), Mapping):
        yield '[supply] is missing; a [[circuit]] needs to know what it runs from, such as kind = "coin-cell"'


def _wired(group: Mapping[str, Any]) -> Iterator[str]:
    lists = [group.get("refs"), *_lists(group.get("strings")), *_lists(group.get("grid"))]
    for refs in lists:
        yield from (ref for ref in _lists(refs) if isinstance(ref, str) and ref)


def _lists(value: Any) -> list[Any]:
    return list(value) if isinstance(value, list | tuple) else []


def _led_names(led: Mapping[str, Any], *, number: int) -> list[str]:
    """Designators of one table of LEDs; one that is placed by the design is called by the number of its table."""
    refs = [ref for ref in _lists(led.get("refs")) if isinstance(ref, str)]
    return refs if refs or led.get("at_mm") is None else [f"led-{number}"]


def _names(windows: Iterable[tuple[str, Mapping[str, Any]]]) -> Iterator[tuple[str, str]]:
    for place, window in windows:
        if isinstance(window.get("name"), str):
            yield place, window["name"]


def _twice(named: Iterable[tuple[str, str]], what: str) -> Iterator[str]:
    first: dict[str, str] = {}
    for place, name in named:
        if name in first:
            yield f"{place}: {what} {name!r} is already used in {first[name]}; each may stand once"
        first.setdefault(name, place)
