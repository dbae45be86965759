"""docs/tutorial.md is typed line by line, and what it says comes true."""

import json
import re
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from paneglow.cli import app

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "tutorial.md").read_text(encoding="utf-8")
COTTAGE = ROOT / "examples" / "night-cottage"
BLOCKS = re.findall(r"```(console|diff)\n(.*?)```", PAGE, flags=re.DOTALL)


def edit(path: Path, change: str) -> None:
    """Replace every line that begins as a `-` line does by the `+` lines below it; others go to the end."""
    lines, end = path.read_text(encoding="utf-8").splitlines(), []
    steps = re.split(r"^(?=-)", change, flags=re.MULTILINE)
    for step in filter(None, steps):
        old, new = re.findall(r"^-(.*)$", step, re.MULTILINE), re.findall(r"^\+(.*)$", step, re.MULTILINE)
        if "" in new:  # what follows an empty line is a table of its own
            new, end = new[: new.index("")], new[new.index("") :]
        assert any(line.startswith(old[0]) for line in lines), f"no line begins with {old[0]!r}"
        lines = [part for line in lines for part in (new if line.startswith(old[0]) else [line])]
    path.write_text("\n".join([*lines, *end, ""]), encoding="utf-8")


@pytest.fixture(scope="module")
def evening(tmp_path_factory):
    """What every command printed, its exit code, and the results that then lay there."""
    folder = tmp_path_factory.mktemp("evening")
    shutil.make_archive(str(folder / "night-cottage"), "zip", COTTAGE / "fab")
    shutil.copy(COTTAGE / "placement.csv", folder)
    told = []
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for kind, block in BLOCKS:
            if kind == "diff":
                edit(folder / "cottage" / "design.toml", block)
                continue
            for line in block.splitlines():
                done = CliRunner().invoke(app, line.removeprefix("$ paneglow ").split(), input="\n" * 9)
                glow = folder / "cottage" / "glow" / "results.json"
                results = json.loads(glow.read_text(encoding="utf-8")) if glow.exists() else None
                told.append((line, done, results))
    return told


def missed(results):
    return {goal["window"] for goal in results["verdict"]["goals"] if goal["outcome"] == "missed"}


def test_no_line_is_refused_and_three_commands_give_a_picture(evening):
    assert [line for line, done, _ in evening if done.exit_code not in (0, 1)] == []
    assert [line.split()[2] for line, _, results in evening[:2]] == ["start", "light"]
    assert evening[1][2] is not None


def test_start_finds_what_the_page_says(evening):
    words = evening[0][1].output.split()
    for row in re.findall(r"^(D.*)$", PAGE.split("```text")[1], re.MULTILINE):
        assert " ".join(row.split()) in " ".join(words)


def test_the_decision_follows_from_the_numbers(evening):
    plain, glued, behind = (results for line, _, results in evening[2:] if " light " in line)
    assert missed(plain) == missed(glued) == {"w2", "w3", "w4"}
    assert missed(behind) == set()

    def of(results, field):
        return {look["name"]: look[field]["value"] for look in results["windows"]}

    for name in ("w2", "w3", "w4"):
        assert of(glued, "mean_cd_m2")[name] < 0.7 * of(plain, "mean_cd_m2")[name]
        assert of(behind, "evenness")[name] > 2.0 * of(glued, "evenness")[name]


def test_the_example_is_what_its_script_draws(tmp_path, monkeypatch):
    import runpy

    monkeypatch.setattr("sys.argv", ["draw.py", str(tmp_path)])
    runpy.run_path(str(COTTAGE / "draw.py"), run_name="__main__")
    for path in sorted(COTTAGE.rglob("*")):
        if path.suffix in (".gbr", ".drl", ".csv"):
            assert (tmp_path / path.relative_to(COTTAGE)).read_bytes() == path.read_bytes(), path.name
