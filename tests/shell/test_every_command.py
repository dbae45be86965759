"""What holds for every command alike: whole help, JSON, 80 columns, the nearest word, the documented exit codes."""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

import docpages
from paneglow.cli import app

ROOT = Path(__file__).parents[2]
HARBOUR = ROOT / "examples" / "harbour-keepsake"
COMMANDS = docpages.commands()
RUNNER = CliRunner(env={"COLUMNS": "80", "TERMINAL_WIDTH": "80"})
# A call of every command that ends well or with goals missed, its files in a folder of its own
CALLS = {
    ("start",): ["fab", "mine", "--yes"],
    ("light",): [".", "--quality", "draft"],
    ("check",): ["."],
    ("placement",): [".", "--out", "placed.csv"],
    ("windows",): ["fab"],
    ("cost",): ["."],
    ("demo",): ["there"],
    ("parts",): [],
    ("parts", "laminates"): [],
    ("parts", "masks"): [],
    ("parts", "inks"): [],
    ("parts", "films"): [],
    ("parts", "supplies"): [],
    ("parts", "import"): ["table.csv", "."],
    ("parts", "export"): [".", "--out", "own.csv"],
}
ASKING = {("parts", "new"), ()}  # asked for in test_parts.py; the program alone does nothing


@pytest.fixture
def folder(tmp_path, monkeypatch):
    for name in ("design.toml", "cost.toml", "placement.csv", "second-wave.toml"):
        shutil.copy(HARBOUR / name, tmp_path)
    for name in ("fab", "parts"):
        shutil.copytree(HARBOUR / name, tmp_path / name)
    (tmp_path / "table.csv").write_text("code,like\nhx-blue-1,tv-0603-blue\n")
    monkeypatch.chdir(tmp_path)


def test_every_command_has_a_call_here():
    assert set(COMMANDS) == set(CALLS) | ASKING


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_help_is_whole_and_fits(command):
    shown = RUNNER.invoke(app, [*command, "--help"], prog_name="paneglow").output
    assert "..." not in shown.replace("[ARGS]...", "")
    assert max(map(len, shown.splitlines())) <= 80
    listed = shown.partition("Commands:\n")[2]
    assert all(re.match(r"  \S", line) for line in listed.splitlines()), "one line for every command"


@pytest.mark.parametrize("command", COMMANDS[1:], ids=" ".join)
def test_json_is_offered(command):
    assert "--json" in RUNNER.invoke(app, [*command, "--help"]).output


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize("command", [call for call in CALLS if call != ("light",)], ids=" ".join)
def test_json_is_one_record_and_nothing_else(command):
    """`light` has tests of its own: it traces."""
    result = RUNNER.invoke(app, [*command, *CALLS[command], "--json"])
    assert result.exit_code in (0, 1), result.stderr
    assert isinstance(json.loads(result.stdout), dict)


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize("command", [call for call in CALLS if call != ("light",)], ids=" ".join)
def test_what_it_prints_fits_80_columns(command):
    result = RUNNER.invoke(app, [*command, *CALLS[command]])
    assert result.exit_code in (0, 1), result.stderr
    assert max(map(len, result.stdout.splitlines())) <= 80


@pytest.mark.parametrize("command", COMMANDS[1:], ids=" ".join)
def test_a_mistyped_word_is_answered_with_the_nearest_and_the_help_at_hand(command):
    *group, name = command
    slip = name[1] + name[0] + name[2:]
    told = RUNNER.invoke(app, [*group, slip], prog_name="paneglow")
    assert told.exit_code == 2
    assert f"did you mean {name}?" in told.stderr
    assert told.stderr.endswith(f"(see {' '.join(('paneglow', *group))} --help)\n")
    told = RUNNER.invoke(app, [*command, "--jsn"], prog_name="paneglow")
    assert (told.exit_code, told.stderr.count("\n")) == (2, 1)
    assert "did you mean --json?" in told.stderr
    assert f"(see paneglow {' '.join(command)} --help)" in told.stderr


def test_planned_commands_do_not_answer():
    text = (ROOT / "docs" / "design.md").read_text(encoding="utf-8")
    planned = {
        name
        for row in re.findall(r"^\| `paneglow ([^`]*)` \| \(planned\)", text, re.MULTILINE)
        for name in re.findall(r"^\w+|(?<=/ )\w+", row)
    }
    assert planned >= {"layout", "coupon", "photo", "vote", "lot", "pack", "line", "sweep", "bench"}
    for name in planned:
        told = RUNNER.invoke(app, [name])
        assert (told.exit_code, told.stdout) == (2, ""), name


def test_every_command_that_a_text_names_is_there():
    """In messages, help, comments of written files and pages; planned ones stand in design.md alone."""
    texts = [*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md"), *(ROOT / "src").rglob("*.py")]
    texts += [*(ROOT / "src").rglob("*.j2"), *(ROOT / "examples").rglob("*.md")]
    known = {words[0] for words in COMMANDS[1:]}
    lost = {
        f"{path.relative_to(ROOT)}: {name}"
        for path in texts
        if path.name not in ("design.md", "CHANGELOG.md")
        for name in re.findall(r"(?:^ {4}|`|\.venv/bin/|with |by |run |see |run: )paneglow ([a-z]+)",
                               path.read_text(encoding="utf-8"), re.MULTILINE)
        if name not in known
    }  # fmt: skip
    assert lost == set()


@pytest.mark.parametrize(
    ("typed", "offered"), [("paneglow li", {"light"}), ("paneglow parts --col", {"--colour"}),
                           ("paneglow light --quality ", {"draft", "normal", "fine"})]
)  # fmt: skip
def test_a_shell_completes_commands_options_and_words(typed, offered):
    words = {"_PANEGLOW_COMPLETE": "complete_bash", "COMP_WORDS": typed, "COMP_CWORD": str(typed.count(" "))}
    shown = subprocess.run(
        [sys.executable, "-m", "paneglow"], capture_output=True, text=True, check=True, env={**os.environ, **words}
    )
    assert set(shown.stdout.split()) == offered


def test_the_older_name_of_parts_still_answers(tmp_path):
    assert RUNNER.invoke(app, ["part", "export", str(tmp_path)]).exit_code == 2  # no part there, and told so
    assert "part " not in RUNNER.invoke(app, ["--help"]).output
