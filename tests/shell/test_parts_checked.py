"""`paneglow check` on designs whose parts are not fully known, or are no single LED: one clear finding each."""

import json

import pytest
from typer.testing import CliRunner

from paneglow.cli import app
from tiny_board import PART, write_tiny_board


def pad(name, role, x, y, chips):
    size = "length_mm = 0.4, width_mm = 0.5"
    return f'{{ name = "{name}", role = "{role}", at_mm = [{x}, {y}], {size}, chips = {json.dumps(chips)} }}'


def terminals(*pads):
    return f'[part.terminals]\norigin = "measured"\nsource = "own part"\npads = [{", ".join(pads)}]\n'


COMMON = terminals(
    pad("1", "anode", -1.2, 0.0, ["red", "green"]),
    pad("2", "cathode", 1.2, 0.4, ["red"]),
    pad("3", "cathode", 1.2, -0.4, ["green"]),
)
RGB = terminals(
    pad("1", "anode", -1.2, 0.4, ["red", "green", "blue"]),
    pad("2", "cathode", -1.2, -0.4, ["red"]),
    pad("3", "cathode", 1.2, 0.4, ["green"]),
    pad("4", "cathode", 1.2, -0.4, ["blue"]),
)


def checked(tmp_path, *, extra):
    design = write_tiny_board(tmp_path)
    folder = design if design.is_dir() else design.parent
    (folder / "parts").mkdir(exist_ok=True)
    own = f'[[part]]\ncode = "{PART}"\nlike = "{PART}"\n{extra}'
    (folder / "parts" / "own.toml").write_text(own, encoding="utf-8")
    shown = CliRunner(env={"COLUMNS": "80"}).invoke(app, ["check", str(design), "--json"])
    assert shown.exit_code in (0, 1), shown.output
    return shown, {finding["code"]: finding for finding in json.loads(shown.stdout)["findings"]}


@pytest.mark.parametrize(
    ("extra", "words"),
    [
        (COMMON, "2 chips (red, green) that share terminal 1"),
        (RGB, "3 chips (red, green, blue) that share terminal 1"),
    ],
    ids=["common terminal", "red, green and blue"],
)
def test_a_package_of_several_chips_is_one_error(tmp_path, extra, words):
    shown, found = checked(tmp_path, extra=extra)
    assert shown.exit_code == 1
    assert words in found["several-chips-as-one"]["reason"]
    assert found["several-chips-as-one"]["severity"] == "error"


def test_a_part_with_no_mark_evidence_blocks_release_and_nothing_else(tmp_path):
    told = 'mark = { shape = "dot", face = "top", at_mm = [-1.2, 0.0], terminal = "C" }\n'
    _, silent = checked(tmp_path / "silent", extra="")
    _, unproven = checked(tmp_path / "told", extra=told)
    assert "is not known; this blocks release" in silent["mark-unverified"]["reason"]
    assert "has no evidence; this blocks release" in unproven["mark-unverified"]["reason"]
    assert unproven["mark-unverified"]["severity"] == "warning"


def test_a_mark_with_evidence_is_not_told(tmp_path):
    evidence = 'evidence = { kind = "meter-test", date = 2026-11-02, who = "own hands" }'
    mark = f'mark = {{ shape = "dot", face = "top", at_mm = [-1.2, 0.0], terminal = "C", {evidence} }}\n'
    assert "mark-unverified" not in checked(tmp_path, extra=mark)[1]
