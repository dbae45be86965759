"""Cutting the text of a Gerber file into statements, with the place of each for error messages."""

import re
from collections.abc import Iterator
from typing import Literal, NamedTuple

from paneglow.errors import GerberError

MAX_TEXT_CHARS = 100_000_000  # the largest file seen in the wild has 2.2 million

StatementKind = Literal["word", "extended", "macro", "comment"]

_STATEMENT = re.compile(r"\s*+(?:G0*4(?![0-9])(?P<comment>[^*]*+)\*|(?P<word>[^*%]*+)\*|%(?P<block>[^%]*+)%)")
_PADDING = "\x00\x1a\ufeff"  # what old systems leave after the end, and the byte-order mark


class Statement(NamedTuple):
    """One statement without its * and %; `offset` is its place in the text (a tuple, as files hold 100 000 of them)."""

    kind: StatementKind
    text: str
    offset: int


def line_number(text: str, *, offset: int) -> int:
    """Line of a place in the text, from 1, whether lines end in LF, CR LF or CR."""
    newline = "\n" if "\n" in text else "\r"
    return text.count(newline, 0, offset) + 1


def statements(text: str) -> Iterator[Statement]:
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
            yield Statement("word" if kind == "word" else "comment", match[kind or 0], match.start(kind or 0))
        position = match.end()


def _block_statements(block: str, *, offset: int) -> Iterator[Statement]:
    """Statements between two per cent signs; a macro is one statement, however many * it holds."""
    if not block.strip():
        return
    if not block.rstrip().endswith("*"):
        raise GerberError(f"extended command %{shown(block)}% does not end in *%; was the file cut or edited by hand?")
    if block.lstrip().startswith("AM"):
        yield Statement("macro", block.strip(), offset)
        return
    for part in block.rstrip()[:-1].split("*"):
        if part.strip():
            yield Statement("extended", "".join(part.splitlines()).strip(), offset + len(part) - len(part.lstrip()))
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
