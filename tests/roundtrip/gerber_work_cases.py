"""Run by test_gerber_work.py in a process of its own: reads, draws and cuts up hostile files; a JSON line for each."""

import json
import math
import random
import re
import resource
import time
from collections.abc import Callable
from pathlib import Path

from paneglow.errors import GerberError
from paneglow.fab import draw_coverage, drawn_pieces, parse_gerber
from paneglow.grid import Grid

HEAD = "%FSLAX46Y46*%%MOMM*%G75*\n"
GRID = Grid.over(bounds_mm=(0.0, 0.0, 100.0, 100.0), pitch_mm=0.05)


def peak_megabytes() -> float:
    """Most memory of this program; the figure of `getrusage` counts the process that started it as well."""
    status = Path("/proc/self/status")
    if status.exists():
        return int(re.search(r"VmHWM:\s+(\d+) kB", status.read_text())[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def um(mm: float) -> int:
    """Coordinate of format 4.6."""
    return round(mm * 1e6)


def scattered(count: int, *, codes: tuple[str, ...]) -> str:
    """Statements at random places of a sheet."""
    dice = random.Random(1)
    return "".join(
        f"X{um(dice.uniform(0, 100))}Y{um(dice.uniform(0, 100))}{codes[k % len(codes)]}*" for k in range(count)
    )


def flashed(macro: str, *, times: int = 1) -> str:
    """A macro flashed along a line."""
    return f"%AMM*{macro}%%ADD10M*%D10*" + "".join(f"X{um(k)}Y0D03*" for k in range(times))


def star(count: int) -> str:
    """A round region whose corners lie on two circles in turn."""
    turns = [k / count * math.tau for k in range(count)]
    reach = [50 * (1 + 0.02 * (k % 2)) for k in range(count)]
    return "".join(
        f"X{um(r * math.cos(a))}Y{um(r * math.sin(a))}D0{2 if k == 0 else 1}*"
        for k, (a, r) in enumerate(zip(turns, reach, strict=True))
    )


CASES: dict[str, Callable[[], str]] = {
    "hole of 0.1 um": lambda: "%ADD11C,2X.0001*%D11*X0Y0D03*",
    "hole of ten million km": lambda: "%ADD11C,2X9999999999999*%D11*X0Y0D03*",
    "full circle under step-repeat 300 x 300": lambda: (
        "%ADD10C,0.1*%D10*%SRX300Y300I0.5J0.5*%X5000000Y0D02*G03X5000000Y0I-5000000J0D01*%SR*%"
    ),
    "8000 alternating exposures": lambda: flashed(
        "".join(f"1,{k % 2},{3 + k % 7 * 0.1},{k % 13 * 0.05},0*" for k in range(8000, 0, -1))
    ),
    "19000 circles flashed 100 times": lambda: flashed(
        "".join(f"1,1,0.5,{k % 150 * 0.1},{k // 150 * 0.1}*" for k in range(19_000)), times=100
    ),
    "scribbled region of 200000 corners": lambda: "G36*X0Y0D02*" + scattered(200_000, codes=("D01",)) + "G37*",
    "round region of 200000 corners": lambda: "G36*" + star(200_000) + "G37*",
    "100000 long strokes of a rectangle": lambda: "%ADD10R,1X0.5*%D10*" + scattered(200_000, codes=("D02", "D01")),
    "macro of 20000 assignments used 100 times": lambda: (
        "%AMM*" + ("$1=" + "+".join("1" * 99) + "*") * 19_990 + "1,1,1,0,0*%"
        + "".join(f"%ADD{10 + k}M,1*%" for k in range(100))
    ),
    "arc about a point light years away": lambda: (
        "%ADD10C,1*%D10*X0Y0D02*G02X10Y10I9999999999999J9999999999999D01*"
    ),
    "pour crossed by 3000 clear lines": lambda: (
        "G36*X0Y0D02*X100000000D01*Y100000000D01*X0D01*Y0D01*G37*%LPC*%%ADD10C,0.02*%D10*"
        + "".join(f"X{um(k / 30)}Y0D02*X{um(k / 30)}Y100000000D01*" for k in range(3000))
    ),
    "region that crosses itself": lambda: "G36*X0Y0D02*" + scattered(20_000, codes=("D01",)) + "G37*",
}  # fmt: skip

for name, body in CASES.items():
    text, refused = HEAD + body() + "M02*", None
    start = time.perf_counter()
    try:
        drawing = parse_gerber(text, path="layer.gbr")
        draw_coverage(drawing, grid=GRID)
        drawn_pieces(drawing, bounds_mm=(0.0, 0.0, 100.0, 100.0))
    except GerberError as error:
        refused = str(error)
    seconds = time.perf_counter() - start
    megabytes = peak_megabytes()  # the most so far, all cases together
    print(json.dumps({"name": name, "seconds": seconds, "megabytes": megabytes, "refused": refused}))  # noqa: T201
