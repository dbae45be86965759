"""Damaged files into every reader: each must be read, or refused in one short message, soon and within its memory.

    python tools/fuzz.py --seconds 3600 --seed 1

A case is a seed's text cut, spliced, doubled or sprinkled with what breaks readers (numbers beyond all sizes, quotes,
control characters, directions of writing, digits of other scripts), or pieced together anew from words of its format.
What raises anything but an error of ours, says more than one line of 4,000 characters for one fault, takes longer than
`SLOW_S` or more memory than `MOST_MB` is written into build/fuzz/ and ends the run with exit code 1.
"""

import argparse
import hashlib
import random
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from paneglow.catalog import read_catalog
from paneglow.catalog.photometric import read_photometric
from paneglow.cost import read_costs
from paneglow.design import read_design
from paneglow.errors import PaneglowError
from paneglow.fab import centre_lines, draw_coverage, drawn_pieces, parse_gerber, read_netlist, read_placement
from paneglow.fab.drill import parse_drill
from paneglow.fab.outline import build_outline
from paneglow.grid import Grid
from paneglow.transport import TraceCache
from paneglow.transport.tally import Trial

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "examples" / "harbour-keepsake"
FOUND = ROOT / "build" / "fuzz"
SLOW_S = 10.0
MOST_MB = 1024
MOST_CHARACTERS = 4_000  # of one message; files of records say a line for every field that is wrong
SMALL_GRID = Grid(x_min_mm=0.0, y_min_mm=0.0, pitch_mm=0.2, n_x=100, n_y=100)

NASTY = (
    "9999999999999", "99999999999999999999", "-1", "-0", "0", "1e400", "1e-400", "nan", "inf", ".", "-", "+", "0.0001",
    "\u00b2", "\u0660", "\u202e", "\x00", "\x1b[31m", "\r", "\n", "\t", '"', "'", "\\", "\ufeff", "%", "*", ",", ";",
    "=",
    "[", "]", "[[", "{", "}", "#", "X", "Y", "D01*", "M02*", "é", "\U0001f4a1", " " * 200, "9" * 60,
)  # fmt: skip
WORDS: dict[str, tuple[str, ...]] = {
    "gerber": (
        "%FSLAX46Y46*%", "%MOMM*%", "%ADD10C,1*%", "%ADD11C,2X.0001*%", "%ADD12R,1X2*%", "%ADD13P,1X5X3*%", "D10*",
        "D11*",
        "%AMM*1,1,$1,0,0*1,0,$1,1,0*%", "%ADD14M,3*%", "D14*", "%SRX30Y30I1J1*%", "%SR*%", "%ABD20*%", "%AB*%", "D20*",
        "G36*", "G37*", "G01*", "G02*", "G03*", "G74*", "G75*", "%LPC*%", "%LPD*%", "%LMXY*%", "%LR33*%", "%LS9*%",
        "X1000000Y1000000D02*", "X5000000Y0I-5000000J0D01*", "X20000000Y9000000D01*", "X0Y0D03*", "%TO.N,N/C*%", "M02*",
    ),
    "drill": (
        "M48", "METRIC,TZ", "INCH", "T1C0.8", "T2C9999", "%", "G05", "G00", "G85", "M15", "M16", "T1", "T01", "X1Y1",
        "R99999",
        "X1.0Y2.0G85X3.0Y4.0", "G02X1Y1A5", "M25", "M01", "M02X1Y1", "R5X1", "G91", "G92X1Y1", "M30",
    ),
    "netlist": ("P  UNITS CUST 1", "P  UNITS CUST 0", "317", "327", "999", "P  NNAME1 long", "C  a comment"),
    "placement": ("Reference,X (mm),Y (mm),Rotation (deg),Side", "D1,1,1,0,back", "# rotations: zero=axis",
    "units: mil"),
}  # fmt: skip
IES = (
    "IESNA:LM-63-2002\n[TEST] ours\nTILT=NONE\n1 -1 1.0 5 1 1 2 0.001 0.001 0\n1.0 1.0 0.06\n"
    "0 20 40 60 90\n0\n100 90 70 40 0\n"
)
LDT = "\n".join(
    (
        *("ours", "1", "1", "1", "90", "5", "10"),  # symmetric about the axis, one plane of five angles
        *(["x"] * 5 + ["1"] * 9 + ["100", "100", "1", "0", "1"]),
        *("1", "LED", "1000", "6500", "80", "1"),
        *(["0.5"] * 10 + ["0"] + ["0", "20", "40", "60", "90"] + ["100", "90", "70", "40", "0"]),
    )
)


def point_record(kind: str, net: str, ref: str, pin: str, *, hole: str, access: str, place: str) -> str:
    """A record of a netlist."""
    return f"{kind}{net:<14}   {ref:<6}-{pin:<4} {hole:<6}{access}{place}X0600Y0600R000 S0"


NETLIST = "\n".join(
    (
        "P  UNITS CUST 1",
        point_record("327", "SUPPLY", "D1", "2", hole="", access="A02", place="X+012700Y-005080"),
        point_record("317", "GROUND", "VIA", "", hole="D0300P", access="A00", place="X+000000Y+000100"),
        "999\n",
    )
)


@dataclass(frozen=True, kw_only=True)
class Target:
    """One reader with texts to start from."""

    name: str
    seeds: tuple[bytes, ...]
    read: Callable[[bytes], object]
    words: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Failure:
    """A case that was neither read nor refused as it should be."""

    target: str
    content: bytes
    why: str


def mutated(content: bytes, other: bytes, *, dice: random.Random) -> bytes:
    """One damaged version of a content; `other` is what it may be spliced with."""
    for _ in range(dice.choice((1, 1, 2, 4, 12))):
        place, until = sorted((dice.randint(0, len(content)), dice.randint(0, len(content))))
        until = min(until, place + dice.choice((1, 3, 20, 400, 10**6)))
        new = dice.choice(
            (
                b"",
                dice.choice(NASTY).encode(),
                content[place:until] * dice.choice((2, 3, 50)),
                bytes([dice.randrange(256)]),
                other[dice.randint(0, len(other)) :][: dice.choice((5, 80, 3000))],
            )
        )
        content = (content[:place] + new + content[until:])[:400_000]
    return content


def damaged_numbers(content: bytes, *, dice: random.Random) -> bytes:
    """The content with a few of its numbers replaced by others."""
    text = content.decode("latin-1")
    places = [k for k, sign in enumerate(text) if sign.isdigit() and (k == 0 or not text[k - 1].isdigit())]
    for place in sorted(dice.sample(places, min(len(places), dice.choice((1, 1, 3)))), reverse=True):
        end = place
        while end < len(text) and text[end].isdigit():
            end += 1
        text = text[:place] + dice.choice((*NASTY[:13], str(dice.randrange(10**6)))) + text[end:]
    return text.encode("latin-1", errors="replace")


def cases(target: Target, *, dice: random.Random) -> Iterator[bytes]:
    """Damaged contents without end."""
    while True:
        content, other = dice.choice(target.seeds), dice.choice(target.seeds)
        way = dice.random()
        if target.words and way < 0.25:
            lines = dice.choices((*target.words, *NASTY[:20]), k=dice.randint(1, 60))
            yield ("\n".join((*target.words[: dice.choice((0, 3))], *lines)) + "\n").encode()
        elif way < 0.5:
            yield damaged_numbers(content, dice=dice)
        else:
            yield mutated(content, other, dice=dice)


@contextmanager
def time_limit(seconds: float) -> Iterator[None]:
    """Raise a TimeoutError after so long, even within a loop of Python."""

    def stop(*_: object) -> None:
        raise TimeoutError(f"took more than {seconds:g} s")

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)


def try_case(target: Target, content: bytes, *, with_memory: bool = True) -> Failure | None:
    """Read one case; None where that went as it should. Memory is that of the whole process at its most."""
    start = time.process_time()  # other work on the machine is no fault of a reader
    try:
        with time_limit(6 * SLOW_S):
            target.read(content)
    except PaneglowError as error:
        lines = str(error).splitlines()
        if len(lines) > 1 and target.name not in ("design", "parts", "cost"):
            return Failure(target=target.name, content=content, why=f"says {len(lines)} lines: {lines[:3]}")
        if max(map(len, lines), default=0) > MOST_CHARACTERS:
            return Failure(target=target.name, content=content, why=f"says {len(str(error))} characters")
    except Exception:  # whatever else comes is what is looked for
        return Failure(target=target.name, content=content, why=traceback.format_exc(limit=-6))
    if time.process_time() - start > SLOW_S:
        return Failure(target=target.name, content=content, why=f"took {time.process_time() - start:.1f} s")
    if with_memory and resource.getrusage(resource.RUSAGE_SELF).ru_maxrss > MOST_MB * 1024:
        return Failure(target=target.name, content=content, why=f"needed more than {MOST_MB} MB")
    return None


def build_targets(folder: Path) -> tuple[Target, ...]:
    """All readers; what they read from is written into a folder."""

    def through_file(name: str, read: Callable[[Path], object]) -> Callable[[bytes], object]:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)

        def read_it(content: bytes) -> object:
            path.write_bytes(content)
            return read(path)

        return read_it

    def read_gerber(content: bytes) -> None:
        drawing = parse_gerber(content.decode("latin-1"), path="layer.gbr")
        draw_coverage(drawing, grid=SMALL_GRID)
        drawn_pieces(drawing, bounds_mm=SMALL_GRID.bounds_mm)

    def read_trace(content: bytes) -> None:
        (folder / "traces" / kept.name).write_bytes(content)
        trial = cache.load_trial("case")
        if trial is not None and content != whole:
            raise AssertionError("a damaged trace was taken for a whole one")

    cache = TraceCache(folder=folder / "traces")
    cache.keep_trial("case", Trial(is_enough=True, comes_out_frac=0.5))
    (kept,) = (folder / "traces").glob("*")
    whole = kept.read_bytes()
    gerber = tuple(p.read_bytes() for p in sorted((ROOT / "tests" / "data" / "gerber").glob("*/*.gbr")))
    drills = tuple(path.read_bytes() for path in sorted((DEMO / "fab").glob("*.drl")))
    (edge,) = (DEMO / "fab").glob("*outline*")

    def read_outline(content: bytes) -> object:
        lines = centre_lines(parse_gerber(content.decode("latin-1"), path="edge.gbr"))
        none = np.empty((0, 2))
        return build_outline(lines, copper_points=none, mask_points=none, name="edge.gbr")

    return (
        Target(name="gerber", seeds=gerber, read=read_gerber, words=WORDS["gerber"]),
        Target(name="outline", seeds=(edge.read_bytes(),), read=read_outline),
        Target(
            name="drill",
            seeds=drills,
            read=lambda content: parse_drill(content.decode("latin-1"), name="holes.drl"),
            words=WORDS["drill"],
        ),
        Target(
            name="placement",
            seeds=((DEMO / "placement.csv").read_bytes(),),
            read=through_file("placement.csv", read_placement),
            words=WORDS["placement"],
        ),
        Target(
            name="netlist",
            seeds=(NETLIST.encode(),),
            read=through_file("board.ipc", read_netlist),
            words=(*WORDS["netlist"], *NETLIST.splitlines()),
        ),
        Target(
            name="design",
            seeds=tuple((DEMO / name).read_bytes() for name in ("design.toml", "second-wave.toml")),
            read=through_file("design.toml", read_design),
        ),
        Target(
            name="parts",
            seeds=((DEMO / "parts" / "keepsake.toml").read_bytes(),),
            read=through_file("parts/own.toml", lambda path: read_catalog(user_parts=path.parent)),
        ),
        Target(name="cost", seeds=((DEMO / "cost.toml").read_bytes(),), read=through_file("cost.toml", read_costs)),
        Target(name="trace", seeds=(whole,), read=read_trace),
        Target(name="ies", seeds=(IES.encode(),), read=through_file("lobe.ies", read_photometric)),
        Target(name="ldt", seeds=(LDT.encode(),), read=through_file("lobe.ldt", read_photometric)),
    )


def main() -> int:
    """Try cases of all readers in turn until the time is over or something is found."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=600.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--target", help="only this reader")
    asked = parser.parse_args()
    count, failures = 0, 0
    with tempfile.TemporaryDirectory() as folder:
        targets = [t for t in build_targets(Path(folder)) if asked.target in (None, t.name)]
        streams = [cases(t, dice=random.Random(f"{asked.seed} {t.name}")) for t in targets]
        end = time.monotonic() + asked.seconds
        while time.monotonic() < end:
            for target, stream in zip(targets, streams, strict=True):
                count += 1
                failure = try_case(target, next(stream))
                if failure is not None:
                    failures += 1
                    FOUND.mkdir(parents=True, exist_ok=True)
                    path = FOUND / f"{failure.target}-{hashlib.sha256(failure.content).hexdigest()[:12]}"
                    path.write_bytes(failure.content)
                    print(f"{path}: {failure.why}", flush=True)  # noqa: T201
    print(f"{count} cases of {len(targets)} readers, seed {asked.seed}: {failures} findings")  # noqa: T201
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
