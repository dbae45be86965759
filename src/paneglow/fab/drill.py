"""Excellon and XNC drill text to bores: holes, slots and routed paths in mm, plated where the file says so.

Written from the XNC format specification (Ucamco, 2021.11) and the public Excellon statement list; a statement that
would move a hole and is not understood is an error, never skipped.
"""

import re
from dataclasses import dataclass, field

from paneglow.errors import DrillError
from paneglow.fab.drill_format import DrillFormat, Unit, find_drill_format
from paneglow.fab.drill_machine import Machine
from paneglow.fab.records import Point

_TOOL_DEFINITION = re.compile(r"^\s*T\d+.*C[\d.]+", re.MULTILINE | re.IGNORECASE)
_POSITION = re.compile(r"^\s*[XY][+-]?[\d.]+", re.MULTILINE | re.IGNORECASE)
_FILE_FUNCTION = re.compile(r"TF\.FileFunction,([^*\r\n]*)", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bore:
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
    bores: tuple[Bore, ...]
    written: DrillFormat
    guessed: frozenset[str]
    function: str = ""
    notes: tuple[str, ...] = field(default=())


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
        bores=tuple(Bore(start_mm=b[0], end_mm=b[1], diameter_mm=b[2], plated=b[3], line=b[4]) for b in machine.bores),
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
        "unit": stated.unit is None and bool(machine.bores),
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
