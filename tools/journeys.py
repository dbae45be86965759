"""What a newcomer types, from fabrication files to a first picture, on every board at hand; writes docs/journeys.md.

    .venv/bin/python tools/journeys.py [--only NAME ...]

A journey starts in an empty folder that holds the files as a maker has them: the set, and what lies beside it.
Questions are answered as a person would: Enter for what is usual, one colour said. Nothing is edited by hand.
"""

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
BOARDS = Path(os.environ.get("PANEGLOW_BOARDS", ROOT.parent / "shared" / "boards"))
PAGE = ROOT / "docs" / "journeys.md"
ANSWERS = "\nblack\n\n\n\n\n\n\n"  # Enter for the thickness, a black mask, Enter for the rest
BESIDE = (".csv", ".txt", ".pos")
MOST_S = 600


@dataclass(frozen=True, slots=True, kw_only=True)
class Journey:
    """How it went on one board."""

    name: str
    commands: int  # typed
    refused: int  # of them, with exit code 2
    seconds: float  # until the picture lay there
    leds: str  # found or proposed
    outcome: str  # picture, or what was said instead


def own_boards(folder: Path) -> list[Path]:
    """Our examples as their maker would have them: a zip of the fabrication files, other files beside it."""
    found: list[Path] = []
    for example in sorted((ROOT / "examples").iterdir()):
        if (example / "fab").is_dir():
            place = folder / example.name
            place.mkdir(parents=True)
            shutil.make_archive(str(place / "fab"), "zip", example / "fab")
            for path in example.glob("*.csv"):
                shutil.copy(path, place)
            found.append(place)
    return found


def travel(board: Path, *, work: Path) -> Journey:
    """Start a design and light it, as typed."""
    name = board.name
    place = work / name
    place.mkdir()
    source = board / "fab.zip" if (board / "fab.zip").exists() else board / "fab"
    shutil.copytree(source, place / "fab") if source.is_dir() else shutil.copy(source, place / "fab.zip")
    for path in board.iterdir():
        if path.suffix.lower() in BESIDE and path.name != "SOURCE.txt":
            shutil.copy(path, place)
    began = time.monotonic()
    commands = [["start", source.name, "mine"], ["light", "mine", "--quality", "draft"]]
    said, refused, typed = "", 0, 0
    for command in commands:
        typed += 1
        run = subprocess.run(
            [sys.executable, "-m", "paneglow", *command],
            cwd=place, input=ANSWERS, capture_output=True, text=True, timeout=MOST_S, check=False,
        )  # fmt: skip
        if typed == 1:
            said = run.stdout
        if run.returncode not in (0, 1):
            refused += 1
            said = run.stderr.strip().splitlines()[-1].removeprefix("paneglow: ")
            break
    seconds = time.monotonic() - began
    lit = (place / "mine" / "glow" / "glow-dark-adapted.png").exists()
    first = said.splitlines()[0] if lit else ""
    leds = first.rpartition(", ")[2] if lit else ""
    proposed = " (proposed)" if "an LED is proposed" in " ".join(said.split()) else ""
    outcome = "picture" if lit else said.replace(str(place), ".").replace("|", "/").replace("mm2", "mm²")
    return Journey(
        name=name, commands=typed, refused=refused, seconds=seconds, leds=leds + proposed, outcome=outcome[:160]
    )


def to_page(journeys: list[Journey]) -> str:
    """The page, with medians over the boards that came to a picture."""
    lit = [one for one in journeys if one.outcome == "picture"]
    lines = [
        "# From a zip to a first picture",
        "",
        "Written by `tools/journeys.py`. In an empty folder with the fabrication files, and the placement file where",
        "the author published one, a newcomer types `paneglow start fab.zip mine`, answers its questions (Enter, but",
        '"black" for the mask), and `paneglow light mine --quality draft`. A board on which light can cross nowhere is',
        "refused by the first command, in one line.",
        "",
        "| board | commands | edits | refused | seconds | LEDs | outcome |",
        "|---|---|---|---|---|---|---|",
    ]
    for one in journeys:
        cells = (one.name, one.commands, 0, one.refused, f"{one.seconds:.0f}", one.leds, one.outcome)
        lines.append("| " + " | ".join(str(cell) for cell in cells) + " |")
    lines += [
        "",
        f"{len(lit)} of {len(journeys)} boards come to a picture; of these the median is"
        f" {statistics.median(one.commands for one in lit):g} commands, 0 edits,"
        f" {statistics.median(one.refused for one in lit):g} refused,"
        f" {statistics.median(one.seconds for one in lit):.0f} s, the slowest {max(one.seconds for one in lit):.0f} s"
        f" (2 cores, kernels compiled). `paneglow light fab.zip` does it in one command, with every assumption named.",
        "",
    ]
    return "\n".join(lines)


def main() -> int:
    """Travel on every board and write the page."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--only", nargs="*", default=[])
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as work:
        own = own_boards(Path(work) / "own")
        shared = sorted(path.parent for path in BOARDS.glob("*/SOURCE.txt")) if BOARDS.is_dir() else []
        journeys: list[Journey] = []
        for board in [*own, *shared]:
            if asked.only and board.name not in asked.only:
                continue
            journeys.append(travel(board, work=Path(work)))
            sys.stdout.write(f"{journeys[-1]}\n")
            sys.stdout.flush()
    if not asked.only:
        PAGE.write_text(to_page(journeys), encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
