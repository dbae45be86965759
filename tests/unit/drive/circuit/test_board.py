"""Each driver from design.toml to a circuit that solves."""

from dataclasses import replace

import pytest
from numpy.testing import assert_allclose

from boards_under_drive import parts
from paneglow.design import read_design
from paneglow.drive.circuit import (
    AS_DESIGNED,
    CellSupply,
    Settings,
    build_design_supply,
    solve_board,
    solve_point,
    wire_board,
)
from paneglow.errors import DesignError
from unit.judge import cases

HEAD = """
name = "harbour"
[board]
fabrication = "fab/"
[supply]
kind = "{kind}"
[[led]]
refs = [{refs}]
part = "tv-1206-red"
mounting = "lens_down"
current_ma = 1
"""
DRIVERS = {
    "rail": 'driver = "rail"\nstrings = [["D1"], ["D2", "D3"]]\nresistor_ohm = [470, 220]',
    "pin": 'driver = "pin"\npins = ["P1", "P2", "P3"]\nstrings = [["D1"], ["D2"], ["D3"]]\nresistor_ohm = [470]',
    "sinking pin": 'driver = "pin"\nsinking = true\npins = ["P1", "P2", "P3"]\nstrings = [["D1"], ["D2"], ["D3"]]\nresistor_ohm = [470]',  # noqa: E501
    "sink": 'driver = "sink"\nstrings = [["D1"], ["D2"], ["D3"]]\ncurrent_ma = 3',
    "matrix": 'driver = "matrix"\nrows = ["R1", "R2"]\ncolumns = ["C1", "C2"]\ngrid = [["D1", "D2"], ["D3", ""]]\nresistor_ohm = [150]\ncycle_hz = 2000',  # noqa: E501
    "charlieplex": 'driver = "charlieplex"\npins = ["P1", "P2", "P3"]\nrefs = ["D1", "", "D2", "D3"]\nresistor_ohm = [100]\ncycle_hz = 2000',  # noqa: E501
}  # fmt: skip


def read(tmp_path, *circuits, kind="usb", refs=("D1", "D2", "D3"), more=""):
    head = HEAD.format(kind=kind, refs=", ".join(f'"{ref}"' for ref in refs))
    text = head + "".join(f"[[circuit]]\n{circuit}\n" for circuit in circuits) + more
    (tmp_path / "design.toml").write_text(text, encoding="utf-8")
    return read_design(tmp_path)


def build_board_circuit(design, *, leds, settings=AS_DESIGNED):
    return wire_board(design, leds=leds)(settings)


def placed(refs=("D1", "D2", "D3")):
    return tuple(replace(cases.FLAT_LED, ref=ref, part=parts()["tv-1206-red"]) for ref in refs)


@pytest.mark.parametrize("driver", DRIVERS)
def test_every_driver_lights_its_leds(tmp_path, driver):
    circuit = build_board_circuit(read(tmp_path, DRIVERS[driver]), leds=placed())
    point = solve_point(circuit)
    assert circuit.refs == ("D1", "D2", "D3")
    assert (point.mean_current_ma > 1.0).all()
    assert point.ghost_current_ma.max() < 1e-3


def test_each_string_has_its_own_resistor_or_all_share_one(tmp_path):
    two = build_board_circuit(read(tmp_path, DRIVERS["rail"]), leds=placed())
    assert [string.resistor.ohm for string in two.strings] == [470.0, 220.0]
    one = build_board_circuit(read(tmp_path, DRIVERS["pin"]), leds=placed())
    assert [string.resistor.ohm for string in one.strings] == [470.0] * 3
    ring = build_board_circuit(read(tmp_path, DRIVERS["charlieplex"]), leds=placed())
    assert [pin.resistor.ohm for pin in ring.pins] == [100.0] * 3


@pytest.mark.parametrize(("pins", "most"), [(2, 2), (3, 6), (4, 12)])
def test_a_charlieplex_takes_as_many_leds_as_its_pins_tell_apart(tmp_path, pins, most):
    # Ordered pairs of n pins: n (n - 1)
    def ring(count):
        names, refs = ([f'"{letter}{n}"' for n in range(1, size + 1)] for letter, size in (("P", pins), ("D", count)))
        return (
            f'driver = "charlieplex"\npins = [{", ".join(names)}]\nrefs = [{", ".join(refs)}]\n'
            "resistor_ohm = [100]\ncycle_hz = 2000"
        )

    refs = tuple(f"D{number}" for number in range(1, most + 1))
    assert len(build_board_circuit(read(tmp_path, ring(most), refs=refs), leds=placed(refs)).strings) == most
    more = (*refs, f"D{most + 1}")
    with pytest.raises(DesignError, match="add a pin"):
        build_board_circuit(read(tmp_path, ring(most + 1), refs=more), leds=placed(more))


def test_groups_share_the_supply(tmp_path):
    first = 'driver = "rail"\nstrings = [["D1"]]\nresistor_ohm = [100]'
    rest = 'driver = "rail"\nstrings = [["D2"], ["D3"]]\nresistor_ohm = [100]'
    alone = solve_point(build_board_circuit(read(tmp_path, first, kind="coin-cell"), leds=placed()))
    together = solve_point(build_board_circuit(read(tmp_path, first, rest, kind="coin-cell"), leds=placed()))
    assert together.supply_v[0] < alone.supply_v[0]
    assert together.mean_current_ma[0] < alone.mean_current_ma[0]


def test_two_scans_are_refused(tmp_path):
    first = 'driver = "charlieplex"\npins = ["P1", "P2"]\nrefs = ["D1", "D2"]\nresistor_ohm = [100]\ncycle_hz = 2000'
    second = 'driver = "charlieplex"\npins = ["P3", "P4"]\nrefs = ["D3", "D4"]\nresistor_ohm = [100]\ncycle_hz = 2000'
    refs = ("D1", "D2", "D3", "D4")
    with pytest.raises(DesignError, match="more than one scan"):
        build_board_circuit(read(tmp_path, first, second, refs=refs), leds=placed(refs))


def test_settings_replace_what_the_design_says_and_nothing_else(tmp_path):
    design = read(tmp_path, DRIVERS["rail"])
    changed = build_board_circuit(design, leds=placed(), settings=Settings(resistor_ohm={"the resistor of D1": 1000.0}))
    assert [string.resistor.ohm for string in changed.strings] == [1000.0, 220.0]
    plain = build_board_circuit(design, leds=placed(), settings=AS_DESIGNED)
    assert [string.resistor.ohm for string in plain.strings] == [470.0, 220.0]
    scan = read(tmp_path, DRIVERS["matrix"])
    half = solve_point(build_board_circuit(scan, leds=placed(), settings=Settings(brightness={"D1": 0.5})))
    full = solve_point(build_board_circuit(scan, leds=placed()))
    share = half.mean_current_ma / full.mean_current_ma
    assert_allclose(share[[0, 2]], [0.5, 1.0], rtol=1e-2)
    assert 1.0 < share[1] < 1.2  # it shares its row pin, whose output resistance now drops less
    sinks = read(tmp_path, DRIVERS["sink"])
    lower = solve_point(build_board_circuit(sinks, leds=placed(), settings=Settings(sink_ma={"D2": 1.5})))
    assert_allclose(lower.mean_current_ma, [3.0, 1.5, 3.0], rtol=1e-3)


def test_a_chip_of_the_design_replaces_single_figures_and_keeps_their_origin(tmp_path):
    design = read(tmp_path, DRIVERS["pin"], more='[chip]\nkind = "cmos-32bit"\npin_max_ma = 3\n')
    chip = build_board_circuit(design, leds=placed()).chip
    assert (chip.pin_max_ma, chip.high_ohm) == (3.0, 50.0)
    origins = dict(chip.origins)
    assert origins["pin_max_ma: the design"] == "sourced"
    assert [origin for text, origin in origins.items() if text.startswith("high_ohm")] == ["assumed"]


def test_the_usual_supply_of_a_kind_and_the_one_named(tmp_path):
    usual = build_design_supply(read(tmp_path, DRIVERS["rail"], kind="battery").supply)
    assert isinstance(usual, CellSupply)
    assert usual.curve.open_circuit_v[0] == pytest.approx(3.2)
    named = read(tmp_path, DRIVERS["rail"], kind="battery").supply.model_copy(update={"cell": "li-ion"})
    assert build_design_supply(named).curve.cutoff_v == 3.0
    with pytest.raises(DesignError, match='write kind = "coin-cell"'):
        build_design_supply(named.model_copy(update={"cell": "coin-2032"}))


def test_a_design_that_wires_nothing_has_no_circuit(tmp_path):
    assert solve_board(read(tmp_path), board=cases.board(*placed())) is None
    with pytest.raises(DesignError, match="nothing is wired"):
        build_board_circuit(read(tmp_path), leds=placed())


SHARED = 'driver = "rail"\nstrings = [["D1"], ["D2"], ["D3"]]\nresistor_ohm = [100]\nresistors = ["R7"]'


def test_strings_that_name_one_resistor_hang_on_it_together(tmp_path):
    circuit = build_board_circuit(read(tmp_path, SHARED), leds=placed())
    assert [(resistor.name, resistor.ohm) for resistor in circuit.shared] == [("R7", 100.0)]
    assert [string.from_terminal for string in circuit.strings] == ["R7"] * 3
    point = solve_point(circuit)
    # 100 ohm carry all three: 3 I = (5 V - V(I)) / 100 ohm, where each with 100 ohm of its own would carry I
    drop_v = point.supply_v[0] - point.led_voltage_v[0, 0]
    assert point.mean_current_ma.sum() == pytest.approx(1e3 * drop_v / 100.0, rel=1e-6)
    own = solve_point(build_board_circuit(read(tmp_path, SHARED.replace('resistors = ["R7"]', "")), leds=placed()))
    assert own.mean_current_ma[0] > 2.5 * point.mean_current_ma[0]


def test_named_resistors_are_loads_and_settings_by_their_names(tmp_path):
    named = DRIVERS["rail"] + '\nresistors = ["R1", "R2"]\nresistor_max_mw = 5'
    design = read(tmp_path, named)
    solved = solve_board(design, board=cases.board(*placed()), settings=Settings(resistor_ohm={"R2": 330.0}))
    loads = {load.name: load for load in solved.loads if load.kind == "resistor"}
    assert set(loads) == {"R1", "R2"}
    first = solved.point.mean_current_ma[0]
    assert loads["R1"].used == pytest.approx(1e-3 * 470.0 * first**2, rel=1e-6)
    assert loads["R1"].exceeded
    assert solved.circuit.strings[1].resistor.ohm == 330.0


def test_one_resistor_in_two_circuits_is_refused(tmp_path):
    first, second = (f'driver = "rail"\nstrings = [["D{n}"]]\nresistor_ohm = [100]\nresistors = ["R7"]' for n in (1, 2))
    with pytest.raises(DesignError, match="R7 stands in two places"):
        build_board_circuit(read(tmp_path, first, second), leds=placed())
