"""How the numbers of a drill file are written: unit, which zeros are kept, digits before and after the point."""

import re
from dataclasses import dataclass, replace
from typing import Literal

from paneglow.errors import DrillError

MM_PER_INCH = 25.4  # exact: international yard and pound agreement, 1959
Unit = Literal["mm", "inch"]
Zeros = Literal["leading", "trailing"]
MM_PER_UNIT: dict[Unit, float] = {"mm": 1.0, "inch": MM_PER_INCH}

# Digits taken where a file without decimal points states none, likeliest first (common practice, no source)
USUAL_DIGITS: dict[Unit, tuple[tuple[int, int], ...]] = {
    "inch": ((2, 4), (2, 3), (2, 5), (3, 5)),
    "mm": ((3, 3), (3, 2), (4, 2), (4, 4)),
}
USUAL_DIGITS_COUNT = 4

STATED_UNITS: dict[str, Unit] = {"METRIC": "mm", "M71": "mm", "INCH": "inch", "M72": "inch"}
STATED_ZEROS: dict[str, Zeros] = {"LZ": "leading", "TZ": "trailing"}  # the zeros that are kept
SPOKEN_UNITS: dict[str, Unit] = {"METRIC": "mm", "MM": "mm", "INCH": "inch"}
SPOKEN_ZEROS: dict[str, Zeros] = {"SUPPRESS LEADING": "trailing", "SUPPRESS TRAILING": "leading"}

_UNIT_LINE = re.compile(r"(METRIC|INCH)((?:,[A-Z0-9.]+)*)")
_NUMBER = re.compile(r"\d+\.?\d*|\.\d+", re.ASCII)
_PICTURE = re.compile(r"(0+)\.(0+)")
_COMMENT_DIGITS = re.compile(r";.*FORMAT\s*[=:]\s*\{?\s*(\d)\s*[:.]\s*(\d)")
_COMMENT_WORDS = re.compile(r";.*FORMAT\s*[=:]\s*\{(.*)\}")


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillFormat:
    """What is known of a file's numbers; None where nothing is stated."""

    unit: Unit | None = None
    zeros: Zeros | None = None
    digits: tuple[int, int] | None = None

    def filled_from(self, other: "DrillFormat") -> "DrillFormat":
        """Fill the gaps of this format from another one."""
        return DrillFormat(
            unit=self.unit or other.unit, zeros=self.zeros or other.zeros, digits=self.digits or other.digits
        )

    def __str__(self) -> str:
        places = "" if self.digits is None else f" {self.digits[0]}.{self.digits[1]}"
        zeros = "" if self.zeros is None else f", {self.zeros} zeros kept"
        return f"{self.unit or 'no unit'}{places}{zeros}"


def find_drill_format(text: str) -> DrillFormat:
    """Format that a drill file states anywhere, its statements before its comments, the first of each kind."""
    stated, spoken = DrillFormat(), DrillFormat()
    for line in map(str.strip, text.upper().splitlines()):
        if line.startswith(";"):
            spoken = spoken.filled_from(_spoken_format(line))
        else:
            stated = stated.filled_from(parse_unit_line(line))
    return stated.filled_from(spoken)


def parse_unit_line(line: str) -> DrillFormat:
    """Format stated by one line in capitals: `METRIC,TZ,000.000`, `INCH`, `M71`; empty for any other line."""
    if line in ("M71", "M72"):
        return DrillFormat(unit=STATED_UNITS[line])
    match = _UNIT_LINE.fullmatch(line)
    if match is None:
        return DrillFormat()
    found = DrillFormat(unit=STATED_UNITS[match[1]])
    for word in match[2].split(","):
        picture = _PICTURE.fullmatch(word)
        if picture is not None:
            found = replace(found, digits=(len(picture[1]), len(picture[2])))
        elif word in STATED_ZEROS:
            found = replace(found, zeros=STATED_ZEROS[word])
    return found


def _spoken_format(line: str) -> DrillFormat:
    digits = _COMMENT_DIGITS.match(line)
    words = _COMMENT_WORDS.match(line)
    spoken = "" if words is None else words[1]
    return DrillFormat(
        unit=next((unit for word, unit in SPOKEN_UNITS.items() if re.search(rf"\b{word}\b", spoken)), None),
        zeros=next((zeros for word, zeros in SPOKEN_ZEROS.items() if word in spoken), None),
        digits=None if digits is None else (int(digits[1]), int(digits[2])),
    )


def parse_drill_number(text: str, *, written: DrillFormat) -> float:
    """Coordinate in mm.

    Parameters
    ----------
    text : str
        Digits with an optional sign and an optional decimal point.
    written : DrillFormat
        Needs a unit; for a number without a point also digits, and which zeros are kept.

    Raises
    ------
    DrillError
        If the text is no number.
    """
    unit_mm = MM_PER_UNIT[written.unit or "mm"]
    figures = text.lstrip("+-")
    sign = -1.0 if text.startswith("-") else 1.0
    if not _NUMBER.fullmatch(figures):
        raise DrillError(f"{text!r} is no coordinate; allowed are digits with a sign and a decimal point")
    if "." in figures:
        return sign * float(figures) * unit_mm
    before, after = written.digits or USUAL_DIGITS[written.unit or "mm"][0]
    places = len(figures) - before if written.zeros == "leading" else after
    return sign * int(figures) / 10.0**places * unit_mm
