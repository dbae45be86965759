"""Trace the sampled tests with all their photons, and keep the z-scores with a digest of what moved the photons.

`make proof`. Quick runs of the suite trace few photons; they fail where the code that moves photons is no longer the
one that was proven (`tests/promises/test_proof.py`). Comments and docstrings do not count.
"""

import ast
import csv
import hashlib
import io
import math
import os
import sys
import time
import tokenize
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
KEPT = ROOT / "tests" / "proof.csv"
TESTS = ("tests/laws", "tests/published", "tests/reference", "tests/unit/transport")
# The tables that lamps and faces are given, beside all of transport but what only a GPU runs
TABLES = ("physics/emission.py", "physics/fresnel.py")


def digest() -> str:
    """Of all code that moves photons, without comments, docstrings and layout: the same under every Python."""
    found = hashlib.sha256()
    package = ROOT / "src" / "paneglow"
    movers = [path for path in package.glob("transport/**/*.py") if "cuda" not in path.parts]
    for path in sorted([*movers, *(package / name for name in TABLES)]):
        found.update(f"{path.relative_to(package)}\n{_code(path.read_text(encoding='utf-8'))}\n".encode())
    return found.hexdigest()


def _code(text: str) -> str:
    lines = text.splitlines(keepends=True)
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str):
            for number in range(node.lineno, (node.end_lineno or node.lineno) + 1):
                lines[number - 1] = "\n"
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type == tokenize.COMMENT and lines[token.start[0] - 1].strip():
            lines[token.start[0] - 1] = lines[token.start[0] - 1][: token.start[1]] + "\n"
    return " ".join("".join(lines).split())


def main() -> int:
    """Run the tests and write what was found; the exit code is that of the tests."""
    os.environ["PANEGLOW_PROOF"] = "1"
    os.chdir(ROOT)
    proven, began = digest(), time.monotonic()
    code = int(pytest.main(["-q", *TESTS]))
    if code != 0:
        sys.stderr.write("not proven: see the failures above; nothing was written\n")
        return code
    if digest() != proven:
        sys.stderr.write("not proven: sources changed during the run; nothing was written\n")
        return 1
    from sampling_checks import FAMILY_ODDS, MEANS, Z_SCORES  # noqa: PLC0415 - once the environment is set

    sampled = [z for _, _, z in Z_SCORES if math.isfinite(z)]
    with KEPT.open("w", encoding="utf-8", newline="") as stream:
        stream.write(f"# digest {proven}\n")
        stream.write(
            f"# {len(sampled)} z-scores, written by `make proof` in {time.monotonic() - began:.0f} s; a right\n"
        )
        stream.write(f"# program exceeds any limit of {MEANS} means in {FAMILY_ODDS:.0%} of all seeds\n")
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(("test", "what", "z"))
        writer.writerows((test, what, f"{z:+.2f}") for test, what, z in sorted(Z_SCORES))
    sys.stdout.write(f"{len(Z_SCORES)} z-scores in {KEPT.relative_to(ROOT)}, {time.monotonic() - began:.0f} s\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
