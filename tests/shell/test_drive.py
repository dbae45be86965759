"""Circuit, matching and battery life through the whole chain on a tiny board of two windows."""

import json

import pytest
from typer.testing import CliRunner

from paneglow.cli import app
from paneglow.results import OTHER_PICTURE
from tiny_board import layer, region, write_tiny_board

RUNNER = CliRunner(env={"COLUMNS": "80"})


def two_panes(function):
    return layer(function, f"{region(1, 1, 39, 29)}%LPC*%\n{region(6, 11, 14, 19)}{region(26, 11, 34, 19)}")


def open_masks(function):
    return layer(function, region(5.9, 10.9, 14.1, 19.1) + region(25.9, 10.9, 34.1, 19.1))


FILES = {
    "top.gbr": two_panes("Copper,L1,Top"),
    "bottom.gbr": two_panes("Copper,L2,Bot"),
    "mask-top.gbr": open_masks("Soldermask,Top"),
    "mask-bottom.gbr": open_masks("Soldermask,Bot"),
}
BOARD = """name = "two panes"
[board]
fabrication = "fab"
[[led]]
at_mm = [10.0, 15.0]
part = "tv-0603-amber"
mounting = "lens_down"
window = "warm"
gap_mm = 0.6
[[led]]
at_mm = [30.0, 15.0]
part = "tv-0603-blue"
mounting = "lens_down"
window = "cool"
gap_mm = 0.6
[[window]]
name = "warm"
at_mm = [10.0, 15.0]
[[window]]
name = "cool"
at_mm = [30.0, 15.0]
"""
ALIKE = '[[circuit]]\ndriver = "rail"\nstrings = [["led-1"], ["led-2"]]\nresistor_ohm = [{ohm}]\n'
USB = '[supply]\nkind = "usb"\n'
COIN = '[supply]\nkind = "coin-cell"\n'
MATCH = '[drive]\ncurrents = "{currents}"\n[drive.match]\nwindows = ["warm", "cool"]\n'


def write_board(folder, *, drive):
    return write_tiny_board(folder, files=FILES, design=BOARD + drive)


def lit(design, *, out):
    shown = RUNNER.invoke(app, ["light", str(design), "--quality", "draft", "--json", "--out", str(out)])
    assert shown.exit_code in (0, 1), shown.output
    return json.loads(shown.stdout)


@pytest.fixture(scope="module")
def states(tmp_path_factory):
    """The same board lit as wired and as matched; the second run takes the traces of the first."""
    folder, out = tmp_path_factory.mktemp("panes"), tmp_path_factory.mktemp("glow")
    design = write_board(folder, drive=USB + ALIKE.format(ohm=1000) + MATCH.format(currents="circuit"))
    as_wired = lit(design, out=out)
    path = design / "design.toml" if design.is_dir() else design
    path.write_text(path.read_text().replace('currents = "circuit"', 'currents = "matching"'))
    return as_wired, lit(design, out=out), out


def luminance(data):
    return {window["name"]: window["mean_cd_m2"]["value"] for window in data["windows"]}


def test_each_led_says_where_its_current_comes_from(states):
    as_wired, as_matched, _ = states
    assert {led["current_from"] for led in as_wired["leds"]} == {"circuit"}
    assert {led["current_from"] for led in as_matched["leds"]} == {"matching"}
    assert as_wired["drive"]["currents"] == "circuit"
    assert as_matched["drive"]["match"]["applied"]


# The match reads each LED's light by itself, the look adds them up: the same maps, so only rounding of float32 differs
def test_what_the_match_promises_is_what_the_windows_then_show(states):
    as_wired, as_matched, _ = states
    before, after = luminance(as_wired), luminance(as_matched)
    assert len(as_wired["drive"]["match"]["windows"]) == 2
    for window in as_wired["drive"]["match"]["windows"]:
        assert window["before_cd_m2"] == pytest.approx(before[window["name"]], rel=1e-4)
        assert window["after_cd_m2"] == pytest.approx(after[window["name"]], rel=1e-4)


def test_matched_windows_agree_and_unmatched_ones_did_not(states):
    as_wired, as_matched, _ = states
    before, after = luminance(as_wired), luminance(as_matched)
    assert before["warm"] / before["cool"] > 1.5 or before["cool"] / before["warm"] > 1.5
    assert after["warm"] == pytest.approx(after["cool"], rel=0.1)  # each within 5 % of their level
    assert as_matched["drive"]["match"]["agreement_frac"] <= 0.05


def test_no_proposed_current_is_above_a_limit(states):
    drive = states[1]["drive"]
    assert all(led["mean_ma"] <= led["mean_max_ma"] and led["peak_ma"] <= led["peak_max_ma"] for led in drive["leds"])
    assert all(load["used"] <= load["limit"] for load in drive["loads"])


def test_the_report_shows_both_states(states):
    page = (states[2] / "report.html").read_text(encoding="utf-8")
    assert (states[2] / OTHER_PICTURE).stat().st_size > 0
    for words in ("What drives it, and for how long", "Equal brightness", "After matching", "Before", "from matching"):
        assert words in page


def test_the_terminal_tells_life_and_match_in_80_columns(tmp_path):
    design = write_board(tmp_path / "board", drive=COIN + ALIKE.format(ohm=2200) + MATCH.format(currents="circuit"))
    shown = RUNNER.invoke(app, ["light", str(design), "--quality", "draft", "--out", str(tmp_path / "glow")])
    assert all(len(line) <= 80 for line in shown.stdout.splitlines() if not line.startswith("report:"))
    text = " ".join(shown.stdout.split())
    assert "Currents come from the circuit." in text
    assert "of light, day and night" in text
    assert "Proposed E24 values" in text


def test_check_tells_a_resistor_that_is_too_small_without_light(tmp_path, monkeypatch):
    def refuse(*_args, **_keywords):
        raise AssertionError("traced")

    monkeypatch.setattr("paneglow.pipeline.light.trace", refuse)
    shown = RUNNER.invoke(app, ["check", str(write_board(tmp_path, drive=USB + ALIKE.format(ohm=10)))])
    assert shown.exit_code == 1
    assert "current is" in " ".join(shown.stdout.split())


def test_check_tells_currents_loads_and_life_without_light(tmp_path):
    board = write_board(tmp_path, drive=COIN + ALIKE.format(ohm=2200) + "[drive]\nhours_per_day = 4\n")
    shown = RUNNER.invoke(app, ["check", str(board)])
    text = " ".join(shown.stdout.split())
    assert "Fresh, it gives" in text
    assert "supply: mean current" in text
    assert "evenings of 4 h" in text
    assert "half of its fresh brightness" in text
    data = json.loads(RUNNER.invoke(app, ["check", str(board), "--json"]).stdout)
    assert [led["ref"] for led in data["drive"]["leds"]] == ["led-1", "led-2"]
    assert data["drive"]["life"]["evenings"] == pytest.approx(data["drive"]["life"]["lit_h"] / 4, rel=1e-6)


def test_a_match_without_a_supply_is_told_in_one_line(tmp_path):
    stated = BOARD.replace("gap_mm = 0.6", "gap_mm = 0.6\ncurrent_ma = 1.0")
    design = write_tiny_board(tmp_path, files=FILES, design=stated + MATCH.format(currents="matching"))
    shown = RUNNER.invoke(app, ["light", str(design), "--quality", "draft"])
    assert shown.exit_code == 2
    assert "[drive.match] needs [supply]" in shown.output


def test_stated_currents_without_a_circuit_stay_as_they_are(tmp_path):
    stated = BOARD.replace("gap_mm = 0.6", "gap_mm = 0.6\ncurrent_ma = 1.0")
    data = lit(write_tiny_board(tmp_path, files=FILES, design=stated + COIN), out=tmp_path / "glow")
    assert data["drive"] is None
    assert [(led["current_ma"], led["current_from"]) for led in data["leds"]] == [(1.0, "design")] * 2
