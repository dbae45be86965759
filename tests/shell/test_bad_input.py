"""What is wrong in someone's files is told in one line that says what, where and what to do; exit code 2, no trace."""

import zipfile
from pathlib import Path

import pytest
from typer.testing import CliRunner

from paneglow.cli import app
from paneglow.errors import is_hidden
from tiny_board import DESIGN, FILES, PART, copper, profile, write_tiny_board

RUNNER = CliRunner(env={"COLUMNS": "80"})
GOOD_DESIGN = DESIGN.format(part=PART)


def refusal(*call: str) -> str:
    """Run a call that must be refused and return its one line."""
    shown = RUNNER.invoke(app, list(call))
    assert shown.exit_code == 2, shown.output
    assert shown.stdout == ""
    assert shown.stderr.startswith("paneglow: ")
    assert shown.stderr.count("\n") == 1, shown.stderr
    return shown.stderr


def test_the_tiny_board_itself_is_read(tmp_path):
    shown = RUNNER.invoke(app, ["windows", str(write_tiny_board(tmp_path))])
    assert shown.exit_code == 0, shown.output
    assert "pane" in shown.stdout


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ({"outline.gbr": None}, ("outline",)),
        ({"outline.gbr": profile(40, 30, closed=False)}, ("outline", "open")),
        ({"second-top.gbr": copper("Copper,L1,Top") + "\n"}, ("top.gbr", "second-top.gbr")),
        ({"top.gbr": FILES["top.gbr"][: len(FILES["top.gbr"]) // 2]}, ("top.gbr",)),
        ({"outline.gbr": profile(3000, 30)}, ("3000",)),
        ({"holes.drl": FILES["holes.drl"].replace("METRIC", "INCH")}, ("holes.drl",)),
    ],
    ids=["no outline", "open outline", "two candidates", "truncated", "three metres", "drill in the wrong unit"],
)
def test_fabrication_files_that_are_no_board_are_refused(tmp_path, files, words):
    design = write_tiny_board(tmp_path, files=files)
    for call in (("windows", str(tmp_path / "fab")), ("light", str(design))):
        line = refusal(*call)
        assert all(word in line for word in words)


def write_zip(path: Path, members: dict[str, str | bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return path


def test_a_zip_of_the_same_files_is_read(tmp_path):
    path = write_zip(tmp_path / "fab.zip", FILES)
    assert RUNNER.invoke(app, ["windows", str(path)]).exit_code == 0


def test_a_file_that_is_no_layer_is_left_out_by_name(tmp_path):
    extra = {"second-top.gbr": copper("Copper,L1,Top") + "\n"}
    path = write_zip(tmp_path / "fab.zip", FILES | extra)
    assert "--ignore FILE" in refusal("windows", str(path))
    assert RUNNER.invoke(app, ["windows", str(path), "--ignore", "second-top.gbr"]).exit_code == 0
    assert "is not in the set" in refusal("windows", str(path), "--ignore", "third.gbr")


def test_a_zip_bomb_is_refused_before_it_is_unpacked(tmp_path):
    path = write_zip(tmp_path / "fab.zip", FILES | {"legend.gbr": bytes(300 * 2**20)})
    assert "legend.gbr" in refusal("windows", str(path))


def test_a_path_that_climbs_out_of_the_zip_is_refused(tmp_path):
    path = write_zip(tmp_path / "fab.zip", FILES | {"../../escaped.gbr": "M02*"})
    assert "escaped.gbr" in refusal("windows", str(path))
    assert not (tmp_path.parent / "escaped.gbr").exists()


def test_a_file_that_is_no_zip_and_a_folder_that_is_not_there_are_refused(tmp_path):
    (tmp_path / "fab.zip").write_text("not a zip")
    assert "fab.zip" in refusal("windows", str(tmp_path / "fab.zip"))
    assert "nowhere" in refusal("windows", str(tmp_path / "nowhere"))
    assert "nowhere" in refusal("light", str(tmp_path / "nowhere"))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("current_ma = 2.0", "current_ma = nan", ("current_ma",)),
        ("current_ma = 2.0", "current_ma = -2.0", ("current_ma", "-2")),
        ("current_ma = 2.0", 'current_ma = 2.0\nmountng = "reverse"', ("mountng", "mounting")),
        ("at_mm = [12.0, 15.0]", "at_mm = [60.0, 15.0]", ("60",)),
        (PART, "sv-1204-ambre", ("sv-1204-ambre", PART)),
        ('window = "pane"', 'window = "pain"', ("pain", "pane")),
        ('name = "tiny"', "name = ", ("design.toml",)),
        ('fabrication = "fab"', 'fabrication = "fap"', ("fap",)),
    ],
    ids=["NaN", "negative", "unknown key", "off the board", "no such part", "no such window", "no TOML", "no files"],
)
def test_a_design_that_cannot_be_is_refused(tmp_path, old, new, words):
    assert old in GOOD_DESIGN
    line = refusal("light", str(write_tiny_board(tmp_path, design=GOOD_DESIGN.replace(old, new, 1))))
    assert all(word in line for word in words), line


def test_an_led_on_a_hole_inside_its_own_window_is_refused(tmp_path):
    drill = FILES["holes.drl"].replace("T1C1.000", "T1C1.000\nT2C5.000").replace("M30", "T2\nX20.000Y15.000\nM30")
    moved = {"at_mm = [12.0, 15.0]": "at_mm = [20.0, 15.0]", "side_view": "lens_down", PART: "tv-1206-amber"}
    design = GOOD_DESIGN
    for old, new in moved.items():
        design = design.replace(old, new, 1)
    line = refusal("light", str(write_tiny_board(tmp_path, files={"holes.drl": drill}, design=design)))
    assert "hole" in line


def test_cuda_is_refused_in_one_line(tmp_path):
    assert "cpu" in refusal("light", str(write_tiny_board(tmp_path)), "--device", "cuda")


def test_a_pitch_out_of_range_is_refused(tmp_path):
    for pitch in ("0", "-1", "nan", "5"):
        assert "pitch" in refusal("windows", str(write_tiny_board(tmp_path / f"p{pitch}")), "--pitch", pitch)


@pytest.mark.parametrize("hidden", ["\\u001b[2J", "\\n", "\\u202e", "\\u2028", "\\u0007"])
@pytest.mark.parametrize("old", ['name = "tiny"', 'name = "pane"', 'window = "pane"'])
def test_a_name_with_what_does_not_show_is_refused_and_not_printed(tmp_path, old, hidden):
    design = write_tiny_board(tmp_path, design=GOOD_DESIGN.replace(old, f'{old[:-1]}{hidden}x"', 1))
    for command in ("check", "light"):
        line = refusal(command, str(design))
        assert "holds the unseen sign U+" in line
        assert not any(is_hidden(character) for character in line.rstrip("\n"))


def test_what_files_say_reaches_terminal_and_results_written_out(tmp_path):
    """Gerber attributes and cells of a placement file may hold any character; nothing of it steers a terminal."""
    named = FILES["top.gbr"].replace("%MOMM*%", "%MOMM*%\n%TO.N,GND\\u202e\\u001b[2J*%", 1)
    rows = "Reference,X (mm),Y (mm),Rotation,Side,Value\nR1,5,5,0,back,1k\x1b[31m\u202e\n"
    design = write_tiny_board(
        tmp_path / "board",
        files={"top.gbr": named},
        design=GOOD_DESIGN.replace('fabrication = "fab"', 'fabrication = "fab"\nplacement = "parts.csv"'),
    )
    (tmp_path / "board" / "parts.csv").write_text(rows, encoding="utf-8")
    out = tmp_path / "placement.csv"
    for call in (
        ["check", str(design)],
        ["check", str(design), "--json"],
        ["placement", str(design), "--out", str(out)],
    ):
        shown = RUNNER.invoke(app, call)
        assert shown.exit_code in (0, 1), shown.output
        assert not any(is_hidden(character) for character in shown.output.replace("\n", ""))
    assert not any(is_hidden(character) for character in out.read_text(encoding="utf-8").replace("\n", ""))
