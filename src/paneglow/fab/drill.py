"""Excellon and XNC drill text to drill hits: holes, slots and routed paths in mm, plated where the file says so.

Written from the XNC format specification (Ucamco, 2021.11) and the public Excellon statement list; a statement that
would move a hole and is not understood is an error, never skipped.
"""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Literal, NoReturn

from paneglow.errors import DrillError
from paneglow.fab.curves import arc_points
from paneglow.fab.drill_format import (
    MM_PER_UNIT,
    USUAL_DIGITS,
    DrillFormat,
    Unit,
    find_drill_format,
    parse_drill_number,
    parse_unit_line,
)
from paneglow.fab.records import Arc, Point

_TOOL_DEFINITION = re.compile(r"^\s*T\d+.*C[\d.]+", re.MULTILINE | re.IGNORECASE)
_POSITION = re.compile(r"^\s*[XY][+-]?[\d.]+", re.MULTILINE | re.IGNORECASE)
_FILE_FUNCTION = re.compile(r"TF\.FileFunction,([^*\r\n]*)", re.IGNORECASE)
MAX_HITS = 200_000  # assumed: a dense 0.5 m panel has some 50 000; a repeat count of millions is an attack
MAX_STATEMENT = 200  # characters; a whole slot in the longest format takes some 60
MAX_DIAMETER_MM = 100.0  # assumed: cutters and drills end far below; larger is a wrong unit
ROUTED_ARC_SAGITTA_MM = 0.005  # routing itself is good to 0.10 mm (trade-facts: rout +-0.10 mm)

# Header and body words that move no hole: setup, feeds, messages, the machine's own business
HARMLESS = re.compile(
    r"M48|VER,.*|FMAT,[12]|ATC.*|DETECT.*|TCST.*|SBK.*|SG.*|RC|R,[TCR].*|BLKD|OM48|OSTOP.*|UP.*|NCSL.*|AFS|CCW|CP.*"
    r"|M0?[069]|M18|M47.*|M50|M60|M61|M62|G04.*|F\d.*|S\d.*|Z[+-]?\d.*|\(.*\)|ICI|ICI,OFF"
)
FINISHED = frozenset({"M30", "M00", "M0"})
HEADER_ENDS = frozenset({"%", "M95"})
_WORD = re.compile(r"([A-Z])([+-]?[\d.]*)", re.ASCII)
_TOOL = re.compile(r"T(\d{1,4})((?:[A-Z][+-]?[\d.]+)*)", re.ASCII)
_DIAMETER = re.compile(r"\d+\.?\d*|\.\d+", re.ASCII)
_COMMENT_TYPE = re.compile(r"TYPE\s*=\s*(NON[_ -]?PLATED|PLATED)")
_COMMENT_FILE = re.compile(r"TF\.FILEFUNCTION,\s*(NONPLATED|PLATED|MIXEDPLATING)")
_COMMENT_TOOL = re.compile(r"TA\.APERFUNCTION,\s*(NONPLATED|PLATED)")

Motion = Literal["drill", "move", "cut", "clockwise", "counter-clockwise"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillHit:
    """A hole, a slot, or one straight piece of a routed path; `plated` is None where the file does not say."""

    start_mm: Point
    end_mm: Point
    diameter_mm: float
    plated: bool | None
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillFile:
    """One drill file, read.

    `written` is the format used; `guessed` names what of it ("unit", "digits", "zeros") the file needs but does not
    state. `function` is the X2 file function, empty where there is none.
    """

    name: str
    hits: tuple[DrillHit, ...]
    written: DrillFormat
    guessed: frozenset[str]
    function: str = ""
    notes: tuple[str, ...] = field(default=())


@dataclass(slots=True, kw_only=True)
class Machine:
    """A drilling machine that has read up to some line; mutable, private to one call of `parse_drill`."""

    name: str
    written: DrillFormat
    hits: list[DrillHit] = field(default_factory=list)
    is_finished: bool = False
    met_no_point: bool = False
    met_dropped_zeros: bool = False
    _messages: dict[str, None] = field(default_factory=dict)
    _line: int = 0
    _at: Point = (0.0, 0.0)
    _origin: Point = (0.0, 0.0)
    _is_relative: bool = False
    _motion: Motion = "drill"
    _is_down: bool = False
    _tools: dict[int, tuple[float, bool | None]] = field(default_factory=dict)
    _tool: tuple[float, bool | None] | None = None
    _file_plated: bool | None = None
    _tool_plated: bool | None = None
    _pattern_start: int = 0
    _pattern_end: int = 0
    _pattern_shift: Point = (0.0, 0.0)

    @property
    def notes(self) -> tuple[str, ...]:
        """What was met and is worth saying, each once."""
        return tuple(self._messages)

    def take_line(self, line: str, *, number: int) -> None:
        """Go on by one line of the file."""
        self._line = number
        statement = line.strip().upper()
        if statement.startswith(";"):
            self._take_comment(statement)
            return
        statement = re.sub(r"^N\d+(?=[A-Z])", "", statement.replace(" ", ""))
        if len(statement) > MAX_STATEMENT:
            self._fail(f"has a statement of {len(statement)} characters; allowed are {MAX_STATEMENT}")
        if statement in FINISHED:
            self.is_finished = True
        elif statement in HEADER_ENDS:
            self._tool = None  # the header only defines tools
        elif statement and not HARMLESS.fullmatch(statement):
            self._take_statement(statement)

    def _take_comment(self, comment: str) -> None:
        if "TD" in comment.replace("#@!", "").split():
            self._tool_plated = None
        if (match := _COMMENT_TYPE.search(comment)) is not None:
            self._file_plated = match[1] == "PLATED"
        if (match := _COMMENT_FILE.search(comment)) is not None:
            self._file_plated = {"PLATED": True, "NONPLATED": False}.get(match[1])
        if (match := _COMMENT_TOOL.search(comment)) is not None:
            self._tool_plated = match[1] == "PLATED"

    def _take_statement(self, statement: str) -> None:
        unit_line = parse_unit_line(statement)
        if unit_line.unit is not None:
            self.written = unit_line.filled_from(self.written)
        elif statement == "ICI,ON":
            self._is_relative = True
        elif (tool := _TOOL.fullmatch(statement)) is not None:
            self._take_tool(tool)
        else:
            self._take_words(statement)

    def _take_tool(self, tool: re.Match[str]) -> None:
        number = int(tool[1])
        words = dict(_WORD.findall(tool[2]))
        if "C" in words:
            self._define_tool(number, diameter=words["C"])
        elif len(tool[1]) == 4 and number not in self._tools:
            number //= 100  # tool number and compensation index written together
        if number == 0:
            self._tool = None
            return
        if number not in self._tools:
            self._tools[number] = (0.0, self._plated_now())
        self._tool = self._tools[number]
        if "X" in words or "Y" in words:
            self._fail("has a position on the line of a tool; allowed is one on the next line")

    def _define_tool(self, number: int, *, diameter: str) -> None:
        if not _DIAMETER.fullmatch(diameter):
            self._fail(f"tool T{number} has the diameter {diameter!r}; allowed are digits with a decimal point")
        diameter_mm = float(diameter) * MM_PER_UNIT[self.written.unit or "mm"]
        if not 0.0 < diameter_mm <= MAX_DIAMETER_MM:
            self._fail(
                f"tool T{number} has a diameter of {diameter_mm:g} mm; allowed is above 0 to {MAX_DIAMETER_MM:g} mm:"
                " is the unit right?"
            )
        self._tools[number] = (diameter_mm, self._plated_now())

    def _plated_now(self) -> bool | None:
        return self._file_plated if self._tool_plated is None else self._tool_plated

    def _take_words(self, statement: str) -> None:
        first, _, slot_end = statement.partition("G85")
        words = self._words(first)
        codes = [(letter, value) for letter, value in words if letter in "GM"]
        places = {letter: value for letter, value in words if letter not in "GM"}
        for letter, value in codes:
            self._take_code(f"{letter}{int(value)}" if value.isdecimal() else f"{letter}{value}", places=places)
        if slot_end:
            self._take_slot(places, slot_end=dict(self._words(slot_end)))
        elif "R" in places:
            self._take_repeat(places)
        elif "X" in places or "Y" in places:
            self._take_motion(places)
        elif not codes:
            self._fail(f"{statement!r} is not understood")

    def _words(self, text: str) -> list[tuple[str, str]]:
        words = _WORD.findall(text)
        if "".join(letter + value for letter, value in words) != text or any(not value for _, value in words):
            self._fail(f"{text!r} is not understood")
        return words

    def _take_code(self, code: str, *, places: dict[str, str]) -> None:
        actions: dict[str, Callable[[], None]] = {
            "G0": lambda: self._set_motion("move"),
            "G1": lambda: self._set_motion("cut"),
            "G2": lambda: self._set_motion("clockwise"),
            "G3": lambda: self._set_motion("counter-clockwise"),
            "G5": lambda: self._set_motion("drill"),
            "G81": lambda: self._set_motion("drill"),
            "G40": lambda: None,
            "G90": lambda: self._set_relative(False),
            "G91": lambda: self._set_relative(True),
            "G92": lambda: self._set_origin(places),
            "G93": lambda: self._set_origin(places),
            "M14": lambda: self._set_down(True),
            "M15": lambda: self._set_down(True),
            "M16": lambda: self._set_down(False),
            "M17": lambda: self._set_down(False),
            "M25": self._start_pattern,
            "M1": self._end_pattern,
            "M2": lambda: self._repeat_pattern(places),
            "M8": self._start_pattern,
        }
        if code not in actions:
            self._fail(f"{code} is not understood and may move holes; write holes, slots (G85) and routed paths only")
        actions[code]()

    def _set_motion(self, motion: Motion) -> None:
        if motion not in ("drill", "move") and self._motion == "drill":
            self._fail("cuts before any G00 says where the path starts")
        self._motion = motion
        self._is_down = self._is_down and motion != "drill"

    def _set_relative(self, is_relative: bool) -> None:
        self._is_relative = is_relative

    def _set_down(self, is_down: bool) -> None:
        self._is_down = is_down

    def _set_origin(self, places: dict[str, str]) -> None:
        """Move the zero that later positions count from (work zero)."""
        self._origin = (self._number(places.pop("X", "0.0")), self._number(places.pop("Y", "0.0")))
        self._at = self._origin

    def _number(self, text: str) -> float:
        figures = text.lstrip("+-")
        if "." not in figures:
            digits = self.written.digits or USUAL_DIGITS[self.written.unit or "mm"][0]
            self.met_no_point = True
            self.met_dropped_zeros |= len(figures) < sum(digits) and int(figures or "0") != 0
        try:
            return parse_drill_number(text, written=self.written)
        except DrillError as error:
            self._fail(str(error))

    def _position(self, places: dict[str, str]) -> Point:
        """Point that a statement leads to; an axis it does not name stays."""
        base = self._at if self._is_relative else self._origin
        x = base[0] + self._number(places["X"]) if "X" in places else self._at[0]
        y = base[1] + self._number(places["Y"]) if "Y" in places else self._at[1]
        return (x, y)

    def _take_motion(self, places: dict[str, str]) -> None:
        start, end = self._at, self._position(places)
        self._at = end
        if self._motion == "drill":
            self._cut(end, end)
        elif self._motion == "cut":
            self._note_cut_in_air()
            self._cut(start, end)
        elif self._motion != "move":
            self._note_cut_in_air()
            self._cut_arc(start, end, places)

    def _note_cut_in_air(self) -> None:
        if not self._is_down:
            self._messages[f"{self.name}: routed paths without M15 (tool down); taken as cut"] = None

    def _take_slot(self, places: dict[str, str], *, slot_end: dict[str, str]) -> None:
        start = self._position(places)
        self._at = start
        self._at = self._position(slot_end)
        self._cut(start, self._at)

    def _take_repeat(self, places: dict[str, str]) -> None:
        """Repeat the hole just drilled at equal steps."""
        if self._motion != "drill" or not places["R"].isdecimal():
            self._fail("repeats something other than a drilled hole; allowed is R with a count after a hole")
        step = (self._number(places.get("X", "0.0")), self._number(places.get("Y", "0.0")))
        for _ in range(min(int(places["R"]), MAX_HITS + 1)):
            self._at = (self._at[0] + step[0], self._at[1] + step[1])
            self._cut(self._at, self._at)

    def _cut_arc(self, start: Point, end: Point, places: dict[str, str]) -> None:
        clockwise = self._motion == "clockwise"
        if "A" in places:
            centre = self._centre_by_radius(start, end, self._number(places["A"]), clockwise=clockwise)
        elif "I" in places or "J" in places:
            offset = (self._number(places.get("I", "0.0")), self._number(places.get("J", "0.0")))
            centre = (start[0] + offset[0], start[1] + offset[1])
        else:
            self._fail("has an arc without radius (A) or centre (I, J)")
        arc = Arc(start_mm=start, end_mm=end, centre_mm=centre, clockwise=clockwise)
        points = [start, *arc_points(arc, sagitta_mm=ROUTED_ARC_SAGITTA_MM)]
        for before, after in zip(points, points[1:], strict=False):
            self._cut(before, after)

    def _centre_by_radius(self, start: Point, end: Point, radius_mm: float, *, clockwise: bool) -> Point:
        """Centre of the arc of at most half a turn."""
        dx, dy = end[0] - start[0], end[1] - start[1]
        chord = math.hypot(dx, dy)
        if chord == 0.0 or 2.0 * radius_mm < chord * (1.0 - 1e-3):
            self._fail(f"has an arc of radius {radius_mm:g} mm that cannot span {chord:g} mm")
        height = math.sqrt(max(0.0, radius_mm**2 - (chord / 2.0) ** 2)) / chord
        side = 1.0 if clockwise else -1.0
        return ((start[0] + end[0]) / 2.0 + side * dy * height, (start[1] + end[1]) / 2.0 - side * dx * height)

    def _start_pattern(self) -> None:
        self._pattern_start = self._pattern_end = len(self.hits)
        self._pattern_shift = (0.0, 0.0)

    def _end_pattern(self) -> None:
        self._pattern_end = len(self.hits)

    def _repeat_pattern(self, places: dict[str, str]) -> None:
        """Repeat the holes between M25 and M01, each time one step further; outside a pattern M02 ends the program."""
        if not places and self._pattern_start == self._pattern_end:
            self.is_finished = True
            return
        step = (self._number(places.pop("X", "0.0")), self._number(places.pop("Y", "0.0")))
        count = places.pop("R", "1")
        pattern = self.hits[self._pattern_start : self._pattern_end]
        if not pattern or not count.isdecimal():
            self._fail("repeats a pattern (M02) that no M25 and M01 enclose")
        for _ in range(min(int(count), MAX_HITS + 1)):
            x, y = self._pattern_shift = (self._pattern_shift[0] + step[0], self._pattern_shift[1] + step[1])
            for hit in pattern:
                (x0, y0), (x1, y1) = hit.start_mm, hit.end_mm
                self._add(replace(hit, start_mm=(x0 + x, y0 + y), end_mm=(x1 + x, y1 + y), line=self._line))

    def _cut(self, start: Point, end: Point) -> None:
        if self._tool is None:
            self._fail("drills before a tool is chosen; a line such as T1 must come first")
        diameter_mm, plated = self._tool
        if diameter_mm == 0.0:
            self._fail("drills with a tool that has no diameter; its definition, such as T1C0.5, is missing")
        self._add(DrillHit(start_mm=start, end_mm=end, diameter_mm=diameter_mm, plated=plated, line=self._line))

    def _add(self, hit: DrillHit) -> None:
        if len(self.hits) >= MAX_HITS:
            self._fail(f"has more than {MAX_HITS} holes, the limit for one file")
        self.hits.append(hit)

    def _fail(self, message: str) -> NoReturn:
        raise DrillError(message, path=self.name, line=self._line)


def looks_like_drill(text: str) -> bool:
    """Whether text is Excellon or XNC: it starts with M48, or it defines tools and has positions, and is no Gerber."""
    statements = (line.strip() for line in text.splitlines())
    first = next((line for line in statements if line and not line.startswith(";")), "")
    if first.upper() == "M48":
        return True
    is_gerber = "%FS" in text or "%MO" in text or re.search(r"D0?[123]\*", text) is not None
    return not is_gerber and _TOOL_DEFINITION.search(text) is not None and _POSITION.search(text) is not None


def parse_drill(text: str, *, name: str, assumed: DrillFormat | None = None) -> DrillFile:
    """Bores of one drill file.

    Parameters
    ----------
    text : str
        The file's text.
    name : str
        File name for messages.
    assumed : DrillFormat, optional
        Fills what the file does not state; where that leaves gaps too: mm, and the usual digits of the unit with
        leading zeros dropped.

    Raises
    ------
    DrillError
        At a statement that cannot be understood, a hole before a tool, a tool without diameter, a truncated file.
    """
    stated = find_drill_format(text)
    filled = stated.filled_from(assumed or DrillFormat())
    machine = Machine(name=name, written=filled.filled_from(DrillFormat(unit=_fallback_unit(stated))))
    for number, line in enumerate(text.splitlines(), start=1):
        if machine.is_finished:
            break
        machine.take_line(line, number=number)
    function = _FILE_FUNCTION.search(text)
    return DrillFile(
        name=name,
        hits=tuple(machine.hits),
        written=machine.written,
        guessed=_guessed(stated, machine=machine),
        function="" if function is None else function[1].strip(),
        notes=_end_notes(machine, text=text),
    )


def _fallback_unit(stated: DrillFormat) -> Unit:
    return stated.unit or "mm"


def _guessed(stated: DrillFormat, *, machine: Machine) -> frozenset[str]:
    """Say what the numbers met in the file need and the file does not state."""
    needed = {
        "unit": stated.unit is None and bool(machine.hits),
        "digits": stated.digits is None and machine.met_no_point,
        "zeros": stated.zeros is None and machine.met_dropped_zeros,
    }
    return frozenset(name for name, is_open in needed.items() if is_open)


def _end_notes(machine: Machine, *, text: str) -> tuple[str, ...]:
    if machine.is_finished or not text.strip():
        return machine.notes
    if not text.endswith(("\n", "\r")):
        raise DrillError("ends in the middle of a line and without M30; the file is truncated", path=machine.name)
    return (
        *machine.notes,
        f"{machine.name} ends without M30: it may be cut short, and holes may be missing",
    )
