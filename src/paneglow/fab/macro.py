"""Aperture macros: the %AM text, its arithmetic for the values of one %AD line, and its primitives as contours."""

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from paneglow.errors import GerberError
from paneglow.fab.curves import Contour, Similarity, circle, contour_area_mm2, polygon, reversed_contour, unit_vector
from paneglow.fab.records import Arc, Line, Point

MAX_MACRO_STEPS = 20_000  # primitives and assignments; the longest seen in the wild has about 300
MAX_EXPRESSION_TERMS = 200  # in one modifier; hand-made macros use fewer than 10
MAX_OUTLINE_CORNERS = 10_000  # the format allows 5000
MAX_MOIRE_RINGS = 1_000
POLYGON_CORNERS = (3, 12)  # format specification, polygon primitive and aperture

_TOKEN = re.compile(r"\s*+(\d+\.?\d*|\.\d+|\$\d+|[-+xX/()])", re.ASCII)
_ASSIGNMENT = re.compile(r"\$(\d{1,9})\s*=(.+)", re.ASCII)
_OPERATORS: dict[str, tuple[int, Callable[[float, float], float]]] = {
    "+": (1, lambda a, b: a + b),
    "-": (1, lambda a, b: a - b),
    "x": (2, lambda a, b: a * b),
    "/": (2, lambda a, b: a / b),
}
_NEGATE = "negate"  # unary minus binds tighter than every operator of two values

Rpn = tuple[float | str, ...]  # numbers, "$n" variables and operators in reverse Polish order


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """A macro variable that takes a new value."""

    variable: str
    value: Rpn


@dataclass(frozen=True, slots=True, kw_only=True)
class Primitive:
    """A macro primitive by its code, with its modifiers still to be evaluated."""

    code: int
    modifiers: tuple[Rpn, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Macro:
    """One aperture macro, read."""

    name: str
    steps: tuple[Assignment | Primitive, ...]

    @property
    def terms(self) -> int:
        """Numbers, variables and operators in all its expressions."""
        expressions = ([one.value] if isinstance(one, Assignment) else one.modifiers for one in self.steps)
        return sum(len(expression) for several in expressions for expression in several)


def parse_macro(text: str) -> Macro:
    """Read the inside of one %AM...% block, without its per cent signs.

    Raises
    ------
    GerberError
        Where a primitive or an expression cannot be read; without file and line, which the caller knows.
    """
    head, *body = "".join(text.split("\n")).replace("\r", "").split("*")
    name = head.removeprefix("AM").strip()
    if not name:
        raise GerberError("aperture macro without a name; write %AMNAME*...*%")
    statements = [statement.strip() for statement in body if statement.strip()]
    if len(statements) > MAX_MACRO_STEPS:
        raise GerberError(f"macro {name} has {len(statements)} statements; allowed are {MAX_MACRO_STEPS}")
    return Macro(name=name, steps=tuple(_parse_step(s, name=name) for s in statements if not _is_comment(s)))


def _is_comment(statement: str) -> bool:
    return statement == "0" or statement.startswith(("0 ", "0,"))


def _parse_step(statement: str, *, name: str) -> Assignment | Primitive:
    assignment = _ASSIGNMENT.fullmatch(statement)
    if assignment:
        return Assignment(variable="$" + str(int(assignment[1])), value=parse_expression(assignment[2], macro=name))
    code, *modifiers = statement.split(",")
    code = code.strip()
    if not code.isascii() or not code.isdecimal() or len(code) > 4:
        raise GerberError(f"macro {name}: {statement[:40]!r} is neither a primitive nor a $n=... definition")
    return Primitive(code=int(code), modifiers=tuple(parse_expression(m, macro=name) for m in modifiers))


def parse_expression(text: str, *, macro: str) -> Rpn:
    """Turn the arithmetic of one modifier into reverse Polish order (no recursion: nesting cannot exhaust the stack).

    Operators are + - x / and brackets, x and / before + and -, equal ones from the left; X is taken as x.
    """
    output: list[float | str] = []
    waiting: list[str] = []
    value_expected = True
    for token in _tokens(text, macro=macro):
        if token == "(":
            _expect(value_expected, text=text, macro=macro)
            waiting.append(token)
        elif token == ")":
            _expect(not value_expected, text=text, macro=macro)
            _close_bracket(output, waiting=waiting, text=text, macro=macro)
        elif token in _OPERATORS:
            _push_operator(token, output=output, waiting=waiting, unary=value_expected)
            value_expected = True
        else:
            _expect(value_expected, text=text, macro=macro)
            output.append("$" + str(int(token[1:])) if token[0] == "$" else float(token))
            value_expected = False
    _expect(not value_expected and "(" not in waiting, text=text, macro=macro)
    return (*output, *reversed(waiting))


def _tokens(text: str, *, macro: str) -> list[str]:
    tokens: list[str] = []
    position = 0
    while position < len(text) and text[position:].strip():
        match = _TOKEN.match(text, position)
        if match is None or len(tokens) >= MAX_EXPRESSION_TERMS or len(match[1]) > 30:
            raise GerberError(
                f"macro {macro}: cannot read {text[:40]!r}; allowed are numbers, $n, + - x / and brackets"
            )
        tokens.append(match[1].replace("X", "x"))
        position = match.end()
    return tokens


def _expect(condition: bool, *, text: str, macro: str) -> None:
    if not condition:
        raise GerberError(f"macro {macro}: {text[:40]!r} is not a complete expression; check operators and brackets")


def _close_bracket(output: list[float | str], *, waiting: list[str], text: str, macro: str) -> None:
    while waiting and waiting[-1] != "(":
        output.append(waiting.pop())
    _expect(bool(waiting), text=text, macro=macro)
    waiting.pop()


def _push_operator(token: str, *, output: list[float | str], waiting: list[str], unary: bool) -> None:
    if unary:
        if token == "-":
            waiting.append(_NEGATE)
        elif token != "+":
            raise GerberError(f"operator {token!r} stands where a value is needed")
        return
    rank = _OPERATORS[token][0]
    while waiting and waiting[-1] != "(" and (waiting[-1] == _NEGATE or _OPERATORS[waiting[-1]][0] >= rank):
        output.append(waiting.pop())
    waiting.append(token)


def expression_value(expression: Rpn, *, variables: dict[str, float]) -> float:
    """Value of an expression; variables never set are 0, as the format says."""
    stack: list[float] = []
    for item in expression:
        if isinstance(item, float):
            stack.append(item)
        elif item == _NEGATE:
            stack.append(-stack.pop())
        elif item in _OPERATORS:
            second = stack.pop()
            if item == "/" and second == 0:
                raise GerberError("a macro divides by zero; check the values of its %AD line")
            stack.append(_OPERATORS[item][1](stack.pop(), second))
        else:
            stack.append(variables.get(item, 0.0))
    return stack[0]


def evaluated_primitives(macro: Macro, *, values: Sequence[float]) -> list[tuple[int, list[float]]]:
    """Primitives of a macro with their modifiers as numbers, for the values of one %AD line ($1, $2, ...)."""
    variables = {f"${k}": value for k, value in enumerate(values, start=1)}
    primitives: list[tuple[int, list[float]]] = []
    for step in macro.steps:
        if isinstance(step, Assignment):
            variables[step.variable] = expression_value(step.value, variables=variables)
        else:
            modifiers = [expression_value(modifier, variables=variables) for modifier in step.modifiers]
            primitives.append((step.code, modifiers))
    return primitives


@dataclass(frozen=True, slots=True, kw_only=True)
class MacroPiece:
    """What one primitive adds (dark) or takes from what its macro drew before (not dark)."""

    contours: tuple[Contour, ...]
    dark: bool


def turned(contours: Sequence[Contour], *, by_deg: float) -> tuple[Contour, ...]:
    """Contours rotated counter-clockwise about the origin."""
    if by_deg == 0:
        return tuple(contours)
    transform = Similarity(factor=unit_vector(by_deg))
    return tuple(transform.of_contour(contour) for contour in contours)


def regular_polygon(*, centre: Point, diameter: float, corners: float, rotation_deg: float) -> Contour:
    """Regular polygon by its outer diameter, first corner on the positive x axis before rotation.

    Raises
    ------
    GerberError
        Unless it has 3 to 12 corners, a whole number.
    """
    if corners != int(corners) or not POLYGON_CORNERS[0] <= corners <= POLYGON_CORNERS[1]:
        raise GerberError(f"polygon with {corners:g} corners; allowed are 3 to 12, a whole number")
    spokes = [diameter / 2 * unit_vector(rotation_deg + 360 * k / int(corners)) for k in range(int(corners))]
    return polygon((centre[0] + spoke.real, centre[1] + spoke.imag) for spoke in spokes)


def rectangle(*, centre: Point, width: float, height: float) -> Contour:
    """Rectangle with sides along the axes, counter-clockwise."""
    (x, y), a, b = centre, width / 2, height / 2
    return polygon([(x - a, y - b), (x + a, y - b), (x + a, y + b), (x - a, y + b)])


def primitive_piece(code: int, *, modifiers: list[float]) -> MacroPiece | None:
    """Contours of one primitive; None where it draws nothing (zero size).

    Raises
    ------
    GerberError
        For an unknown code, a wrong number of modifiers or an impossible size.
    """
    if code not in _PRIMITIVES:
        raise GerberError(f"macro primitive {code} is unknown; allowed are 0, 1, 2, 4, 5, 6, 7, 20, 21, 22")
    primitive = _PRIMITIVES[code]
    fewest, most = primitive.modifiers
    if not fewest <= len(modifiers) <= most:
        raise GerberError(f"macro primitive {code} has {len(modifiers)} modifiers; needed are {fewest} to {most}")
    # Only the rotation at the end may be missing; old files leave it out.
    values = modifiers + [0.0] * (most - len(modifiers)) if most < MAX_OUTLINE_CORNERS else modifiers
    dark = True
    if primitive.has_exposure:
        dark = _exposure(values[0])
        values = values[1:]
    contours = primitive.draw(values)
    return MacroPiece(contours=contours, dark=dark) if contours else None


def _exposure(value: float) -> bool:
    if value not in (0, 1):
        raise GerberError(f"macro exposure is {value:g}; allowed are 0 (off) and 1 (on)")
    return value == 1


def _check_sizes(**sizes: float) -> None:
    for name, size in sizes.items():
        if size < 0:
            raise GerberError(f"macro {name.replace('_', ' ')} is {size:g}; allowed is 0 or more")


def _circle(values: list[float]) -> tuple[Contour, ...]:
    diameter, x, y, rotation_deg = values
    _check_sizes(circle_diameter=diameter)
    return turned([circle(centre_mm=(x, y), diameter_mm=diameter)], by_deg=rotation_deg) if diameter else ()


def _vector_line(values: list[float]) -> tuple[Contour, ...]:
    width, x0, y0, x1, y1, rotation_deg = values
    _check_sizes(line_width=width)
    length = math.hypot(x1 - x0, y1 - y0)
    if length == 0 or width == 0:
        return ()
    across_x, across_y = -(y1 - y0) / length * width / 2, (x1 - x0) / length * width / 2
    corners = [
        (x0 - across_x, y0 - across_y),
        (x1 - across_x, y1 - across_y),
        (x1 + across_x, y1 + across_y),
        (x0 + across_x, y0 + across_y),
    ]
    return turned([polygon(corners)], by_deg=rotation_deg)


def _centre_line(values: list[float]) -> tuple[Contour, ...]:
    width, height, x, y, rotation_deg = values
    _check_sizes(line_width=width, line_height=height)
    if width == 0 or height == 0:
        return ()
    return turned([rectangle(centre=(x, y), width=width, height=height)], by_deg=rotation_deg)


def _lower_left_line(values: list[float]) -> tuple[Contour, ...]:
    width, height, x, y, rotation_deg = values
    return _centre_line([width, height, x + width / 2, y + height / 2, rotation_deg])


def _outline(values: list[float]) -> tuple[Contour, ...]:
    sides, *numbers = values
    if sides != int(sides) or not 1 <= sides <= MAX_OUTLINE_CORNERS:
        raise GerberError(f"macro outline with {sides:g} sides; allowed are 1 to {MAX_OUTLINE_CORNERS}, a whole number")
    needed = 2 * (int(sides) + 1)
    if not needed <= len(numbers) <= needed + 1:
        raise GerberError(f"macro outline of {sides:g} sides has {len(numbers)} numbers; needed are {needed + 1}")
    rotation_deg = numbers[needed] if len(numbers) > needed else 0.0
    corners = list(zip(numbers[0 : needed - 2 : 2], numbers[1 : needed - 2 : 2], strict=True))
    contour = polygon(corners)
    area = contour_area_mm2(contour)
    return turned([contour if area > 0 else reversed_contour(contour)], by_deg=rotation_deg) if area else ()


def _polygon(values: list[float]) -> tuple[Contour, ...]:
    corners, x, y, diameter, rotation_deg = values
    _check_sizes(polygon_diameter=diameter)
    if diameter == 0:
        return ()
    flat = regular_polygon(centre=(x, y), diameter=diameter, corners=corners, rotation_deg=0)
    return turned([flat], by_deg=rotation_deg)


def _moire(values: list[float]) -> tuple[Contour, ...]:
    x, y, diameter, thickness, gap, rings, cross_width, cross_length, rotation_deg = values
    _check_sizes(moire_diameter=diameter, ring_thickness=thickness, ring_gap=gap, cross=cross_width)
    if rings != int(rings) or not 0 <= rings <= MAX_MOIRE_RINGS:
        raise GerberError(f"moire with {rings:g} rings; allowed are 0 to {MAX_MOIRE_RINGS}, a whole number")
    contours: list[Contour] = []
    for _ in range(int(rings)):
        if diameter <= 0 or thickness == 0:
            break
        contours.append(circle(centre_mm=(x, y), diameter_mm=diameter))
        if diameter > 2 * thickness:
            contours.append(circle(centre_mm=(x, y), diameter_mm=diameter - 2 * thickness, clockwise=True))
        diameter -= 2 * (thickness + gap)
    if cross_width > 0 and cross_length > 0:
        contours.append(rectangle(centre=(x, y), width=cross_length, height=cross_width))
        contours.append(rectangle(centre=(x, y), width=cross_width, height=cross_length))
    return turned(contours, by_deg=rotation_deg)


def _thermal(values: list[float]) -> tuple[Contour, ...]:
    x, y, outer, inner, gap, rotation_deg = values
    _check_sizes(thermal_outer=outer, thermal_inner=inner, thermal_gap=gap)
    if inner >= outer:
        raise GerberError(f"thermal with inner diameter {inner:g} not below outer {outer:g}; swap or correct them")
    if gap / 2 * math.sqrt(2) >= outer / 2:
        return ()
    quarter = _thermal_quarter(outer / 2, inner=inner / 2, half_gap=gap / 2)
    return turned(
        [Similarity(factor=unit_vector(90 * k), offset=complex(x, y)).of_contour(quarter) for k in range(4)],
        by_deg=rotation_deg,
    )


def _thermal_quarter(outer: float, *, inner: float, half_gap: float) -> Contour:
    """MacroPiece in the first quadrant, about the origin, counter-clockwise."""
    reach = math.sqrt(outer**2 - half_gap**2)
    start, end = (reach, half_gap), (half_gap, reach)
    rim = Arc(start_mm=start, end_mm=end, centre_mm=(0.0, 0.0), clockwise=False)
    if inner <= half_gap * math.sqrt(2):
        corner = (half_gap, half_gap)
        return (rim, Line(start_mm=end, end_mm=corner), Line(start_mm=corner, end_mm=start))
    depth = math.sqrt(inner**2 - half_gap**2)
    inner_start, inner_end = (half_gap, depth), (depth, half_gap)
    return (
        rim,
        Line(start_mm=end, end_mm=inner_start),
        Arc(start_mm=inner_start, end_mm=inner_end, centre_mm=(0.0, 0.0), clockwise=True),
        Line(start_mm=inner_end, end_mm=start),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _PrimitiveRule:
    draw: Callable[[list[float]], tuple[Contour, ...]]
    modifiers: tuple[int, int]  # fewest and most; the last one is the rotation
    has_exposure: bool = True


_PRIMITIVES = {
    1: _PrimitiveRule(draw=_circle, modifiers=(4, 5)),
    2: _PrimitiveRule(draw=_vector_line, modifiers=(6, 7)),
    20: _PrimitiveRule(draw=_vector_line, modifiers=(6, 7)),
    21: _PrimitiveRule(draw=_centre_line, modifiers=(5, 6)),
    22: _PrimitiveRule(draw=_lower_left_line, modifiers=(5, 6)),
    4: _PrimitiveRule(draw=_outline, modifiers=(4, 2 * MAX_OUTLINE_CORNERS + 5)),
    5: _PrimitiveRule(draw=_polygon, modifiers=(5, 6)),
    6: _PrimitiveRule(draw=_moire, modifiers=(8, 9), has_exposure=False),
    7: _PrimitiveRule(draw=_thermal, modifiers=(5, 6), has_exposure=False),
}
