"""The error tree: every error a person meets is one of these, and one clear line.

PaneglowError
├── RangeError            a number or shape outside what a function allows (also a ValueError)
├── DesignError           design.toml says something that cannot be
│   └── PriceError        something it needs has no price in cost.toml
├── CatalogError          a part, laminate or coating record is wrong or missing
├── FabricationError      a fabrication file or set cannot be read as one board
│   ├── GerberError       one statement of one Gerber file
│   ├── DrillError        one statement of one drill file
│   └── PlacementError    one row of one placement file
├── TransportError        light could not be traced as asked
├── OutputError           a result cannot be written where it was asked for
└── MissingExtraError     an optional library is not installed

A message says what is wrong, where, what is allowed and what to do. A design that misses its goals is a
verdict, never an error. Whatever of a file a message quotes, it shows as it is: nothing in it steers a terminal.
"""

import unicodedata
from pathlib import Path

MOST_CHARACTERS, MOST_LINES = 600, 25  # of a message: more is no message
# Categories of characters that do not show: control, format (direction overrides among them), halves of pairs, and ends
# of lines and paragraphs. Joiners are part of how some languages are written.
HIDDEN = frozenset(("Cc", "Cf", "Cs", "Zl", "Zp"))
JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"


def is_hidden(character: str) -> bool:
    """Whether a character does not show and may change how others do: control, line break, direction override."""
    return unicodedata.category(character) in HIDDEN and character not in JOINERS


def to_plain_text(text: str, *, keep: str = "") -> str:
    r"""The text with every character that does not show written out, so that it can neither hide nor steer anything.

    Parameters
    ----------
    text : str
    keep : str
        Characters left as they are.

    Examples
    --------
    >>> to_plain_text("moon\x1b[2J\u202eenap")
    'moon\\x1b[2J\\u202eenap'
    """
    shown = text
    for character in keep:
        shown = shown.replace(character, "")
    if shown.isprintable():  # nearly always, and many times quicker than to look at each character
        return text
    return "".join(
        character.encode("unicode_escape").decode() if is_hidden(character) and character not in keep else character
        for character in text
    )


def _to_message(text: str) -> str:
    """A message of readable length: long lines lose their middle, and what is wrong too often is counted."""
    lines = [_cut(to_plain_text(line)) for line in text.split("\n")]
    more = len(lines) - MOST_LINES
    return "\n".join([*lines[:MOST_LINES], f"and {more} more like these"] if more > 0 else lines)


def _cut(line: str) -> str:
    if len(line) <= MOST_CHARACTERS:
        return line
    ends = MOST_CHARACTERS // 2
    return f"{line[:ends]} [{len(line) - 2 * ends} characters left out] {line[-ends:]}"


class PaneglowError(Exception):
    """Root of all errors of this package.

    Parameters
    ----------
    message : str
        One problem a line.
    """

    def __init__(self, message: str) -> None:
        super().__init__(_to_message(message))


class RangeError(PaneglowError, ValueError):
    """A number or an array shape is outside the stated range."""


class DesignError(PaneglowError):
    """The design file asks for something that cannot be."""


class PriceError(DesignError):
    """Something that a design needs has no price in its cost file."""


class CatalogError(PaneglowError):
    """A catalogue record is missing, misspelt or contradicts itself."""


class FabricationError(PaneglowError):
    """A fabrication set cannot be read as one board.

    Parameters
    ----------
    message : str
        What is wrong, what is allowed, what to do; no trailing full stop needed.
    path : Path or str, optional
        The file.
    line : int, optional
        Line number in that file, from 1.
    """

    def __init__(self, message: str, *, path: Path | str | None = None, line: int | None = None) -> None:
        self.path = path
        self.line = line
        place = "" if path is None else f"{path}: " if line is None else f"{path}, line {line}: "
        super().__init__(f"{place}{message}")


class GerberError(FabricationError):
    """A Gerber file has a statement that cannot be drawn."""


class DrillError(FabricationError):
    """A drill file has a statement that cannot be understood."""


class PlacementError(FabricationError):
    """A placement file has a row that cannot be understood."""


class TransportError(PaneglowError):
    """Light could not be traced as asked."""


class OutputError(PaneglowError):
    """A result cannot be written where it was asked for."""


class MissingExtraError(PaneglowError):
    """An optional library is not installed; the message holds the install line."""


class PaneglowNote(UserWarning):
    """What a person should know of how the work was done; a warning of Python's, since no result depends on it."""
