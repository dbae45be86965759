"""`paneglow placement` on the demonstration, and mistakes about rails, netlists and placement files in one line."""

import json
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from paneglow.cli import app
from paneglow.fab import read_placement

DEMO = Path(__file__).parents[2] / "examples" / "harbour-keepsake"


def run(*arguments):
    return CliRunner(env={"COLUMNS": "80"}).invoke(app, [*map(str, arguments)])


@pytest.fixture
def demo(tmp_path):
    for name in ("fab", "parts"):
        shutil.copytree(DEMO / name, tmp_path / name)
    for name in ("design.toml", "placement.csv"):
        shutil.copy(DEMO / name, tmp_path / name)
    return tmp_path


def change(path, before, after):
    text = path.read_text()
    assert before in text
    path.write_text(text.replace(before, after))


def refused(result, words):
    assert result.exit_code == 2
    assert words in " ".join(result.stderr.split())
    assert len(result.stderr.splitlines()) == 1


def test_the_demonstration_is_written_checked_and_read_again_by_check(demo):
    out = demo / "service" / "placement.txt"
    out.parent.mkdir()
    result = run("placement", demo, "--out", out, "--dialect", "tab-mil", "--bottom", "turned-left-right")
    assert result.exit_code == 0, result.output
    assert "16 of 16 LEDs are the right way round (read back from the file)" in result.stdout
    assert all(len(line) <= 80 for line in result.stdout.splitlines() if not line.startswith("placement: "))
    assert read_placement(out)[1].bottom == "turned-left-right"
    assert len(read_placement(out)[0]) == len(read_placement(demo / "placement.csv")[0])
    change(demo / "design.toml", 'placement = "placement.csv"', 'placement = "service/placement.txt"')
    again = run("check", demo)
    assert "16 of 16 LEDs are the right way round, by rails of the design" in again.stdout
    assert "All 16 placement rows were confirmed by a second, independent check" in again.stdout


def test_the_file_takes_the_names_a_service_asks_for_and_no_comments(demo):
    out = demo / "mine.csv"
    names = ("--columns", "Part,East,North,Angle,Face", "--sides", "top,bottom", "--no-comments")
    result = run("placement", demo, "--out", out, *names)
    assert result.exit_code == 0, result.output
    lines = out.read_text().splitlines()
    assert lines[0] == "Part,East,North,Angle,Face"
    assert not any(line.startswith("#") for line in lines)
    assert {line.split(",")[4] for line in lines[1:]} <= {"top", "bottom"}
    refused(run("placement", demo, "--out", out, "--columns", "Part,East"), "needed are 5 to 7 different names")


def test_a_mark_that_nothing_stands_behind_is_no_success(demo):
    parts = demo / "parts" / "keepsake.toml"
    head, block = parts.read_text().split('code = "hk-chip-red"')
    parts.write_text(head + 'code = "hk-chip-red"' + block.replace("mark = ", "# mark = ", 1))
    result = run("placement", demo, "--out", demo / "placement.txt")
    assert result.exit_code == 1
    text = " ".join(result.stdout.split())
    assert "15 of 16 LEDs are the right way round; 1 more only if the cathode is where it is assumed" in text
    assert "nothing stands behind the polarity mark of hk-chip-red: this blocks release" in text


def test_a_file_read_by_another_rule_than_it_was_made_stops_the_check(demo):
    change(
        demo / "design.toml",
        'placement = "placement.csv"',
        'placement = "placement.csv"\nplacement_zero = "anode-left"',
    )
    result = run("check", demo)
    assert result.exit_code == 1
    assert "0 of 16 LEDs are the right way round" in result.stdout
    found = json.loads(run("check", demo, "--json").stdout)["findings"]
    assert ("placement-misread", "error") in {(one["code"], one["severity"]) for one in found}


def test_the_design_may_not_contradict_what_the_file_says_of_itself(demo):
    text = (demo / "placement.csv").read_text()
    (demo / "placement.csv").write_text(f"# rotations: bottom=through-front zero=axis turn=long-axis y=up\n{text}")
    change(
        demo / "design.toml", 'placement = "placement.csv"', 'placement = "placement.csv"\nplacement_zero = "as-taped"'
    )
    refused(run("check", demo), "placement_zero is 'as-taped', but placement.csv says 'axis' of itself")


def test_a_netlist_names_nets_and_rails_and_contradictions_are_told(demo):
    def point(net, x_mm, y_mm):
        place = f"X{round(x_mm * 1000):+07d}Y{round(y_mm * 1000):+07d}"
        return f"327{net:<14}   SW1   -1    {'':6}A02{place}X0600Y0600R000 S0"

    points = [point("LAMPS", 44.0, 25.8), point("RETURN", 28.6, 21.5), point("RETURN", 46.5, 25.8)]
    (demo / "board.ipc").write_text("\n".join(["P  UNITS CUST 1", *points, "999", ""]))
    change(demo / "design.toml", 'placement = "placement.csv"', 'placement = "placement.csv"\nnetlist = "board.ipc"')
    change(demo / "design.toml", "at_mm = [44.0, 25.8]", 'net = "LAMPS"')
    result = run("check", demo)
    assert "16 of 16 LEDs are the right way round, by rails of the design" in result.stdout
    text = " ".join(result.stdout.split())
    assert "Net RETURN is 2 separate pieces of copper (at (28.6, 21.5) and (46.5, 25.8) mm)." in text


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ("at_mm = [44.0, 25.8]", "at_mm = [13.0, 57.0]", "there is no copper on the back; give a point on its copper"),
        ("at_mm = [44.0, 25.8]", 'net = "VLED"', "rail net 'VLED' is not among the nets of the board"),
        ("at_mm = [44.0, 25.8]", 'at_mm = [44.0, 25.8]\nnet = "A"', "give either at_mm, a point on its copper, or net"),
        (
            'placement = "placement.csv"',
            'placement = "placement.csv"\nnetlist = "none.ipc"',
            "none.ipc: cannot be read",
        ),
        ('"D8"', '"D88"', "led D88 is not in the placement file; the nearest name is D8"),
    ],
)
def test_mistakes_are_told_in_one_line(demo, before, after, words):
    change(demo / "design.toml", before, after)
    refused(run("check", demo), words)


def test_units_that_put_parts_25_times_too_far_apart_are_told_in_one_line(demo):
    change(demo / "placement.csv", "X (mm),Y (mm)", "X (inch),Y (inch)")
    refused(run("check", demo), "mm read as inch")


def test_a_rule_that_needs_what_parts_do_not_state_is_refused(demo):
    change(demo / "parts" / "keepsake.toml", "tape =", "note = ''\n# tape =")
    refused(
        run("placement", demo, "--out", demo / "a.csv", "--zero", "as-taped"), "does not say how it lies in its tape"
    )
