"""Reading one Gerber file (RS-274X, X2, X3) into a drawing in mm; strict, because its answer is an area."""

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from paneglow.errors import GerberError
from paneglow.fab.aperture import macro_shape, standard_shape
from paneglow.fab.drawing import FlashMark, GerberDrawing, Mark, StrokeMark
from paneglow.fab.gerber_state import FLASH, Frame, GerberState, Journal
from paneglow.fab.gerber_text import MAX_TEXT_CHARS, GerberStatement, parse_decimal, shown, statements
from paneglow.fab.macro import parse_macro
from paneglow.fab.records import Point

MAX_EXTENT_MM = 1_500.0  # width and height of all a file draws; a production panel is 457 x 610 mm (common practice)
FIRST_APERTURE = 10  # format specification: numbers 0 to 9 are reserved
MAX_SCALE = 1_000.0  # of LS; keeps coordinates finite
MAX_REPEATS = 100_000  # copies of one step-repeat

_NUMBER = r"([+-]?\d{1,13})"
_OPERATION = re.compile(
    rf"(?:G0*([0123]))?(?:X{_NUMBER})?(?:Y{_NUMBER})?(?:I{_NUMBER})?(?:J{_NUMBER})?(?:D0*([123]))?", re.ASCII
)
_CODES = re.compile(r"([GMDNXYIJ])([+-]?\d{1,13})", re.ASCII)
_SELECTION = re.compile(r"D0*([1-9]\d{1,8})", re.ASCII)
_APERTURE = re.compile(r"ADD0*(\d{1,9})([^,\d][^,]*?)(?:,(.*))?", re.ASCII | re.DOTALL)
_BLOCK = re.compile(r"ABD0*([1-9]\d{1,8})", re.ASCII)
_AXES = re.compile(r"(?:A([+-]?[\d.]+))?(?:B([+-]?[\d.]+))?", re.ASCII)


def parse_gerber(text: str, *, path: Path | str) -> GerberDrawing:
    """Read the text of one Gerber file.

    Parameters
    ----------
    text : str
        The whole file.
    path : Path or str
        Where it came from, for messages only; nothing is opened.

    Returns
    -------
    GerberDrawing
        Everything in mm, step-repeat and blocks expanded. What was odd but lost nothing stands in its notes.

    Raises
    ------
    GerberError
        With path and line, for anything that cannot be drawn as its author meant it.

    References
    ----------
    *The Gerber Layer Format Specification*, revision 2021.02, with its deprecated commands.
    """
    if len(text) > MAX_TEXT_CHARS:
        raise GerberError(f"the file has {len(text)} characters; allowed are {MAX_TEXT_CHARS}", path=path)
    state = GerberState(journal=Journal(text=text))
    try:
        for statement in statements(text):
            state.journal.offset = statement.offset
            _read_statement(state, statement)
            if state.ended:
                break
        objects = state.finished_objects()
        _check_extent(objects)
    except GerberError as error:
        line = state.journal.line if error.line is None else error.line
        raise GerberError(error.args[0], path=path, line=line) from None
    return GerberDrawing(
        path=Path(path),
        attributes=dict(state.attributes.of_file),
        objects=tuple(objects),
        negative=state.negative,
        notes=tuple(state.journal.notes.values()),
    )


def _check_extent(objects: Iterable[Mark]) -> None:
    """Refuse drawings larger than any board; by the end points of segments, which is near enough for a limit."""
    points: list[Point] = []
    for mark in objects:
        if isinstance(mark, FlashMark):
            points.append(mark.at_mm)
        elif isinstance(mark, StrokeMark):
            points += [mark.segments[0].start_mm, *(segment.end_mm for segment in mark.segments)]
        else:
            points += [segment.end_mm for contour in mark.contours for segment in contour]
    for axis, name in enumerate(("wide", "high")):
        places = [point[axis] for point in points]
        extent = max(places, default=0.0) - min(places, default=0.0)
        if extent > MAX_EXTENT_MM:
            raise GerberError(
                f"the file draws something {extent:.0f} mm {name}; allowed are {MAX_EXTENT_MM:g} mm: "
                "check unit and format"
            )


def _read_statement(state: GerberState, statement: GerberStatement) -> None:
    kind, text, _ = statement
    if kind == "word":
        _read_word(state, text)
    elif kind == "extended":
        read = _EXTENDED.get(text[:2])
        if read is None:
            raise GerberError(
                f"extended command %{shown(text)}*% is not part of the format or no longer supported; allowed are "
                + ", ".join(sorted(_EXTENDED))
            )
        read(state, text)
    elif kind == "macro":
        macro = parse_macro(text)
        if macro.name in _STANDARD:
            state.journal.note(f"macro {macro.name} has the name of a standard aperture and takes its place")
        state.apertures.macros[macro.name] = macro
    elif (hidden := text.strip()).startswith("#@!"):  # an X2 attribute in a comment; other comments say nothing
        try:
            state.take_attribute(hidden.removeprefix("#@!"))
        except GerberError:
            state.journal.note(f"the attribute in comment {shown(hidden)!r} cannot be read; ignored")


def _read_word(state: GerberState, text: str) -> None:
    match = _OPERATION.fullmatch(text)
    if match is None:
        _read_codes(state, text)
        return
    interpolation, x, y, i, j, operation = match.groups()
    if interpolation is not None:
        _read_code(state, "G", number=int(interpolation))
    if text and match.end() > match.end(1):
        _operate(state, operation, x=x, y=y, i=i, j=j)


def _operate(
    state: GerberState, operation: str | None, *, x: str | None, y: str | None, i: str | None, j: str | None
) -> None:
    """Carry out an operation; without a D code the last one holds on."""
    number = state.operation if operation is None else int(operation)
    if number == 0:
        raise GerberError("coordinates without an operation; add D01, D02 or D03")
    if operation is None and number == FLASH:
        state.journal.note("coordinates without D03 repeat the flash before them")
    state.operate(number, end=state.point(x, y), i=i, j=j)


def _read_codes(state: GerberState, text: str) -> None:
    """Read a statement of several or rarer codes, such as G54D10 or G75X1Y1D01."""
    clean = "".join(text.split())
    selection = _SELECTION.fullmatch(clean)
    if selection:
        state.select(int(selection[1]))
        return
    found = _CODES.findall(clean)
    if "".join(letter + number for letter, number in found) != clean:
        raise GerberError(f"cannot read {shown(text)!r}; allowed are G, D, M codes and X, Y, I, J whole numbers")
    words: dict[str, str] = {}
    for letter, number in found:
        if letter in "GM":
            _read_code(state, letter, number=int(number))
        elif letter == "D" and int(number) >= FIRST_APERTURE:
            state.select(int(number))
        else:
            words[letter] = number
    words.pop("N", None)  # a line number, deprecated
    if words:
        operation = words.get("D")
        if operation is not None and int(operation) not in (1, 2, 3):
            raise GerberError(f"D{operation} is no operation; allowed are D01, D02, D03 and apertures from D10")
        x, y, i, j = (words.get(letter) for letter in "XYIJ")
        _operate(state, operation, x=x, y=y, i=i, j=j)


def _read_code(state: GerberState, letter: str, *, number: int) -> None:
    match letter, number:
        case "G", 0 | 1 | 2 | 3:
            state.interpolation = replace(state.interpolation, linear=number < 2, clockwise=number == 2)
        case "G", 36:
            state.start_region()
        case "G", 37:
            state.end_region()
        case "G", 70 | 71:
            state.format = state.format.with_unit("IN" if number == 70 else "MM")
        case "G", 74 | 75:
            state.interpolation = replace(state.interpolation, quadrant="single" if number == 74 else "multi")
        case "G", 90 | 91:
            state.format = replace(state.format, incremental=number == 91)
        case "M", 0 | 2:
            state.ended = True
        case ("G", 54 | 55) | ("M", 1):
            pass  # "an aperture follows", "a flash follows", "optional stop": deprecated, change nothing
        case _:
            raise GerberError(f"{letter}{number:02d} is not allowed here; export again in plain RS-274X or X2")


def _read_aperture(state: GerberState, text: str) -> None:
    match = _APERTURE.fullmatch(text)
    number = int(match[1]) if match else 0
    if match is None or number < FIRST_APERTURE:
        message = f"aperture definition %{shown(text)}*% has no number from D{FIRST_APERTURE} on"
        state.journal.note(message + "; ignored, as nothing can use it")
        state.apertures.unusable[number] = f"{message}, yet it is used; give it a free number"
        return
    template, numbers = match[2].strip(), match[3] or ""
    values = [parse_decimal(value) for value in numbers.upper().rstrip("X ").split("X")] if numbers.strip() else []
    macro = state.apertures.macros.get(template)
    if macro is not None:
        shape = macro_shape(macro, values=values, mm_per_unit=state.format.unit_mm, budget=state.budget)
    elif template in _STANDARD:
        shape = standard_shape(template, values=values, mm_per_unit=state.format.unit_mm)
    else:
        raise GerberError(f"aperture template {shown(template)!r} is unknown; add its %AM...% macro above")
    function = state.attributes.of_aperture.get("AperFunction", ())
    state.define(number, made=replace(shape, function=function) if function else shape)


def _read_block(state: GerberState, text: str) -> None:
    if text == "AB":
        state.end_block()
        return
    match = _BLOCK.fullmatch(text)
    if match is None:
        raise GerberError(f"cannot read aperture block %{shown(text)}*%; needed is for example %ABD12*%")
    state.open_frame(Frame(kind="block", aperture=int(match[1])))


def _read_step_repeat(state: GerberState, text: str) -> None:
    """End the step-repeat that is open; begin one whose copies go along y first, then along x."""
    values = {"X": "1", "Y": "1", "I": "0", "J": "0"}
    rest = text.removeprefix("SR").replace(" ", "")
    unit_mm = state.format.unit_mm if rest else 1.0
    while rest:
        axis, rest = rest[0], rest[1:]
        length = next((k for k, character in enumerate(rest) if character in "XYIJ"), len(rest))
        if axis not in values or length == 0:
            raise GerberError(f"cannot read step-repeat {text[:40]!r}; needed is for example %SRX3Y2I2.0J3.0*%")
        values[axis], rest = rest[:length], rest[length:]
    n_x, n_y, step_x, step_y = map(parse_decimal, values.values())
    if n_x != int(n_x) or n_y != int(n_y) or n_x < 1 or n_y < 1 or n_x * n_y > MAX_REPEATS:
        raise GerberError(
            f"step-repeat of {n_x:g} x {n_y:g}; allowed are whole numbers, 1 to {MAX_REPEATS} copies in all"
        )
    state.end_step_repeat()
    if n_x * n_y > 1:
        offsets = tuple(
            (column * step_x * unit_mm, row * step_y * unit_mm) for column in range(int(n_x)) for row in range(int(n_y))
        )
        state.open_frame(Frame(kind="step-repeat", offsets_mm=offsets))


def _read_placing(state: GerberState, text: str) -> None:
    """Read polarity (LP), mirroring (LM), rotation (LR) or scale (LS) of what follows."""
    command, value = text[:2], text[2:]
    if command == "LP":
        if value not in ("D", "C"):
            raise GerberError(f"polarity %{shown(text)}*% is unknown; allowed are %LPD*% and %LPC*%")
        placing = replace(state.placing, dark=value == "D")
    elif command == "LM":
        if value not in ("N", "X", "Y", "XY"):
            raise GerberError(f"mirroring %{shown(text)}*% is unknown; allowed are LMN, LMX, LMY and LMXY")
        placing = replace(state.placing, mirror=value)
    elif command == "LR":
        placing = replace(state.placing, rotation_deg=parse_decimal(value))
    else:
        scale = parse_decimal(value)
        if not 1 / MAX_SCALE <= scale <= MAX_SCALE:
            raise GerberError(f"scale {scale:g}; allowed are {1 / MAX_SCALE:g} to {MAX_SCALE:g}")
        placing = replace(state.placing, scale=scale)
    state.place_objects(placing)


def _read_image_polarity(state: GerberState, text: str) -> None:
    if text not in ("IPPOS", "IPNEG"):
        raise GerberError(f"image polarity %{shown(text)}*% is unknown; allowed are %IPPOS*% and %IPNEG*%")
    state.negative = text == "IPNEG"


def _axis_values(text: str) -> list[str | None]:
    match = _AXES.fullmatch(text[2:].replace(" ", ""))
    if match is None:
        raise GerberError(f"cannot read %{shown(text)}*%; needed is for example %{text[:2]}A0B0*%")
    return [match[1], match[2]]


def _read_image_offset(state: GerberState, text: str) -> None:
    across, up = (0.0 if value is None else parse_decimal(value) for value in _axis_values(text))
    unit_mm = state.format.unit_mm if across or up else 1.0
    state.image_offset_mm = (across * unit_mm, up * unit_mm)
    if across or up:
        state.journal.note("the deprecated %OF...*% moves the whole image; applied")


def _refuse_image_change(_state: GerberState, text: str) -> None:
    """Take deprecated changes of the whole image only with the values that change nothing."""
    command = text[:2]
    if command == "AS":
        changes = text != "ASAXBY"
    elif command == "IR":
        changes = parse_decimal(text[2:]) != 0
    else:
        neutral = 1.0 if command == "SF" else 0.0
        changes = any(value is not None and parse_decimal(value) != neutral for value in _axis_values(text))
    if changes:
        what = {"AS": "axis exchange ", "IR": "image rotation "}.get(command, "")
        raise GerberError(f"the deprecated {what}%{shown(text)}*% is not drawn; export again without it")


def _read_format(state: GerberState, text: str) -> None:
    state.format = state.format.with_statement(text)


def _read_unit(state: GerberState, text: str) -> None:
    state.format = state.format.with_unit(text.removeprefix("MO").strip())


def _ignore(_state: GerberState, _text: str) -> None:
    """Take image and layer names, deprecated comments."""


_STANDARD = frozenset("CROP")
_EXTENDED: dict[str, Callable[[GerberState, str], None]] = {
    "FS": _read_format,
    "MO": _read_unit,
    "AD": _read_aperture,
    "AB": _read_block,
    "SR": _read_step_repeat,
    **dict.fromkeys(("LP", "LM", "LR", "LS"), _read_placing),
    **dict.fromkeys(("TF", "TA", "TO", "TD"), GerberState.take_attribute),
    "IP": _read_image_polarity,
    "OF": _read_image_offset,
    **dict.fromkeys(("MI", "SF", "IR", "AS"), _refuse_image_change),
    **dict.fromkeys(("IN", "LN"), _ignore),
}
