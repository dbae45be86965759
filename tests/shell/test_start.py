"""`paneglow start`: a design drafted from fabrication files, against a design that a person wrote."""

import os
import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from paneglow.cli import app
from paneglow.design import read_design
from paneglow.pipeline import begin, write_start
from paneglow.results import CheckResults, Results
from tiny_board import copper, write_tiny_board

HARBOUR = Path(__file__).parents[2] / "examples" / "harbour-keepsake"
BOARDS = Path(os.environ.get("PANEGLOW_BOARDS", Path(__file__).parents[3] / "shared" / "boards"))


def run(*arguments, answers=None):
    return CliRunner().invoke(app, ["start", *map(str, arguments)], input=answers)


@pytest.fixture
def files(tmp_path):
    """The demonstration's files as a maker has them: a zip, and a placement file beside it."""
    folder = tmp_path / "from-the-fab"
    folder.mkdir()
    shutil.make_archive(str(folder / "harbour"), "zip", HARBOUR / "fab")
    shutil.copy(HARBOUR / "placement.csv", folder)
    return folder / "harbour.zip"


def test_every_led_is_found_in_the_style_and_window_that_its_designer_gave_it(files, tmp_path):
    result = run(files, tmp_path / "mine", "--yes")
    assert result.exit_code == 0, result.output
    told, drafted = read_design(HARBOUR), read_design(tmp_path / "mine")
    wanted = {ref: group for group in told.led for ref in group.refs}
    found = {ref: group for group in drafted.led for ref in group.refs}
    assert found.keys() == wanted.keys()
    for ref, group in found.items():
        assert group.mounting == wanted[ref].mounting, ref
    # Windows bear other names; LEDs that share one share it still, and no other
    shared = {(wanted[ref].window, found[ref].window) for ref in found}
    assert len(shared) == len({name for name, _ in shared}) == len({name for _, name in shared})


def test_what_is_assumed_says_so_and_what_is_answered_does_not(files, tmp_path):
    assert "thickness_mm = 1.6  # assumed" in write(files, tmp_path / "a", "--yes")
    text = write(files, tmp_path / "b", answers="0,8\nblack\ncoin-cell\n")
    design = read_design(tmp_path / "b")
    assert (design.board.thickness_mm, design.board.mask, design.supply.kind) == (0.8, "black", "coin-cell")
    for line in ("thickness_mm = 0.8  # 0.8", 'mask = "black"  # also', 'kind = "coin-cell"  # coin'):
        assert line in text
    assert 'laminate = "fr4-unknown"  # assumed' in text  # nobody can know it before it is measured


def write(files, folder, *options, answers=None):
    result = run(files, folder, *options, answers=answers)
    assert result.exit_code == 0, result.output
    return (folder / "design.toml").read_text(encoding="utf-8")


def test_an_answer_that_is_none_is_asked_for_again_with_what_may_be_answered(files, tmp_path):
    result = run(files, tmp_path / "mine", answers="thick\n1.2\nbleu\nblue\n\n")
    assert result.exit_code == 0
    assert "'thick' is no number of mm" in result.output
    assert "'bleu' is none of green, white, black, blue" in result.output
    assert read_design(tmp_path / "mine").board.mask == "blue"


def test_without_a_placement_file_an_led_is_proposed_behind_every_window(files, tmp_path):
    (files.parent / "placement.csv").unlink()
    result = run(files, tmp_path / "mine", "--yes")
    assert "no placement file: an LED is proposed behind the middle of each window" in " ".join(result.output.split())
    drafted = read_design(tmp_path / "mine")
    # Eleven of the twelve are open on both faces; the back of the twelfth is under mask
    assert len(drafted.led) == len(drafted.window) == len(read_design(HARBOUR).window) - 1
    assert all(group.at_mm is not None for group in drafted.led)


def test_nothing_is_overwritten(files, tmp_path):
    write(files, tmp_path / "mine", "--yes")
    before = (tmp_path / "mine" / "design.toml").read_bytes()
    result = run(files, tmp_path / "mine", "--yes")
    assert result.exit_code == 2
    assert "is already there and stays as it is; name another folder" in " ".join(result.output.split())
    assert (tmp_path / "mine" / "design.toml").read_bytes() == before


def test_a_placement_file_of_another_board_is_not_taken_in_silence(files, tmp_path):
    other = files.parent / "placement.csv"
    rows = "".join(f"D{n},{-1000 - 7 * n},{900 + 11 * n},0,Bottom,tv-1206-red\n" for n in range(1, 9))
    other.write_text(f"Reference,X (mm),Y (mm),Rotation (deg),Side,Value\n{rows}")
    result = run(files, tmp_path / "mine", "--yes")
    assert "placement.csv looks like a placement file, but is not used" in " ".join(result.output.split())
    named = run(files, tmp_path / "other", "--yes", "--placement", other)
    assert named.exit_code == 2
    assert "export both with one origin" in " ".join(named.output.split())


def test_its_words_fit_80_columns(files, tmp_path):
    assert all(len(line) <= 80 for line in run(files, tmp_path / "mine", "--yes").output.splitlines())


@pytest.mark.skipif(not BOARDS.is_dir(), reason=f"no board sets in {BOARDS}; name their folder in PANEGLOW_BOARDS")
@pytest.mark.parametrize(
    ("name", "refs", "mounting"),
    [
        ("reels-oneside", {f"D{number}" for number in range(1, 4)}, "lens_down"),
        ("heart-side38", {f"D{number}" for number in range(1, 39)}, "side_view"),
        ("card-disc-side18", {f"RGB{number}" for number in range(1, 19)}, "side_view"),
    ],
)
def test_leds_of_published_boards_are_found_as_their_authors_say(name, refs, mounting, tmp_path):
    fabrication = next(path for path in ((BOARDS / name / "fab.zip"), BOARDS / name / "fab") if path.exists())
    path, _ = write_start(begin(fabrication), folder=tmp_path / "mine", answers={})
    drafted = read_design(path)
    assert {ref for group in drafted.led for ref in group.refs} == refs
    assert {group.mounting for group in drafted.led} == {mounting}


def test_a_fabrication_set_is_lit_as_it_is_and_marked_provisional(files, tmp_path):
    result = CliRunner().invoke(app, ["light", str(files), "--out", str(tmp_path / "out"), "--quality", "draft"])
    assert result.exit_code in (0, 1), result.output
    words = " ".join(result.output.split())
    assert "Provisional, drafted from fabrication files alone." in words
    assert f"To make a design of it and set this right: paneglow start {files}" in words
    results = Results.model_validate_json((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    told = " ".join(results.provisional)
    for led in results.leds:
        assert f"{led.ref}:" in told or f"{led.ref}," in told
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "Provisional: no design says what this rests on" in page
    assert 'class="hero ready"' not in page
    # Letters stand in the lower sixth of the picture, where nothing of the board is that white
    picture = np.asarray(Image.open(tmp_path / "out" / "glow-dark-adapted.png").convert("L"))
    low = picture[-picture.shape[0] // 6 :]
    assert (low > 250).sum() > 500


def test_a_check_of_a_set_says_what_it_rests_on_and_money_asks_for_a_design(files):
    checked = CliRunner().invoke(app, ["check", str(files), "--json"])
    found = CheckResults.model_validate_json(checked.stdout)
    assert found.provisional[0].startswith("board: 1.6 mm thick, green mask")
    assert CliRunner().invoke(app, ["cost", str(files)]).exit_code == 2


def test_an_empty_folder_is_neither_a_design_nor_a_set(tmp_path):
    result = CliRunner().invoke(app, ["check", str(tmp_path)])
    assert result.exit_code == 2
    assert "holds no design.toml; read as fabrication files:" in result.output


def test_a_board_that_light_cannot_cross_is_refused_in_one_line(tmp_path):
    solid = copper("Copper,L2,Bot").partition("%LPC")[0] + "M02*\n"
    write_tiny_board(tmp_path / "board", files={"bottom.gbr": solid})
    result = run(tmp_path / "board" / "fab", tmp_path / "mine", "--yes")
    assert result.exit_code == 2
    (line,) = result.output.splitlines()
    assert "light can cross this board nowhere" in line
    assert "paneglow windows --all --masked-windows" in line
    assert not (tmp_path / "mine").exists()


def test_a_placement_file_in_the_set_is_found_and_named_where_it_lies(tmp_path):
    """A service's zip mostly holds everything in a folder; a file is copied nowhere, so it cannot come to differ."""
    held = tmp_path / "held" / "order"
    shutil.copytree(HARBOUR / "fab", held)
    shutil.copy(HARBOUR / "placement.csv", held)
    (held / "readme.txt").write_text("made at dusk\n")
    shutil.make_archive(str(tmp_path / "job"), "zip", tmp_path / "held")
    text = write(tmp_path / "job.zip", tmp_path / "mine", "--yes")
    assert 'placement = "../job.zip/placement.csv"' in text
    assert {ref for group in read_design(tmp_path / "mine").led for ref in group.refs} == {
        f"D{n}" for n in range(1, 17)
    }
    assert CliRunner().invoke(app, ["check", str(tmp_path / "mine")]).exit_code in (0, 1)
    from_folder = write(held, tmp_path / "yours", "--yes")
    assert 'placement = "../held/order/placement.csv"' in from_folder
    # One word that is wrong is told with what the zip holds
    design = tmp_path / "mine" / "design.toml"
    design.write_text(text.replace("job.zip/placement.csv", "job.zip/places.csv"), encoding="utf-8")
    asked = CliRunner().invoke(app, ["check", str(design)])
    assert asked.exit_code == 2
    assert "there is no such file in job.zip, which holds" in asked.output


def test_a_placement_file_of_another_board_of_the_same_size_and_origin_is_told_by_its_lands(files, tmp_path):
    """Every row is moved by 3 mm, farther than any pad of its part lies from its middle: all stay on the board."""
    placement = files.parent / "placement.csv"
    head, *rows = placement.read_text(encoding="utf-8").splitlines()
    column = next(index for index, cell in enumerate(head.split(",")) if cell.startswith("Y"))
    moved = [row.split(",") for row in rows]
    for cells in moved:
        cells[column] = f"{float(cells[column]) + 3.0:.3f}"
    placement.write_text("\n".join([head, *(",".join(cells) for cells in moved)]), encoding="utf-8")
    left = run(files, tmp_path / "mine", "--yes")
    assert "looks like a placement file, but is not used" in " ".join(left.output.split())
    named = run(files, tmp_path / "yours", "--yes", "--placement", placement)
    assert named.exit_code == 2
    (line,) = named.output.splitlines()
    assert "the placement file of another board" in line
    assert not (tmp_path / "yours").exists()


def test_windows_are_named_in_the_order_of_the_board(files, tmp_path):
    (files.parent / "placement.csv").unlink()
    words = " ".join(run(files, tmp_path / "mine", "--yes").output.split())
    assert "w1 to w" in words  # not w1, w10, w11, w2
    assert "w10, w11, w2" not in words
