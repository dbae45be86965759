"""What each statement of a Gerber file does to the graphics state."""

import re
from collections.abc import Callable
from dataclasses import replace

from paneglow.errors import GerberError
from paneglow.fab.aperture import macro_shape, standard_shape
from paneglow.fab.drawing import Shape
from paneglow.fab.gerber_blocks import Frame, parse_step_repeat
from paneglow.fab.gerber_numbers import parse_decimal
from paneglow.fab.gerber_state import FLASH, GerberState
from paneglow.fab.gerber_text import Statement, shown
from paneglow.fab.macro import parse_macro

FIRST_APERTURE = 10  # format specification: numbers 0 to 9 are reserved
MAX_SCALE = 1_000.0  # of LS; keeps coordinates finite

_NUMBER = r"([+-]?\d{1,13})"
_OPERATION = re.compile(
    rf"(?:G0*([0123]))?(?:X{_NUMBER})?(?:Y{_NUMBER})?(?:I{_NUMBER})?(?:J{_NUMBER})?(?:D0*([123]))?", re.ASCII
)
_CODES = re.compile(r"([GMDNXYIJ])([+-]?\d{1,13})", re.ASCII)
_SELECTION = re.compile(r"D0*([1-9]\d{1,8})", re.ASCII)
_APERTURE = re.compile(r"ADD0*(\d{1,9})([^,\d][^,]*?)(?:,(.*))?", re.ASCII | re.DOTALL)
_BLOCK = re.compile(r"ABD0*([1-9]\d{1,8})", re.ASCII)
_AXES = re.compile(r"(?:A([+-]?[\d.]+))?(?:B([+-]?[\d.]+))?", re.ASCII)


def read_statement(statement: Statement, *, state: GerberState) -> None:
    """Apply one statement.

    Raises
    ------
    GerberError
        Where it cannot be read or drawn; without file and line.
    """
    _READERS[statement.kind](state, statement.text)


def _read_word(state: GerberState, text: str) -> None:
    match = _OPERATION.fullmatch(text)
    if match is None:
        _read_codes(state, text)
        return
    interpolation, x, y, i, j, operation = match.groups()
    if interpolation is not None:
        _set_interpolation(state, int(interpolation))
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
        state.note("coordinates without D03 repeat the flash before them")
    state.operate(number, end=state.point(x, y), offset=state.centre_offset(i, j))


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
    action = _CODE_ACTIONS.get((letter, number))
    if action is None:
        raise GerberError(f"{letter}{number:02d} is not allowed here; export again in plain RS-274X or X2")
    action(state)


def _set_interpolation(state: GerberState, number: int) -> None:
    state.linear, state.clockwise = number < 2, number == 2


def _set_quadrant_single(state: GerberState) -> None:
    state.quadrant = "single"


def _set_quadrant_multi(state: GerberState) -> None:
    state.quadrant = "multi"


def _set_unit(state: GerberState, *, unit: str) -> None:
    state.format = state.format.with_unit(unit)


def _set_incremental(state: GerberState, *, incremental: bool) -> None:
    state.format = replace(state.format, incremental=incremental)


def _end(state: GerberState) -> None:
    state.ended = True


def _ignore(state: GerberState, text: str = "") -> None:
    """Take a statement that changes nothing drawn."""


_CODE_ACTIONS: dict[tuple[str, int], Callable[[GerberState], None]] = {
    ("G", 0): lambda state: _set_interpolation(state, 1),
    ("G", 1): lambda state: _set_interpolation(state, 1),
    ("G", 2): lambda state: _set_interpolation(state, 2),
    ("G", 3): lambda state: _set_interpolation(state, 3),
    ("G", 36): GerberState.start_region,
    ("G", 37): GerberState.end_region,
    ("G", 54): _ignore,  # "an aperture follows", deprecated
    ("G", 55): _ignore,  # "a flash follows", deprecated
    ("G", 70): lambda state: _set_unit(state, unit="IN"),
    ("G", 71): lambda state: _set_unit(state, unit="MM"),
    ("G", 74): _set_quadrant_single,
    ("G", 75): _set_quadrant_multi,
    ("G", 90): lambda state: _set_incremental(state, incremental=False),
    ("G", 91): lambda state: _set_incremental(state, incremental=True),
    ("M", 0): _end,
    ("M", 1): _ignore,  # "optional stop", deprecated
    ("M", 2): _end,
}


def _read_comment(state: GerberState, text: str) -> None:
    """Read X2 attributes hidden in G04 #@! comments; other comments say nothing."""
    hidden = text.strip()
    if not hidden.startswith("#@!"):
        return
    try:
        state.take_attribute(hidden.removeprefix("#@!"))
    except GerberError:
        state.note(f"the attribute in comment {shown(hidden)!r} cannot be read; ignored")


def _read_extended(state: GerberState, text: str) -> None:
    action = _EXTENDED.get(text[:2])
    if action is None:
        raise GerberError(
            f"extended command %{shown(text)}*% is not part of the format or no longer supported; allowed are "
            + ", ".join(sorted(_EXTENDED))
        )
    action(state, text)


def _read_macro(state: GerberState, text: str) -> None:
    macro = parse_macro(text)
    if macro.name in _STANDARD:
        state.note(f"macro {macro.name} has the name of a standard aperture and takes its place")
    state.macros[macro.name] = macro


def _read_format(state: GerberState, text: str) -> None:
    state.format = state.format.with_statement(text)


def _read_unit(state: GerberState, text: str) -> None:
    _set_unit(state, unit=text.removeprefix("MO").strip())


def _read_aperture(state: GerberState, text: str) -> None:
    match = _APERTURE.fullmatch(text)
    number = int(match[1]) if match else 0
    if match is None or number < FIRST_APERTURE:
        message = f"aperture definition %{shown(text)}*% has no number from D{FIRST_APERTURE} on"
        state.note(message + "; ignored, as nothing can use it")
        state.unusable[number] = f"{message}, yet it is used; give it a free number"
        return
    template, numbers = match[2].strip(), match[3] or ""
    values = [parse_decimal(value) for value in numbers.upper().rstrip("X ").split("X")] if numbers.strip() else []
    state.define(number, shape=_aperture_shape(state, template, values=values))


def _aperture_shape(state: GerberState, template: str, *, values: list[float]) -> Shape:
    if template in state.macros:
        shape = macro_shape(state.macros[template], values=values, mm_per_unit=state.format.unit_mm)
    elif template in _STANDARD:
        shape = standard_shape(template, values=values, mm_per_unit=state.format.unit_mm)
    else:
        raise GerberError(f"aperture template {shown(template)!r} is unknown; add its %AM...% macro above")
    function = state.attributes.of_aperture.get("AperFunction", ())
    return replace(shape, function=function) if function else shape


def _read_block(state: GerberState, text: str) -> None:
    if text == "AB":
        state.end_block()
        return
    match = _BLOCK.fullmatch(text)
    if match is None:
        raise GerberError(f"cannot read aperture block %{shown(text)}*%; needed is for example %ABD12*%")
    state.open_frame(Frame(kind="block", aperture=int(match[1])))


def _read_step_repeat(state: GerberState, text: str) -> None:
    offsets = parse_step_repeat(text, mm_per_unit=state.format.unit_mm if len(text) > 2 else 1.0)
    state.end_step_repeat()
    if len(offsets) > 1:
        state.open_frame(Frame(kind="step-repeat", offsets_mm=offsets))


def _read_polarity(state: GerberState, text: str) -> None:
    if text not in ("LPD", "LPC"):
        raise GerberError(f"polarity %{shown(text)}*% is unknown; allowed are %LPD*% and %LPC*%")
    state.change_graphics()
    state.dark = text == "LPD"


def _read_mirror(state: GerberState, text: str) -> None:
    if text not in ("LMN", "LMX", "LMY", "LMXY"):
        raise GerberError(f"mirroring %{shown(text)}*% is unknown; allowed are LMN, LMX, LMY and LMXY")
    state.change_graphics()
    state.mirror = text.removeprefix("LM")


def _read_rotation(state: GerberState, text: str) -> None:
    state.change_graphics()
    state.rotation_deg = parse_decimal(text.removeprefix("LR"))


def _read_scale(state: GerberState, text: str) -> None:
    scale = parse_decimal(text.removeprefix("LS"))
    if not 1 / MAX_SCALE <= scale <= MAX_SCALE:
        raise GerberError(f"scale {scale:g}; allowed are {1 / MAX_SCALE:g} to {MAX_SCALE:g}")
    state.change_graphics()
    state.scale = scale


def _read_attribute(state: GerberState, text: str) -> None:
    state.take_attribute(text)


def _read_image_polarity(state: GerberState, text: str) -> None:
    if text not in ("IPPOS", "IPNEG"):
        raise GerberError(f"image polarity %{shown(text)}*% is unknown; allowed are %IPPOS*% and %IPNEG*%")
    state.negative = text == "IPNEG"


def _read_image_offset(state: GerberState, text: str) -> None:
    across, up = (0.0 if value is None else parse_decimal(value) for value in _axis_values(text))
    unit_mm = state.format.unit_mm if across or up else 1.0
    state.image_offset_mm = (across * unit_mm, up * unit_mm)
    if across or up:
        state.note("the deprecated %OF...*% moves the whole image; applied")


def _axis_values(text: str) -> tuple[str | None, str | None]:
    match = _AXES.fullmatch(text[2:].replace(" ", ""))
    if match is None:
        raise GerberError(f"cannot read %{shown(text)}*%; needed is for example %{text[:2]}A0B0*%")
    return match[1], match[2]


def _refuse_unless(neutral: float) -> Callable[[GerberState, str], None]:
    """Reader of a deprecated image transform of which only the value that changes nothing is taken."""

    def read(_state: GerberState, text: str) -> None:
        if any(value is not None and parse_decimal(value) != neutral for value in _axis_values(text)):
            raise GerberError(f"the deprecated %{shown(text)}*% is not drawn; export again without it")

    return read


def _read_image_rotation(_state: GerberState, text: str) -> None:
    if parse_decimal(text.removeprefix("IR")) != 0:
        raise GerberError(f"the deprecated image rotation %{shown(text)}*% is not drawn; export again without it")


def _read_axis_select(_state: GerberState, text: str) -> None:
    if text != "ASAXBY":
        raise GerberError(f"the deprecated axis exchange %{shown(text)}*% is not drawn; export again without it")


_STANDARD = frozenset("CROP")
_READERS: dict[str, Callable[[GerberState, str], None]] = {
    "word": _read_word,
    "extended": _read_extended,
    "macro": _read_macro,
    "comment": _read_comment,
}
_EXTENDED: dict[str, Callable[[GerberState, str], None]] = {
    "FS": _read_format,
    "MO": _read_unit,
    "AD": _read_aperture,
    "AB": _read_block,
    "SR": _read_step_repeat,
    "LP": _read_polarity,
    "LM": _read_mirror,
    "LR": _read_rotation,
    "LS": _read_scale,
    "TF": _read_attribute,
    "TA": _read_attribute,
    "TO": _read_attribute,
    "TD": _read_attribute,
    "IP": _read_image_polarity,
    "OF": _read_image_offset,
    "MI": _refuse_unless(0.0),
    "SF": _refuse_unless(1.0),
    "IR": _read_image_rotation,
    "AS": _read_axis_select,
    "IN": _ignore,  # image and layer names, deprecated comments
    "LN": _ignore,
}
