"""Every benchmark still runs: each once, at a size that measures nothing."""

import functools
import re
import runpy
import sys
from pathlib import Path

import pytest

from paneglow.transport import ResponseEffort, trace_response
from tiny_board import write_tiny_board

BENCHMARKS = Path(__file__).parents[2] / "benchmarks"
NUMBER = re.compile(r"\d[\d,]*\.?\d*")

# Arguments, constants that are made small, and how many lines with a measured number are printed at least
RUNS = {
    "gpu_speed.py": (["--photons", "256", "--cpu-photons", "256", "--threads", "1"], {"BATCHES": 2, "REPEATS": 1}, 2),
    "growth.py": (["--case", "1 LED, 50 mm, 1.6 mm"], {"PHOTONS": 32}, 1),
    "race.py": (["--photons", "200"], {}, 1),
    "response_speed.py": (
        ["--cases", "1", "--photons", "200", "--answers", "1", "--laminate", "3"],
        {"SIDE_MM": 6.0},
        4,
    ),
    "speed.py": (["TINY", "--photons", "100"], {}, 9),
    "steps.py": ([], {"N_STEPS": 100, "N_REPEATS": 1, "PHOTONS": 64}, 7),
    "whole.py": (["TINY", "--quality", "draft"], {"WARM_RUNS": 1}, 3),
}


def test_every_benchmark_is_here():
    assert {path.name for path in BENCHMARKS.glob("*.py")} == set(RUNS)


@pytest.mark.parametrize("name", RUNS)
def test_a_benchmark_runs_and_prints_what_it_measured(name, tmp_path, monkeypatch, capsys):
    arguments, small, rows = RUNS[name]
    tiny = str(write_tiny_board(tmp_path).parent)
    monkeypatch.setattr(sys, "argv", [name, *(tiny if word == "TINY" else word for word in arguments)])
    # Loaded as a module, so that its constants can be made small before it runs
    held = runpy.run_path(str(BENCHMARKS / name), run_name="benchmark")
    main = held["main"]
    main.__globals__.update(small)
    if name == "response_speed.py":
        quick = ResponseEffort(spread_photons=500, difference_photons=500)
        main.__globals__["trace_response"] = functools.partial(trace_response, effort=quick)
    main()
    printed = capsys.readouterr().out.splitlines()
    assert sum(NUMBER.search(line) is not None for line in printed) >= rows, printed
