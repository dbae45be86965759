"""What single fields cannot tell: names used twice, an LED placed in two ways or in none."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from paneglow.design.toml import place_text


def consistency_problems(data: Mapping[str, Any]) -> list[str]:
    """Contradictions between the fields of one design, one line each.

    Parameters
    ----------
    data : mapping
        Plain data of a design file. It may hold wrong types: those are told elsewhere and skipped here, so that one
        reading reports every problem.
    """
    leds, windows = _tables(data, "led"), _tables(data, "window")
    return [*_placing_problems(leds), *_twice(_refs(leds), "ref"), *_twice(_names(windows), "window name")]


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
        if not by_ref and not by_point:
            yield f"{place}: has neither refs nor at_mm; give refs of the placement file or at_mm = [x, y]"


def _refs(leds: Iterable[tuple[str, Mapping[str, Any]]]) -> Iterator[tuple[str, str]]:
    for place, led in leds:
        refs = led.get("refs", ())
        yield from ((place, ref) for ref in refs if isinstance(ref, str)) if isinstance(refs, list | tuple) else ()


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
