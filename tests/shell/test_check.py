"""`paneglow check` in a small design: what it prints, its JSON and its exit codes."""

import json
import re

import pytest
from typer.testing import CliRunner

from paneglow.cli import app
from paneglow.results import CheckResults
from tiny_board import DESIGN, PART, write_tiny_board

GOOD_DESIGN = DESIGN.format(part=PART)


def run(*arguments):
    return CliRunner().invoke(app, ["check", *map(str, arguments)])


def test_what_it_prints_fits_80_columns_and_holds_every_finding(tmp_path):
    design = write_tiny_board(tmp_path)
    result = run(design)
    found = CheckResults.model_validate_json(run(design, "--json").stdout)
    assert all(len(line) <= 80 for line in result.stdout.splitlines())
    text = " ".join(result.stdout.split())
    for finding in found.findings:
        assert f"{finding.severity} {finding.subject}:" in text
    assert f"{found.leds} LEDs" in text


def test_its_json_is_the_record_and_traces_nothing(tmp_path, monkeypatch):
    def refuse(*_args, **_keywords):
        raise AssertionError("traced")

    monkeypatch.setattr("paneglow.pipeline.light.trace", refuse)
    result = run(write_tiny_board(tmp_path), "--json")
    assert set(json.loads(result.stdout)) == set(CheckResults.model_fields)


MARKED = f"""[[part]]
code = "{PART}"
like = "{PART}"
mark = {{ shape = "dot", face = "top", at_mm = [-1.2, 0.0], terminal = "C", evidence = {{ kind = "meter-test",\
 date = 2026-11-02, who = "invented for this test" }} }}
"""


def test_a_board_without_errors_ends_with_0_and_says_so(tmp_path):
    design = write_tiny_board(tmp_path)
    folder = design if design.is_dir() else design.parent
    (folder / "parts").mkdir(exist_ok=True)
    (folder / "parts" / "own.toml").write_text(MARKED)
    result = run(design)
    assert result.exit_code == 0
    assert re.search(r"tiny: 1 LEDs, 1 windows, \d+ findings, 0 of them errors", result.stdout)
    assert not re.search(r"^error ", result.stdout, flags=re.MULTILINE)


def test_too_much_current_is_an_error_with_its_led_and_ends_with_1(tmp_path):
    design = write_tiny_board(tmp_path, design=GOOD_DESIGN.replace("current_ma = 2.0", "current_ma = 900.0"))
    result = run(design)
    assert result.exit_code == 1
    assert re.search(r"^error +led-1: .*900", result.stdout, flags=re.MULTILINE)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('laminate = "banana"', "laminate 'banana' is not in the catalogue"),
        ('mask = "navy"', "solder mask 'navy' is not in the catalogue"),
        ('mask = "white-legend"', "'white-legend' is a legend ink, where a solder mask is meant"),
        ('legend = "green"', "'green' is a solder mask, where a legend ink is meant"),
        ('front_film = { film = "pearl" }', "diffuser 'pearl' is not in the catalogue"),
        ('[supply]\nkind = "coin-cell"\ncell = "coin-9999"', "coin-9999"),
        ('[chip]\nkind = "large"', "chip 'large' is not known"),
    ],
)
def test_every_name_a_design_uses_is_looked_up(tmp_path, line, words):
    """`light` needs most of these; `check` and `placement` must not pass what `light` then refuses."""
    where = "[board]\n" if not line.startswith("[") else "[[led]]"
    given = f"{where}{line}\n" if where == "[board]\n" else f"{line}\n{where}"
    design = write_tiny_board(tmp_path, design=GOOD_DESIGN.replace(where, given, 1))
    for result in (run(design), CliRunner().invoke(app, ["placement", str(design), "--out", str(tmp_path / "p.csv")])):
        assert result.exit_code == 2, result.stdout
        assert words in result.stderr
        assert result.stderr.count("\n") == 1


def test_a_design_that_is_not_there_is_exit_code_2(tmp_path):
    assert run(tmp_path / "none").exit_code == 2


def test_what_blocks_release_is_no_success_although_it_is_no_error(tmp_path):
    design = write_tiny_board(tmp_path)
    found = CheckResults.model_validate_json(run(design, "--json").stdout)
    codes = {finding.code: finding.severity for finding in found.findings}
    assert codes.get("mark-unverified") == "warning"
    assert "error" not in codes.values(), "nothing but the mark blocks this board"
    result = run(design)
    assert result.exit_code == 1
    assert "1 more block release" in result.stdout


def test_the_bench_sheet_is_written_from_check_too(tmp_path):
    out = tmp_path / "sheet.html"
    result = run(write_tiny_board(tmp_path), "--bench", out)
    assert "bench sheet: " in result.stdout
    assert "led-1" in out.read_text(encoding="utf-8")
