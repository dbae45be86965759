"""Netlists for bare-board test in the format IPC-D-356A: test points by net, component and pin.

The columns are from memory of the standard; tests compare them with an independent reader of the format.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from paneglow.errors import FabricationError
from paneglow.fab.archive import read_content
from paneglow.fab.records import Point

MAX_NETLIST_BYTES = 32_000_000  # chosen: some 400 000 test points, far above any board
FEATURES = ("317", "327", "367")  # through hole, surface pad, tooling hole
END = "999"
# One step of a coordinate, by the unit code of "P UNITS CUST n"
MM_PER_STEP = {
    "": 0.00254,  # 0.0001 inch
    "0": 0.00254,
    "1": 0.001,
    "2": 0.00254,  # as 0, with angles in radians, which are not read here
}
ACCESS_BOTH = 0
UNCONNECTED = "N/C"

Access = Literal["front", "back", "both", "inner"]
_NUMBER = re.compile(r"[+-]?\d+", re.ASCII)
_LAYER = re.compile(r"A\d{1,2}", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class NetPoint:
    """One test point: a pad, a via or a hole.

    `access` is the face it can be touched from. `net` is empty where the file says that it is not connected.
    """

    net: str  # Name of its net; empty where it is not connected
    ref: str  # Designator of the component; empty where it is none
    pin: str  # Pin of the component
    at_mm: Point  # Place (x, y) on the board, seen from the front
    access: Access  # Face it can be touched from
    line: int  # Line number in the file, from 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Netlist:
    """One netlist file, read."""

    path: Path  # The file
    points: tuple[NetPoint, ...]  # Its test points


def read_netlist(path: Path | str, *, copper_layers: int = 2) -> Netlist:
    """Test points of an IPC-D-356A file.

    Parameters
    ----------
    path : Path or str
        May lie within a .zip (`fab.zip/netlist.ipc`).
    copper_layers : int
        Number of the layer that is the back, for points that name their layer; at least 1.

    Returns
    -------
    Netlist
        Places in mm, in the frame of the file, seen from the front.

    Raises
    ------
    FabricationError
        With path and line: unreadable, no unit, a test point without a place or with a number that is none.
    """
    path = Path(path)
    text = read_content(path, most_bytes=MAX_NETLIST_BYTES).decode("latin-1")
    return parse_netlist(text, path=path, copper_layers=copper_layers)


def parse_netlist(text: str, *, path: Path, copper_layers: int = 2) -> Netlist:
    """Test points of the text of an IPC-D-356A file; `path` is for messages.

    Raises
    ------
    FabricationError
        As `read_netlist`.
    """
    names: dict[str, str] = {}
    step_mm: float | None = None
    points: list[NetPoint] = []
    for line, record in _records(text):
        if record.startswith("P"):
            step_mm = _read_parameter(record, names=names, step_mm=step_mm, path=path, line=line)
        elif record.startswith(FEATURES):
            if step_mm is None:
                raise FabricationError(
                    "a test point stands before the unit; add 'P  UNITS CUST 1' (mm) or 'P  UNITS CUST 0' (inch)",
                    path=path,
                    line=line,
                )
            points.append(_parse_point(record, names=names, step_mm=step_mm, back=copper_layers, path=path, line=line))
    if not points:
        raise FabricationError("has no test points (317, 327); give a netlist in the format IPC-D-356A", path=path)
    return Netlist(path=path, points=tuple(points))


def _records(text: str) -> Iterator[tuple[int, str]]:
    """Lines up to the end record, with their numbers; comments and continued conductor records are left out."""
    for line, raw in enumerate(text.splitlines(), start=1):
        if raw.startswith(END):
            return
        if raw.strip() and raw[0] in "P3":
            yield line, raw.rstrip()


def _read_parameter(
    record: str, *, names: dict[str, str], step_mm: float | None, path: Path, line: int
) -> float | None:
    words = record[1:].split()
    if words[:1] == ["UNITS"]:
        code = "".join(words[1:]).upper().removeprefix("CUST")
        if code not in MM_PER_STEP:
            raise FabricationError(
                f"unit {' '.join(words[1:])!r} is unknown; allowed are CUST 0, CUST 1 and CUST 2", path=path, line=line
            )
        return MM_PER_STEP[code]
    if words and words[0].startswith("NNAME") and len(words) > 1:
        names[words[0]] = " ".join(words[1:])  # a name longer than its 14 columns
    return step_mm


def _parse_point(
    record: str, *, names: Mapping[str, str], step_mm: float, back: int, path: Path, line: int
) -> NetPoint:
    columns = record.ljust(80)
    net = columns[3:17].strip()
    if columns[41] != "X" or columns[49] != "Y":
        raise FabricationError(
            "a test point has no X in column 42 or no Y in column 50; export the netlist again", path=path, line=line
        )
    x, y = (
        _parse_steps(columns[part], what=what, path=path, line=line) * step_mm
        for what, part in (("X", slice(42, 49)), ("Y", slice(50, 57)))
    )
    return NetPoint(
        net="" if net == UNCONNECTED else names.get(net, net),
        ref=columns[20:26].strip(),
        pin=columns[27:31].strip(),
        at_mm=(round(x, 6), round(y, 6)),
        access=_access(columns[38:41].strip(), is_hole=record.startswith("317"), back=back, path=path, line=line),
        line=line,
    )


def _parse_steps(text: str, *, what: str, path: Path, line: int) -> int:
    if not _NUMBER.fullmatch(text.strip()):
        raise FabricationError(f"{what} of a test point is {text!r}; needed is a whole number", path=path, line=line)
    return int(text)


def _access(code: str, *, is_hole: bool, back: int, path: Path, line: int) -> Access:
    if code.startswith("A") and not _LAYER.fullmatch(code):
        raise FabricationError(
            f"a test point names layer {code!r}; allowed are A and two digits, such as A01", path=path, line=line
        )
    layer = int(code[1:]) if code.startswith("A") else ACCESS_BOTH if is_hole else 1
    by_layer: dict[int, Access] = {ACCESS_BOTH: "both", 1: "front", max(back, 2): "back"}
    return by_layer.get(layer, "inner")
