"""Aperture macros: reading the %AM text and evaluating its arithmetic for the values of one %AD line."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from paneglow.errors import GerberError

MAX_MACRO_STEPS = 20_000  # primitives and assignments; the longest seen in the wild has about 300
MAX_EXPRESSION_TERMS = 200  # in one modifier; hand-made macros use fewer than 10

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
    if not code.strip().isascii() or not code.strip().isdigit() or len(code) > 4:
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
