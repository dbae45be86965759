"""Small files that ask for minutes or gigabytes are refused in one line; each once cost what stands beside it."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

SECONDS, MEGABYTES = 10.0, 1024
# Name: whether it is read (True) or refused (False)
CASES = {
    "hole of 0.1 um": True,  # a traceback
    "hole of ten million km": False,  # a traceback
    "full circle under step-repeat 300 x 300": False,  # 36 s
    "8000 alternating exposures": False,  # a hang
    "19000 circles flashed 100 times": False,  # 6.1 GB
    "scribbled region of 200000 corners": False,  # a hang
    "round region of 200000 corners": True,
    "100000 long strokes of a rectangle": False,  # a hang
    "macro of 20000 assignments used 100 times": False,  # minutes
    "arc about a point light years away": False,  # a traceback
    "pour crossed by 3000 clear lines": True,
    "region that crosses itself": False,  # of `paneglow check`: millions of crossings
}


@pytest.fixture(scope="module")
def outcomes() -> dict[str, dict]:
    """What a process of its own makes of every case."""
    script = Path(__file__).with_name("gerber_work_cases.py")
    source = Path(__file__).parents[2] / "src"
    done = subprocess.run(
        [sys.executable, str(script)],
        capture_output=True,
        text=True,
        check=True,
        timeout=200,
        env={**os.environ, "PYTHONPATH": str(source)},
    )
    return {case["name"]: case for case in map(json.loads, done.stdout.splitlines())}


def test_every_case_is_run(outcomes: dict[str, dict]) -> None:
    assert outcomes.keys() == CASES.keys()


@pytest.mark.parametrize("name", CASES)
def test_it_is_read_or_refused_in_one_line_within_the_budget(name: str, outcomes: dict[str, dict]) -> None:
    outcome = outcomes[name]
    assert outcome["seconds"] < SECONDS
    assert outcome["megabytes"] < MEGABYTES
    if CASES[name]:
        assert outcome["refused"] is None
    else:
        assert outcome["refused"].startswith("layer.gbr")
        assert "\n" not in outcome["refused"]
