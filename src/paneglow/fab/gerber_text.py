"""The text of a Gerber file: its statements with the place of each, and its numbers (format, unit, decimals)."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from paneglow.errors import GerberError

MAX_TEXT_CHARS = 100_000_000  # the largest file seen in the wild has 2.2 million
MM_PER_INCH = 25.4  # exact by definition
MM_PER_UNIT = {"MM": 1.0, "IN": MM_PER_INCH}

_FORMAT = re.compile(r"FS([LTD]?)([AI]?)(?:N\d+)?(?:G\d+)?X(\d)(\d)Y(\d)(\d)(?:D\d+)?(?:M\d+)?", re.ASCII)
_DECIMAL = re.compile(r"[+-]?(?:\d{1,9}(?:\.\d{0,18})?|\.\d{1,18})", re.ASCII)

StatementKind = Literal["word", "extended", "macro", "comment"]

_STATEMENT = re.compile(r"\s*+(?:G0*4(?![0-9])(?P<comment>[^*]*+)\*|(?P<word>[^*%]*+)\*|%(?P<block>[^%]*+)%)")
_PADDING = "\x00\x1a\ufeff"  # what old systems leave after the end, and the byte-order mark


class GerberStatement(NamedTuple):
    """One statement without its * and %; `offset` is its place in the text (a tuple, as files hold 100 000 of them)."""

    kind: StatementKind
    text: str
    offset: int


def line_number(text: str, *, offset: int) -> int:
    """Line of a place in the text, from 1, whether lines end in LF, CR LF or CR."""
    newline = "\n" if "\n" in text else "\r"
    return text.count(newline, 0, offset) + 1


def statements(text: str) -> Iterator[GerberStatement]:
    """Statements of a file in order.

    Raises
    ------
    GerberError
        Where the text ends inside a statement, or something stands outside any; its `line` is set, its path not.
    """
    position = len(text) - len(text.lstrip(_PADDING + " \t\r\n"))
    end = len(text.rstrip(_PADDING + " \t\r\n"))
    while position < end:
        match = _STATEMENT.match(text, position, end)
        if match is None:
            raise GerberError(_unfinished(text[position:end]), line=line_number(text, offset=end))
        kind = match.lastgroup
        if kind == "block":
            yield from _block_statements(match["block"], offset=match.start("block"))
        else:
            yield GerberStatement("word" if kind == "word" else "comment", match[kind or 0], match.start(kind or 0))
        position = match.end()


def _block_statements(block: str, *, offset: int) -> Iterator[GerberStatement]:
    """Statements between two per cent signs; a macro is one statement, however many * it holds."""
    if not block.strip():
        return
    if not block.rstrip().endswith("*"):
        raise GerberError(f"extended command %{shown(block)}% does not end in *%; was the file cut or edited by hand?")
    if block.lstrip().startswith("AM"):
        yield GerberStatement("macro", block.strip(), offset)
        return
    for part in block.rstrip()[:-1].split("*"):
        if part.strip():
            yield GerberStatement(
                "extended", "".join(part.splitlines()).strip(), offset + len(part) - len(part.lstrip())
            )
        offset += len(part) + 1


def _unfinished(rest: str) -> str:
    return (
        f"the file ends inside a statement ({shown(rest)}); it was cut short: export or copy it again, a whole file "
        "ends in M02*"
    )


def shown(text: str) -> str:
    """Start of a statement as it may stand in a message of one line."""
    clean = "".join(character if character.isprintable() else " " for character in text[:60])
    return clean.strip()[:40]


@dataclass(frozen=True, slots=True, kw_only=True)
class CoordinateFormat:
    """How coordinate digits become mm; fields not yet stated by the file are None."""

    decimals: tuple[int, int] | None = None  # of X and I, of Y and J
    integers: tuple[int, int] = (0, 0)
    trailing_omitted: bool = False
    incremental: bool = False
    mm_per_unit: float | None = None

    def with_statement(self, text: str) -> "CoordinateFormat":
        """Return the format after an FS statement.

        Raises
        ------
        GerberError
            Where the statement cannot be read.
        """
        match = _FORMAT.fullmatch(text.replace(" ", ""))
        if match is None:
            raise GerberError(f"cannot read format {text[:30]!r}; needed is for example %FSLAX46Y46*%")
        integers, decimals = (int(match[3]), int(match[5])), (int(match[4]), int(match[6]))
        if max(integers) > 6 or not 0 < max(decimals) <= 7:
            raise GerberError(f"format {text[:30]!r} is outside the allowed 0 to 6 integer and 1 to 7 decimal digits")
        return replace(
            self,
            decimals=decimals,
            integers=integers,
            trailing_omitted=match[1] == "T",
            incremental=match[2] == "I",
        )

    def with_unit(self, unit: str) -> "CoordinateFormat":
        """Return the format with the unit of an MO statement ("MM" or "IN")."""
        if unit not in MM_PER_UNIT:
            raise GerberError(f"unit {unit[:10]!r} is unknown; allowed are %MOMM*% and %MOIN*%")
        return replace(self, mm_per_unit=MM_PER_UNIT[unit])

    @property
    def steps_mm(self) -> tuple[float, float]:
        """Length of the last digit of x and of y [mm].

        Raises
        ------
        GerberError
            Where the file has not stated its format or unit yet.
        """
        if self.decimals is None:
            raise GerberError("coordinates before the format is stated; add %FSLAX..Y..*% to the top of the file")
        return self.unit_mm / 10 ** self.decimals[0], self.unit_mm / 10 ** self.decimals[1]

    @property
    def unit_mm(self) -> float:
        """Length of the file's unit [mm].

        Raises
        ------
        GerberError
            Where the file has not stated it yet.
        """
        if self.mm_per_unit is None:
            raise GerberError("a length before the unit is stated; add %MOMM*% or %MOIN*% to the top of the file")
        return self.mm_per_unit

    def padded(self, digits: str, *, axis: int) -> str:
        """Coordinate digits with the trailing zeros that this format leaves out put back."""
        sign = digits[0] if digits[0] in "+-" else ""
        number = digits[len(sign) :]
        whole = self.integers[axis] + (self.decimals or (0, 0))[axis]
        if len(number) > whole:
            raise GerberError(f"coordinate {digits} has more than the {whole} digits of the stated format")
        return sign + number.ljust(whole, "0")


def parse_decimal(text: str) -> float:
    """Value of a decimal number; the format knows no exponents.

    Raises
    ------
    GerberError
        Where the text is not one.
    """
    clean = text.strip()
    if not _DECIMAL.fullmatch(clean):
        raise GerberError(f"{text[:20]!r} is not a decimal number such as 0.25")
    return float(clean)
