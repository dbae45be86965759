"""Ctrl-C, from the first import of a command to its last line: one line and exit code 130."""

import subprocess
import sys

import pytest

from tiny_board import write_tiny_board

# Asks for the stop from within, so that it does not fall into the start of the interpreter itself
PROGRAM = """
import os, signal, sys, threading

from paneglow.cli import main

seconds, sys.argv = float(sys.argv[1]), ["paneglow", *sys.argv[2:]]
threading.Timer(seconds, os.kill, (os.getpid(), signal.SIGINT)).start()
main()
"""


@pytest.mark.parametrize("seconds", [0.03, 0.07, 0.12, 0.18, 0.25, 0.35])
def test_a_stop_while_a_command_comes_in_or_works_is_one_line(tmp_path, seconds):
    design = write_tiny_board(tmp_path)
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(seconds), "light", str(design), "--fresh"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (130, "paneglow: stopped; no half-written file was left\n")
    assert done.stdout == ""


# An import that turns Ctrl-C into an error of its own, as those written in other languages do
SWALLOWED = """
import builtins, os, signal, sys

from paneglow.cli import main

usual = builtins.__import__

def failing(name, *rest):
    if name == "skia":
        try:
            os.kill(os.getpid(), signal.SIGINT)
            for _ in range(1000): pass
        except KeyboardInterrupt:
            raise ImportError("initialization failed") from None
    return usual(name, *rest)

builtins.__import__ = failing
sys.argv = ["paneglow", "windows", "nowhere"]
main()
"""


def test_a_library_that_makes_an_error_of_its_own_of_a_stop_does_not_hide_it():
    done = subprocess.run([sys.executable, "-c", SWALLOWED], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (130, "paneglow: stopped; no half-written file was left\n")


def test_the_next_run_clears_what_a_kill_left_half_written(tmp_path):
    design = write_tiny_board(tmp_path)
    out = tmp_path / "out"
    (out / "traces").mkdir(parents=True)
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    left = [out / f".paneglow-{ended.pid}-0123.part", out / "traces" / ".part-x1y2z3"]
    for part in left:
        part.write_bytes(b"half")
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "from paneglow.cli import main; main()",
            "light",
            str(design),
            "--out",
            str(out),
            "--quality",
            "draft",
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode in (0, 1), done.stderr
    assert (out / "results.json").exists()
    assert [part for part in out.rglob(".*")] == []
