# ruff: noqa: E501  one mistake and the line it earns stand side by side
"""[[circuit]], [chip] and [drive] of design.toml: read whole where right, told in one line where wrong."""

import pytest

from paneglow.design import read_design, write_design
from paneglow.errors import DesignError

HEAD = """
name = "harbour"
[board]
fabrication = "fab/"
[supply]
kind = "coin-cell"
[[led]]
refs = ["D1", "D2", "D3", "D4"]
part = "sv-1204-amber"
mounting = "side_view"
"""

RAIL = """
[[circuit]]
driver = "rail"
strings = [["D1"], ["D2"], ["D3", "D4"]]
resistor_ohm = [150, 220, 330]
"""

EVERYTHING = """
# two on pins, the rest scanned
[chip]
kind = "cmos-8bit"
pin_max_ma = 12

[[circuit]]
driver = "pin"
pins = ["PA0", "PA1"]
strings = [["D1"], ["D2"]]
resistor_ohm = [220]      # the same on both
duty_frac = 0.5
cycle_hz = 2000

[[circuit]]
driver = "matrix"
rows = ["R1", "R2"]
columns = ["C1"]
grid = [["D3"], ["D4"]]
resistor_ohm = [100]
cycle_hz = 2000

[drive]
currents = "matching"
hours_per_day = 6
ambient_c = 15

[drive.match]
windows = ["lantern", "buoy"]
ratios = [2.0, 1.0]       # the lantern twice as bright
series = "E12"
"""


def read(tmp_path, text):
    (tmp_path / "design.toml").write_text(text, encoding="utf-8")
    return read_design(tmp_path)


def problems_of(tmp_path, text):
    with pytest.raises(DesignError) as caught:
        read(tmp_path, text)
    prefix = f"{tmp_path / 'design.toml'}: "
    return [line.removeprefix(prefix) for line in str(caught.value).splitlines()]


def test_a_circuit_is_read_and_leds_in_it_need_no_current(tmp_path):
    design = read(tmp_path, HEAD + RAIL)
    assert design.circuit[0].wired == ("D1", "D2", "D3", "D4")
    assert design.led[0].current_ma is None
    assert design.drive.currents is None


def test_everything_is_read(tmp_path):
    design = read(tmp_path, HEAD + EVERYTHING)
    pin, matrix = design.circuit
    assert (pin.driver, pin.pins, pin.duty_frac) == ("pin", ("PA0", "PA1"), 0.5)
    assert matrix.grid == (("D3",), ("D4",))
    assert (design.chip.kind, design.chip.pin_max_ma) == ("cmos-8bit", 12)
    assert (design.drive.hours_per_day, design.drive.match.ratios, design.drive.match.series) == (6, (2.0, 1.0), "E12")


def test_comments_survive_a_change_of_the_circuit(tmp_path):
    path = tmp_path / "design.toml"
    design = read(tmp_path, HEAD + EVERYTHING)
    changed = design.model_copy(update={"name": "harbour at night"})
    write_design(changed, path)
    text = path.read_text(encoding="utf-8")
    assert all(comment in text for comment in ("# two on pins", "# the same on both", "# the lantern twice as bright"))
    assert read_design(path) == changed


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (RAIL.replace('["D2"]', '["D9"]'), "there is no led 'D9'"),
        (RAIL.replace('["D2"]', '["D1"]'), "D1"),
        (RAIL.replace(', ["D3", "D4"]', "").replace(", 330", ""), "current_ma is missing"),
        (RAIL.replace("[150, 220, 330]", "[150, 220]"), "has 2 resistors; give 3, or one for all"),
        (RAIL + 'resistors = ["R1", "R2"]\n', "resistors names 2; a rail circuit has 3 resistors"),
        (RAIL + 'resistors = ["R1"]\n', "one name stands beside two values"),
        (RAIL.replace("driver", "diver"), "unknown key 'diver'; the nearest known one is driver"),
        (RAIL.replace('"rail"', '"rails"'), "driver"),
        (RAIL.replace("resistor_ohm = [150, 220, 330]", "resistor_ohm = [-1]"), "resistor_ohm"),
        (RAIL + "duty_frac = 0.5\n", "cycle_hz is missing"),
        (RAIL + "duty_frac = 0\n", "duty_frac"),
        (RAIL.replace('"rail"', '"charlieplex"'), "takes its LEDs as refs"),
        (RAIL.replace('"rail"', '"sink"'), "current_ma is missing; a sink needs"),
        (RAIL.replace('"rail"', '"pin"'), "has 0 pins for 3 strings"),
        ('[[circuit]]\ndriver = "rail"\nresistor_ohm = [100]\n', "needs LEDs"),
        (EVERYTHING.replace('grid = [["D3"], ["D4"]]', 'grid = [["D3", "D4"]]'), "grid must have 2 rows of 1 columns"),
        (EVERYTHING.replace("ratios = [2.0, 1.0]", "ratios = [2.0]"), "has 1 ratios for 2 windows"),
        (EVERYTHING.replace("hours_per_day = 6", "hours_per_day = 30"), "hours_per_day"),
        (EVERYTHING.replace('"matching"', '"mathing"'), "currents"),
    ],
)
def test_a_mistake_is_told_in_one_line_of_its_own(tmp_path, text, words):
    # What is wired wrongly can leave an LED without a current, which is told as well
    problems = problems_of(tmp_path, HEAD + text)
    assert [line for line in problems if words in line], problems
    assert len(problems) <= 2


def test_a_circuit_needs_a_supply(tmp_path):
    (problem,) = problems_of(tmp_path, HEAD.replace('[supply]\nkind = "coin-cell"\n', "") + RAIL)
    assert problem.startswith("[supply] is missing")


def test_currents_by_design_need_every_current(tmp_path):
    (problem,) = problems_of(tmp_path, HEAD + RAIL + '[drive]\ncurrents = "design"\n')
    assert "current_ma is missing" in problem
