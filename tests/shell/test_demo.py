"""`paneglow demo` writes a whole design and overwrites nothing."""

from typer.testing import CliRunner

from paneglow.cli import app
from paneglow.design import read_design

RUNNER = CliRunner()


def test_the_demonstration_is_a_design_that_reads(tmp_path):
    shown = RUNNER.invoke(app, ["demo", str(tmp_path / "harbour")])
    assert shown.exit_code == 0, shown.output
    design = read_design(tmp_path / "harbour" / "design.toml")
    assert (tmp_path / "harbour" / design.board.fabrication).exists()
    assert "paneglow light" in shown.stdout


def test_nothing_that_is_there_is_overwritten(tmp_path):
    (tmp_path / "design.toml").write_text("mine")
    shown = RUNNER.invoke(app, ["demo", str(tmp_path)])
    assert shown.exit_code == 2
    assert shown.stderr.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["design.toml"]
    assert (tmp_path / "design.toml").read_text() == "mine"
