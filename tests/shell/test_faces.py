"""The command line with a made-up evaluation: what it prints, what it writes, how it ends."""

import json
from importlib import import_module
from pathlib import Path

import pytest
from typer.testing import CliRunner

import paneglow
from paneglow.cli import app
from paneglow.errors import DesignError
from paneglow.judge import Verdict
from paneglow.results import SurveyResults
from sample_board import make_board, make_catalog
from sample_evaluation import make_evaluation, make_verdict

RUNNER = CliRunner(env={"COLUMNS": "80"})
WIDTH = 80


def use_evaluation(monkeypatch, evaluation) -> list[dict]:
    calls: list[dict] = []

    def evaluate(design_path, **options):
        calls.append({"design_path": design_path, **options})
        return evaluation

    monkeypatch.setattr(import_module("paneglow.cli.light"), "evaluate", evaluate)
    return calls


@pytest.fixture
def evaluated(monkeypatch) -> list[dict]:
    return use_evaluation(monkeypatch, make_evaluation())


def longest(text: str) -> int:
    return max(len(line.rstrip()) for line in text.splitlines())


def test_light_passes_its_options_down(evaluated, tmp_path):
    call = [
        "light",
        str(tmp_path),
        "--quality",
        "draft",
        "--device",
        "cpu",
        "--seed",
        "7",
        "--out",
        str(tmp_path / "o"),
    ]
    RUNNER.invoke(app, call)
    assert len(evaluated) == 1
    del evaluated[0]["on_progress"]
    assert evaluated[0].pop("cache_folder").name == "traces"
    assert evaluated[0] == {"design_path": tmp_path, "quality": "draft", "device": "cpu", "seed": 7}


def test_light_prints_a_table_of_80_columns_that_names_every_window_and_the_page(evaluated, tmp_path):
    shown = RUNNER.invoke(app, ["light", str(tmp_path / "design.toml"), "--out", "o"])
    table, page = shown.stdout.rsplit("report: ", 1)
    assert longest(table) <= WIDTH
    assert page == f"{Path('o/report.html')}\n"
    Path("o/report.html").unlink()
    for words in ("lantern", "house window", "buoy", "wave", "27-65", "missed", "Not ready"):
        assert words in table
    assert evaluated


@pytest.fixture(autouse=True)
def _work_elsewhere(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def test_long_names_fold_and_never_push_the_numbers_out(monkeypatch, tmp_path):
    evaluation = make_evaluation()
    long = "a window with a name of eighty letters, which is what a design allows, no more of"
    windows = tuple(window.model_copy(update={"name": long[:80]}) for window in evaluation.look.windows[:1])
    object.__setattr__(evaluation.look, "windows", windows)
    object.__setattr__(evaluation.board.survey.windows[0], "name", long[:80])
    use_evaluation(monkeypatch, evaluation)
    shown = RUNNER.invoke(app, ["light", str(tmp_path / "design.toml")])
    assert longest(shown.stdout.rsplit("report: ", 1)[0]) <= WIDTH
    assert "27-65" in shown.stdout


def test_the_report_goes_beside_the_design_unless_told_otherwise(evaluated, tmp_path):
    assert evaluated == []
    RUNNER.invoke(app, ["light", str(tmp_path / "design.toml")])
    assert (tmp_path / "glow" / "report.html").is_file()


def test_json_is_exactly_the_bytes_of_the_file(evaluated, tmp_path):
    shown = RUNNER.invoke(app, ["light", str(tmp_path / "design.toml"), "--json"])
    assert evaluated
    assert shown.stdout_bytes == (tmp_path / "glow" / "results.json").read_bytes()
    assert shown.stderr == ""


@pytest.mark.parametrize(
    ("verdict", "code"),
    [
        (Verdict(passed=True, goals=(), findings=(), cautions=()), 0),
        (make_verdict(), 1),
    ],
)
def test_the_exit_code_tells_whether_goals_are_met(monkeypatch, tmp_path, verdict, code):
    use_evaluation(monkeypatch, make_evaluation(verdict=verdict))
    assert RUNNER.invoke(app, ["light", str(tmp_path / "design.toml")]).exit_code == code


def raise_from_light(monkeypatch, problem: BaseException) -> None:
    def evaluate(*_args, **_options):
        raise problem

    monkeypatch.setattr(import_module("paneglow.cli.light"), "evaluate", evaluate)


def test_an_error_of_ours_is_one_line_and_exit_code_2(monkeypatch, tmp_path):
    raise_from_light(monkeypatch, DesignError("design.toml: name is missing; add it"))
    shown = RUNNER.invoke(app, ["light", str(tmp_path / "design.toml")])
    assert (shown.exit_code, shown.stdout) == (2, "")
    assert shown.stderr == "paneglow: design.toml: name is missing; add it\n"


def test_ctrl_c_is_one_line_exit_code_130_and_no_file(monkeypatch, tmp_path):
    raise_from_light(monkeypatch, KeyboardInterrupt())
    shown = RUNNER.invoke(app, ["light", str(tmp_path / "design.toml")])
    assert shown.exit_code == 130
    assert shown.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "call",
    [
        ["light"],
        ["glimmer"],
        ["light", "x", "--quality", "huge"],
        ["light", "x", "--seed", "-1"],
        ["light", "x", "--sed", "1"],
        ["windows", "x", "--layer", "mask_front"],
        ["windows", "x", "--pitch", "fine"],
        ["light", "x", "y"],
    ],
)
def test_a_wrong_call_is_one_line_and_exit_code_2(call):
    shown = RUNNER.invoke(app, call)
    assert (shown.exit_code, shown.stdout) == (2, "")
    assert shown.stderr.startswith("paneglow: ")
    assert shown.stderr.count("\n") == 1


def test_no_command_shows_the_help():
    shown = RUNNER.invoke(app, [])
    assert shown.exit_code == 0
    assert "light" in shown.stdout
    assert "windows" in shown.stdout


def test_the_version_is_the_package_version():
    assert RUNNER.invoke(app, ["--version"]).stdout == f"paneglow {paneglow.__version__}\n"


@pytest.fixture
def surveyed(monkeypatch):
    board = make_board(make_catalog())
    monkeypatch.setattr(import_module("paneglow.cli.windows"), "survey", lambda *_, **__: (board.maps, board.survey))
    return board


def test_windows_prints_a_table_of_80_columns(surveyed):
    shown = RUNNER.invoke(app, ["windows", "fab"])
    assert shown.exit_code == 0
    assert longest(shown.stdout) <= WIDTH
    for window in surveyed.survey.windows:
        assert window.name in shown.stdout


def test_windows_json_is_the_survey_record(surveyed):
    shown = RUNNER.invoke(app, ["windows", "fab", "--json"])
    record = SurveyResults.model_validate(json.loads(shown.stdout))
    assert [window.name for window in record.windows] == [window.name for window in surveyed.survey.windows]
