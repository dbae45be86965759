"""How the rotations of a placement file are to be understood, as a file states it of itself.

Services differ in how they count rotations of parts on the back and in which way a part points at zero; none of it can
be seen in the numbers. A rule names both by what they do. The kinds are common practice, no source.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, get_args

from paneglow.errors import PlacementError

BottomRule = Literal["through-front", "through-front-mirrored", "turned-left-right", "turned-top-bottom"]
ZeroRule = Literal["axis", "cathode-left", "anode-left", "as-taped"]
TurnRule = Literal["long-axis", "short-axis"]
YSense = Literal["up", "down"]

BOTTOM_WORDS: Mapping[str, str] = {
    "through-front": "back parts are looked at through the board from the front, pictures mirrored top to bottom,"
    " counter-clockwise as seen from the front",
    "through-front-mirrored": "back parts are looked at through the board from the front, pictures mirrored left to"
    " right, counter-clockwise as seen from the front",
    "turned-left-right": "the board is turned over about its vertical, back parts looked at directly,"
    " counter-clockwise as seen from the back",
    "turned-top-bottom": "the board is turned over about its horizontal, back parts looked at directly,"
    " counter-clockwise as seen from the back",
}
ZERO_WORDS: Mapping[str, str] = {
    "axis": "at zero a side-view part shines to the right, every other part has its cathode at the left",
    "cathode-left": "at zero the cathode is at the left",
    "anode-left": "at zero the anode is at the left",
    "as-taped": "at zero a part points as it lies in its tape, sprocket holes on top (EIA-481)",
}
TURN_WORDS: Mapping[str, str] = {
    "long-axis": "lens-down parts are turned over about their long axis, which keeps the ends",
    "short-axis": "lens-down parts are turned over about their short axis, which swaps the ends",
}
STATEMENT_LINES = 12  # where a statement may stand

_STATEMENT = re.compile(r"^\s*#\s*rotations:\s*(.*)$")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacementRule:
    """What rotations mean, and which way y counts."""

    bottom: BottomRule = "through-front"  # How rotations of parts on the back are counted
    zero: ZeroRule = "axis"  # Which way a part points at zero
    turn: TurnRule = "long-axis"  # Axis that lens-down parts are turned over about
    y: YSense = "up"  # Which way y counts

    def words(self) -> tuple[str, ...]:
        """One sentence part per choice."""
        counted = f"y counts {self.y}ward"
        return BOTTOM_WORDS[self.bottom], ZERO_WORDS[self.zero], TURN_WORDS[self.turn], counted

    def statement(self) -> tuple[str, ...]:
        """Comment lines that say it, first for a program, then for a person."""
        first = f"# rotations: bottom={self.bottom} zero={self.zero} turn={self.turn} y={self.y}"
        return first, *(f"# {words}" for words in self.words())


_ALLOWED: Mapping[str, tuple[str, ...]] = {
    "bottom": get_args(BottomRule),
    "zero": get_args(ZeroRule),
    "turn": get_args(TurnRule),
    "y": get_args(YSense),
}


def parse_rule(lines: Iterable[str], *, path: Path) -> PlacementRule | None:
    """Find the rule that a placement file states in a comment near its start; None where it states none.

    Raises
    ------
    PlacementError
        For a word that is not known.
    """
    for number, line in enumerate(lines, start=1):
        if number > STATEMENT_LINES:
            break
        if match := _STATEMENT.match(line):
            return _rule_of(match.group(1).split(), path=path, line=number)
    return None


def _rule_of(pairs: list[str], *, path: Path, line: int) -> PlacementRule:
    words = dict(pair.partition("=")[::2] for pair in pairs)
    for key, word in words.items():
        if word not in _ALLOWED.get(key, ()):
            known = " ".join(f"{name}={'|'.join(allowed)}" for name, allowed in _ALLOWED.items())
            raise PlacementError(f"rotations are stated as {key}={word}; known are {known}", path=path, line=line)
    return PlacementRule(**words)  # type: ignore[arg-type]  # every word was just checked
