"""`paneglow check` in a small design: what it prints, its JSON and its exit codes."""

import json

from typer.testing import CliRunner

from paneglow.cli import app
from paneglow.results import CheckResults
from tiny_board import write_tiny_board


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


def test_the_exit_code_tells_whether_there_are_errors(tmp_path):
    design = write_tiny_board(tmp_path)
    found = CheckResults.model_validate_json(run(design, "--json").stdout)
    grave = any(finding.severity == "error" for finding in found.findings)
    assert run(design).exit_code == (1 if grave else 0)


def test_too_much_current_is_an_error(tmp_path):
    design = write_tiny_board(tmp_path)
    path = design / "design.toml" if design.is_dir() else design
    text = path.read_text()
    before = next(line for line in text.splitlines() if line.startswith("current_ma"))
    path.write_text(text.replace(before, "current_ma = 900.0"))
    result = run(design)
    assert result.exit_code == 1
    assert "error" in result.stdout


def test_a_design_that_is_not_there_is_exit_code_2(tmp_path):
    assert run(tmp_path / "none").exit_code == 2
