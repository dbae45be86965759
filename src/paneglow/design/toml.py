"""TOML text to plain data and to records, every problem as one line with its place in the file."""

import difflib
import math
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any, TypeVar, get_args, get_origin

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from paneglow.errors import PaneglowError, is_hidden
from paneglow.units import Record

FILE_SIZE_MOST_BYTES = 4_000_000  # a design or parts file is a few kB; beyond this it is the wrong file
_DECIMAL_COMMA = re.compile(r"=\s*(\d+,\d+)\s*(?:#.*)?$")
_BACKSLASH = re.compile(r'"[^"]*\\[^"]*"')
BACKSLASH_ADVICE = (
    "a backslash in \"double quotes\" does not stand for itself; write paths with / or in 'single quotes'"
)
FREE_TEXTS = ("note", "source", "document", "below_cost_reason")
MEANT = {
    "mask": ("colour", "color", "soldermask", "solder_mask", "paint"),
    "legend": ("silkscreen", "silk", "ink"),
    "fabrication": ("gerber", "gerbers", "files", "folder", "fab"),
    "placement": ("centroid", "pick_and_place", "pnp", "pos", "position_file", "cpl"),
    "laminate": ("material", "substrate", "fr4"),
    "thickness_mm": ("thick", "board_thickness", "height"),
    "refs": ("ref", "reference", "references", "designator", "designators", "name"),
    "part": ("code", "order_code", "package", "type", "led"),
    "mounting": ("style", "mount", "orientation"),
    "at_mm": ("x", "y", "xy", "position", "pos", "place"),
    "rotation_deg": ("angle", "rot", "rotation"),
    "current_ma": ("current", "ma", "amps", "i"),
    "gap_mm": ("distance", "height", "standoff"),
    "resistor_ohm": ("resistor", "resistors", "r", "ohms"),
    "cell": ("battery", "type"),
    "luminance_min_cd_m2": ("brightness", "brightness_min", "nits"),
    "evenness_min": ("uniformity", "homogeneity"),
    "bleed_max": ("crosstalk", "leak"),
    "quantity": ("qty", "count", "pieces", "number"),
    "price_breaks": ("ladder", "prices", "steps", "breaks"),
    "process_yield": ("quality", "yield", "yields"),
    "vat_percent": ("vat", "tax", "tax_percent"),
    "postage": ("shipping", "freight", "delivery"),
    "rate_per_hour": ("wage", "salary", "hourly"),
    "lens_down": ("upside_down", "face_down", "flipped", "inverted", "bottom"),
    "reverse": ("reverse_mount", "rear_mount"),
    "through_hole": ("tht", "pth", "leaded"),
    "side_view": ("side", "edge", "right_angle", "side_emitting"),
    "cutout": ("slot", "hole", "mid_mount", "sunk"),
    "top_view": ("top", "normal", "ordinary"),
}
_LINE_IN_MESSAGE = re.compile(r"\s*\(at line (\d+), column (\d+)\)|\s*\(at end of document\)")

AnyRecord = TypeVar("AnyRecord", bound=Record)
Place = tuple[str | int, ...]


def parse_toml(path: Path, *, error: type[PaneglowError], parse_float: Callable[[str], Any] = float) -> dict[str, Any]:
    """Read one TOML file as plain data.

    Parameters
    ----------
    path : Path
        The file.
    error : type
        Raised, with the path in its message, where the file is missing, too large, not UTF-8 or not TOML.
    parse_float : callable
        Makes a number of the text of one with a decimal point; Decimal keeps it exact.
    """
    return parse_toml_text(read_text(path, error=error), path=path, error=error, parse_float=parse_float)


def read_text(path: Path, *, error: type[PaneglowError]) -> str:
    """Text of a small UTF-8 file; raises `error` where there is none."""
    try:
        size = path.stat().st_size
        if size > FILE_SIZE_MOST_BYTES:
            raise error(f"{path}: is {size} bytes; allowed are {FILE_SIZE_MOST_BYTES}")
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise error(f"{path}: there is no such file") from None
    except IsADirectoryError:
        raise error(f"{path}: is a folder; a TOML file is needed") from None
    except UnicodeDecodeError as reason:
        raise error(f"{path}: is not UTF-8 text (byte {reason.start}); save it as UTF-8") from None
    except OSError as reason:
        raise error(f"{path}: cannot be read: {reason.strerror}") from None


def parse_toml_text(
    text: str, *, path: Path, error: type[PaneglowError], parse_float: Callable[[str], Any] = float
) -> dict[str, Any]:
    """Plain data of TOML text.

    Parameters
    ----------
    text : str
        The file's content.
    path : Path
        Named in the message.
    error : type
        Raised with the line number where it is not TOML.
    parse_float : callable
        As for `parse_toml`.
    """
    try:
        return tomllib.loads(text, parse_float=parse_float)
    except tomllib.TOMLDecodeError as reason:
        match = _LINE_IN_MESSAGE.search(str(reason))
        line = int(match.group(1)) if match and match.group(1) else text.count("\n") + 1
        message = _LINE_IN_MESSAGE.sub("", str(reason))
        words = _usual_slip(text.splitlines()[line - 1 : line]) or f"is not TOML: {message[:1].lower()}{message[1:]}"
        raise error(f"{path}, line {line}: {words}") from None
    except RecursionError:
        raise error(f"{path}: is nested too deeply to be a file of this kind") from None


def _usual_slip(lines: Sequence[str]) -> str:
    """What people mostly did where a line is not TOML, in their own words; empty where it is something else."""
    for line in lines:
        comma = _DECIMAL_COMMA.search(line)
        if comma:
            return f"{comma.group(1)} has a decimal comma; write it with a point: {comma.group(1).replace(',', '.')}"
        if _BACKSLASH.search(line):
            return BACKSLASH_ADVICE
    return ""


def parse_record(model: type[AnyRecord], data: Mapping[str, Any]) -> tuple[AnyRecord | None, list[str]]:
    """Validate plain data strictly (text is no number, true is no number).

    Returns
    -------
    record : Record or None
        None where there are problems.
    problems : list of str
        One line each, with the place in TOML words.
    """
    unreadable = list(_unreadable_texts(data))
    if unreadable:
        return None, unreadable
    try:
        return model.model_validate(_with_tuples(data), strict=True), []
    except ValidationError as reason:
        return None, [_problem_line(model, details) for details in _first_causes(reason.errors(include_url=False))]


def _unreadable_texts(value: Any, place: Place = ()) -> Iterator[str]:
    """Texts with signs that no one sees or that turn a line round, one line each; free texts may have several lines."""
    if isinstance(value, Mapping):
        for key, inner in value.items():
            yield from _unreadable_texts(inner, (*place, str(key)))
    elif isinstance(value, list | tuple):
        for number, inner in enumerate(value):
            yield from _unreadable_texts(inner, (*place, number))
    elif isinstance(value, str) and not value.isprintable():
        allowed = "\n\t" if place and place[-1] in FREE_TEXTS else ""
        bad = next((sign for sign in value if is_hidden(sign) and sign not in allowed), None)
        if bad is not None:
            remedy = f"; {BACKSLASH_ADVICE}" if bad in "\a\b\t\n\f\r" else ""
            yield f"{place_text(place)}: holds the unseen sign U+{ord(bad):04X}; take it out{remedy}"


def place_text(place: Place) -> str:
    """A place in TOML words: ("led", 1, "current_ma") is "[[led]] 2, current_ma".

    Examples
    --------
    >>> place_text(("board", "back_cover", "reflectance"))
    '[board.back_cover] reflectance'
    """
    tables = [step for step in place if step != "[key]"]
    if len(tables) >= 2 and isinstance(tables[1], int):
        rest = _inner_text(tables[2:])
        return f"[[{tables[0]}]] {tables[1] + 1}" + (f", {rest}" if rest else "")
    names = [str(step) for step in tables if isinstance(step, str)]
    trail = "".join(f" item {step + 1}" for step in tables if isinstance(step, int))
    if len(names) < 2:
        return "".join(names) + trail
    return f"[{'.'.join(names[:-1])}] {names[-1]}{trail}"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that is meant by another one, None where nobody can say.

    First by meaning (the same letters, an everyday word, the name without its unit), then by spelling.
    """
    plain = {_plain(each): each for each in reversed(list(known))}
    asked = _plain(word)
    if asked in plain:
        return plain[asked]
    meant = next((key for key, words in MEANT.items() if asked in words and key in plain), None)
    if meant is not None:
        return plain[meant]
    whole = [each for each in plain if asked and each.startswith(f"{asked}_")]
    found = whole or difflib.get_close_matches(asked, list(plain), n=1, cutoff=0.5)
    return plain[found[0]] if found else None


def _plain(word: str) -> str:
    return word.casefold().replace("-", "_").replace(" ", "_")


def _inner_text(steps: Sequence[str | int]) -> str:
    text = ""
    for step in steps:
        text += f" item {step + 1}" if isinstance(step, int) else f"{'.' if text else ''}{step}"
    return text


def _with_tuples(value: Any) -> Any:
    """TOML arrays as tuples, which strict records ask for."""
    if isinstance(value, Mapping):
        return {key: _with_tuples(inner) for key, inner in value.items()}
    return tuple(_with_tuples(inner) for inner in value) if isinstance(value, list) else value


def _first_causes(errors: Sequence[ErrorDetails]) -> list[ErrorDetails]:
    """Errors without the "too short" of a list that only follows from a bad item in it."""
    places = [details["loc"] for details in errors]
    return [
        details
        for details, place in zip(errors, places, strict=True)
        if details["type"] != "too_short" or not any(other[: len(place)] == place != other for other in places)
    ]


def _problem_line(model: type[Record], details: ErrorDetails) -> str:
    place: Place = tuple(details["loc"])
    if details["type"] == "extra_forbidden":
        return _unknown_key_line(place, known=_keys_at(model, place[:-1]))
    if place[-1:] == ("[key]",) and details["type"] == "literal_error":
        return _unknown_key_line(place[:-1], known=_choices(details))
    say = _MESSAGES.get(details["type"], _any_message)
    subject = place_text(place)
    return f"{subject}: {say(details)}" if subject else say(details)


def _unknown_key_line(place: Place, *, known: Sequence[str]) -> str:
    key, table = str(place[-1]), place[:-1]
    close = nearest(key, known)
    remedy = f"the nearest known one is {close}" if close else f"known are {', '.join(known)}"
    where = place_text(table) if table and isinstance(table[-1], int) else _table_text(table)
    return f"{where + ': ' if where else ''}unknown key {key!r}; {remedy}"


def _table_text(place: Place) -> str:
    return f"[{'.'.join(str(step) for step in place)}]" if place else ""


def _keys_at(model: type[Record], place: Place) -> list[str]:
    """Names of the fields of the record that stands at a place inside a model."""
    here: type[Record] | None = model
    for step in place:
        if isinstance(step, str) and here is not None:
            here = _record_in(here.model_fields[step].annotation) if step in here.model_fields else None
    return list(here.model_fields) if here is not None else []


def _record_in(annotation: Any) -> type[Record] | None:
    """The record class inside an annotation such as `tuple[LedGroup, ...]` or `BackCover | None`."""
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return annotation
    inner = get_args(annotation)[:1] if get_origin(annotation) is Annotated else get_args(annotation)
    found = (_record_in(part) for part in inner)
    return next((record for record in found if record is not None), None)


def _shown(value: Any) -> str:
    text = _SHOWN.get(type(value), repr)(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _bound(word: str, key: str) -> Callable[[ErrorDetails], str]:
    def say(details: ErrorDetails) -> str:
        value = details["input"]
        if isinstance(value, float) and not math.isfinite(value):
            return _not_finite(details)
        return f"is {_shown(value)}; allowed is {word} {details['ctx'][key]:g}"

    return say


def _not_finite(details: ErrorDetails) -> str:
    return f"is {_shown(details['input'])}; a finite number is needed"


def _kind(word: str) -> Callable[[ErrorDetails], str]:
    return lambda details: f"is {_shown(details['input'])}; {word} is needed"


def _choices(details: ErrorDetails) -> list[str]:
    return re.findall(r"'([^']*)'", details["ctx"]["expected"])


def _choice(details: ErrorDetails) -> str:
    choices = _choices(details)
    close = nearest(str(details["input"]), choices)
    hint = f" (did you mean {close}?)" if close else ""
    return f"is {_shown(details['input'])}; allowed are {', '.join(choices)}{hint}"


def _missing(details: ErrorDetails) -> str:
    last = details["loc"][-1]
    return "is missing; one more number is needed" if isinstance(last, int) else "is missing; it must be given"


def _too_many(details: ErrorDetails) -> str:
    context = details["ctx"]
    return f"has {context['actual_length']} items; allowed are {context['max_length']}"


def _text_length(details: ErrorDetails) -> str:
    context = details["ctx"]
    limit = f"at least {context['min_length']}" if "min_length" in context else f"at most {context['max_length']}"
    return f"is {_shown(details['input'])}; allowed is text of {limit} characters"


def _any_message(details: ErrorDetails) -> str:
    message = details["msg"].removeprefix("Value error, ")
    return f"{message[:1].lower()}{message[1:]}"


_SHOWN: dict[type, Callable[[Any], str]] = {bool: lambda value: str(value).lower(), Decimal: str}
_MESSAGES: dict[str, Callable[[ErrorDetails], str]] = {
    "missing": _missing,
    "greater_than": _bound("above", "gt"),
    "greater_than_equal": _bound("at least", "ge"),
    "less_than": _bound("below", "lt"),
    "less_than_equal": _bound("at most", "le"),
    "finite_number": _not_finite,
    "float_type": _kind("a number"),
    "int_type": _kind("a whole number"),
    "bool_type": _kind("true or false"),
    "string_type": _kind("text in quotes"),
    "tuple_type": _kind("a list in square brackets"),
    "model_type": _kind("a table"),
    "model_attributes_type": _kind("a table"),
    "dict_type": _kind("a table"),
    "is_instance_of": _kind("a number"),
    "date_type": _kind("a date such as 2026-11-25, without quotes,"),
    "literal_error": _choice,
    "too_long": _too_many,
    "string_too_short": _text_length,
    "string_too_long": _text_length,
}
