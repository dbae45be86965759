from dataclasses import replace

import pytest
from numpy.testing import assert_allclose

from boards_under_drive import CHIP, cold_leds, led, rail
from paneglow.drive.circuit import (
    GROUND,
    RAIL,
    Circuit,
    LedString,
    Phase,
    Pin,
    Resistor,
    Sink,
    build_circuit,
    build_supply,
    charlieplex,
    matrix_scan,
    network,
    pin_strings,
    rail_strings,
    sink_strings,
    solve_point,
    solve_points,
)
from paneglow.errors import DesignError
from paneglow.physics import relative_light
from shockley import diode_voltage_v

LEAK_MA = 5e-6  # 5 V over 1 Gohm


def one_led(colour="red", *, voltage_v=5.0, resistor_ohm=150.0, **changes):
    leds = (led("D1", colour, **changes),)
    return build_circuit(rail_strings([["D1"]], resistor_ohm=[resistor_ohm]), leds=leds, supply=rail(voltage_v))


def test_current_and_voltage_of_one_led_lie_on_its_curve_and_on_the_load_line():
    circuit = one_led(thermal_k_per_w=0.0)
    point = solve_point(circuit)
    current_ma, voltage_v = point.led_current_ma[0, 0], point.led_voltage_v[0, 0]
    assert float(diode_voltage_v(current_ma, curve=circuit.leds[0].curve)) == pytest.approx(voltage_v, abs=1e-9)
    assert current_ma == pytest.approx(1e3 * (5.0 - voltage_v) / 150.5, abs=LEAK_MA)  # the rail has 0.5 ohm


def test_the_worked_resistor_example_gives_its_current():
    # 5 V, 2.0 V, 20 mA -> 150 ohm, 60 mW by Ohm's law; a part that has 2.0 V there
    part = led("D1", "red", thermal_k_per_w=0.0)
    curve = replace(part.curve, reference_ma=20.0, reference_v=2.0)
    circuit = build_circuit(
        rail_strings([["D1"]], resistor_ohm=[150.0]),
        leds=(replace(part, curve=curve),),
        supply=rail(5.0, resistance_ohm=1e-3),
    )
    point = solve_point(circuit)
    assert point.mean_current_ma[0] == pytest.approx(20.0, rel=1e-4)  # the wire takes 20 uV
    assert point.resistor_power_mw[0] == pytest.approx(60.0, rel=1e-3)


def test_a_blocked_led_passes_no_more_than_leakage():
    circuit = one_led("white", voltage_v=1.5, thermal_k_per_w=0.0)
    assert solve_point(circuit).mean_current_ma[0] < 1e-4


def test_every_milliampere_that_leaves_the_supply_goes_through_an_led_or_the_chip():
    wiring = pin_strings({"P1": ["D1"], "P2": ["D2"]}, resistor_ohm={"P1": 100.0, "P2": 220.0})
    circuit = build_circuit(wiring, leds=cold_leds(("red", "green")), supply=rail(5.0), chip=CHIP)
    point = solve_point(circuit)
    expected = point.led_current_ma.sum() + CHIP.standing_ma
    assert point.supply_current_ma[0] == pytest.approx(expected, abs=10 * LEAK_MA)
    assert_allclose(point.pin_current_ma[0], point.led_current_ma[0], atol=10 * LEAK_MA)


def test_equal_leds_in_parallel_share_and_in_series_carry_the_same():
    leds = cold_leds(("red", "red", "red"))
    parallel = build_circuit(
        rail_strings([["D1"], ["D2"], ["D3"]], resistor_ohm=[220.0] * 3), leds=leds, supply=rail(5.0)
    )
    series = build_circuit(rail_strings([["D1", "D2", "D3"]], resistor_ohm=[220.0]), leds=leds, supply=rail(9.0))
    for circuit in (parallel, series):
        currents = solve_point(circuit).led_current_ma[0]
        assert_allclose(currents, currents[0], rtol=1e-7)


def test_a_junction_warms_by_its_power_and_then_needs_less_voltage():
    cold, warm = one_led(thermal_k_per_w=0.0), one_led(thermal_k_per_w=450.0)
    cold_point, warm_point = solve_point(cold), solve_point(warm)
    power_mw = warm_point.led_voltage_v[0, 0] * warm_point.led_current_ma[0, 0]
    assert warm_point.junction_c[0] == pytest.approx(25.0 + 0.45 * power_mw, abs=0.02)  # settled within 0.01 K
    assert warm_point.led_voltage_v[0, 0] < cold_point.led_voltage_v[0, 0]
    assert warm_point.led_current_ma[0, 0] > cold_point.led_current_ma[0, 0]


def test_a_junction_that_would_burn_is_held_at_its_greatest_temperature():
    point = solve_point(one_led(voltage_v=12.0, resistor_ohm=10.0, thermal_k_per_w=700.0))
    assert point.junction_c[0] == 150.0


def test_pwm_dims_the_mean_and_leaves_the_peak():
    leds = cold_leds(("red", "red"))
    full, dimmed = (
        build_circuit(rail_strings([["D1"]], resistor_ohm=[150.0], duty_frac=duty), leds=leds, supply=rail(5.0))
        for duty in (1.0, 0.25)
    )
    whole, quarter = solve_point(full), solve_point(dimmed)
    assert quarter.peak_current_ma[0] == pytest.approx(whole.peak_current_ma[0], rel=1e-9)
    assert quarter.mean_current_ma[0] == pytest.approx(0.25 * whole.mean_current_ma[0], rel=1e-6)
    assert quarter.light_frac[0] == pytest.approx(0.25 * whole.light_frac[0], rel=1e-6)


def test_channels_that_start_together_sag_the_supply_while_both_are_on():
    wiring = pin_strings(
        {"P1": ["D1"], "P2": ["D2"]}, resistor_ohm={"P1": 47.0, "P2": 47.0}, duties={"P1": 0.25, "P2": 0.75}
    )
    circuit = build_circuit(wiring, leds=cold_leds(("red", "red")), supply=rail(3.0, resistance_ohm=20.0), chip=CHIP)
    point = solve_point(circuit)
    assert_allclose(point.share_frac, [0.25, 0.5, 0.25])
    assert point.supply_v[0] < point.supply_v[1] < point.supply_v[2]
    assert point.led_current_ma[1, 1] > point.led_current_ma[0, 1] > 1.0
    assert_allclose(point.led_current_ma[2], 0.0, atol=1e-6)
    assert_allclose(point.meant, [[True, True], [False, True], [False, False]])


def test_pulses_on_a_cell_feel_its_fast_resistance_and_the_mean_its_whole():
    circuit = build_circuit(
        rail_strings([["D1"]], resistor_ohm=[100.0], duty_frac=0.1),
        leds=cold_leds(("red",)),
        supply=build_supply("coin-2032"),
    )
    point = solve_point(circuit)
    on_ma, mean_ma = point.supply_current_ma[0], point.mean_supply_ma
    # Fresh: 3.25 V and 16 ohm, 65 % of it fast
    assert point.supply_v[0] == pytest.approx(3.25 - 0.016 * (0.35 * mean_ma + 0.65 * on_ma), abs=1e-9)


def test_a_sink_holds_its_current_while_it_has_room_and_bends_when_it_has_none():
    def current_ma(voltage_v):
        wiring = sink_strings([["D1"]], current_ma=5.0, dropout_v=0.2)
        return solve_point(build_circuit(wiring, leds=cold_leds(("red",)), supply=rail(voltage_v))).mean_current_ma[0]

    assert current_ma(5.0) == pytest.approx(5.0, rel=1e-6)  # 3 V are left: tanh(15)
    assert current_ma(3.3) == pytest.approx(5.0, rel=1e-4)
    assert 0.5 < current_ma(2.05) < 4.0


def test_a_scan_gives_each_row_its_share_and_holds_the_rest_in_reverse():
    rows = [Pin(name=f"R{number}", port="A") for number in (1, 2)]
    columns = [Pin(name=f"C{number}", port="B", resistor=Resistor(ohm=100.0)) for number in (1, 2)]
    wiring = matrix_scan([["D1", "D2"], ["D3", "D4"]], rows=rows, columns=columns, brightness={"D2": 0.0})
    circuit = build_circuit(wiring, leds=cold_leds(("red",) * 4), supply=rail(5.0), chip=CHIP)
    point = solve_point(circuit)
    assert_allclose(point.mean_current_ma, 0.5 * point.peak_current_ma, rtol=1e-4)
    assert point.mean_current_ma[1] < 1e-4  # dark: its column stands high
    assert point.reverse_voltage_v[3] > 2.0  # low row, high column while row 1 is lit
    assert point.ghost_current_ma.max() < 1e-4


@pytest.mark.parametrize(("count", "most"), [(2, 2), (3, 6), (4, 12), (5, 20), (6, 30)])
def test_a_charlieplex_tells_n_times_n_minus_one_leds_apart_each_on_for_a_pins_share(count, most):
    pins = [Pin(name=f"P{number}", port="A", resistor=Resistor(ohm=100.0)) for number in range(count)]
    refs = [f"D{number}" for number in range(1, most + 1)]
    circuit = build_circuit(charlieplex(refs, pins=pins), leds=cold_leds(("red",) * most), supply=rail(3.3), chip=CHIP)
    point = solve_point(circuit)
    # 3.3 V is below the 2 x 1.9 V of the way round through two red LEDs: nothing ghosts, all are alike
    assert_allclose(point.mean_current_ma, point.peak_current_ma / count, rtol=1e-6)
    assert_allclose(point.mean_current_ma, point.mean_current_ma[0], rtol=1e-6)
    assert point.ghost_current_ma.max() < 1e-4
    with pytest.raises(DesignError, match="add a pin"):
        charlieplex([*refs, "D99"], pins=pins)


def test_light_is_that_of_the_pulses_and_not_of_their_mean():
    # Blue droops: the same mean in pulses of ten times the current is less light
    steady = one_led("blue", resistor_ohm=1000.0, thermal_k_per_w=0.0)
    point = solve_point(steady)
    assert point.light_frac[0] == pytest.approx(
        float(relative_light(point.mean_current_ma[0], curve=steady.leds[0].flux)), rel=1e-9
    )
    pulsed = replace(steady, strings=(replace(steady.strings[0], resistor=Resistor(ohm=80.0), duty_frac=0.1),))
    pulses = solve_point(pulsed)
    assert pulses.light_frac[0] / pulses.mean_current_ma[0] < point.light_frac[0] / point.mean_current_ma[0]


def test_the_answer_balances_at_every_node_even_with_decades_between_the_leds():
    leds = (*cold_leds(("red", "white", "blue")), led("D4", "amber", thermal_k_per_w=0.0))
    wiring = rail_strings([["D1"], ["D2"], ["D3"], ["D4"]], resistor_ohm=[0.0, 0.0, 0.0, 1e7])
    point = solve_point(build_circuit(wiring, leds=leds, supply=rail(2.2, resistance_ohm=10.0)))
    assert point.residual_ma < 1e-7
    assert point.led_current_ma[0, 0] > 1e4 * point.led_current_ma[0, 1] > 0.0
    for number, ref in enumerate(leds):
        own_v = float(diode_voltage_v(point.led_current_ma[0, number], curve=ref.curve))
        assert point.led_voltage_v[0, number] == pytest.approx(own_v, abs=1e-9)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"strings": (LedString(refs=("D1",), to_terminal="P9"),)}, "ends at 'P9'"),
        ({"strings": (LedString(refs=("D1",)), LedString(refs=("D1",)))}, "wired twice"),
        ({"strings": ()}, "D1 has no string"),
        ({"strings": (LedString(refs=("D1", "D2")),)}, "not an LED of the board"),
        ({"strings": (LedString(refs=("D1",), from_terminal=GROUND),)}, "starts and ends"),
        ({"strings": (LedString(refs=("D1",), resistor=Resistor(ohm=-1.0)),)}, "has -1 ohm"),
        ({"strings": (LedString(refs=("D1",), duty_frac=1.5),)}, "duty_frac"),
        ({"strings": (LedString(refs=("D1",), sink=Sink(current_ma=1.0, dropout_v=0.0)),)}, "sink"),
        ({"strings": (LedString(refs=("D1",)), LedString(refs=()))}, "holds no LED"),
        ({"phases": (Phase(share_frac=0.4),)}, "sum to 0.4"),
        ({"phases": (Phase(share_frac=1.0, pins=(("P1", "high"),)),)}, "names pin 'P1'"),
        ({"pins": (Pin(name="P1", port="A"),), "chip": None}, "pins but no chip"),
        ({"pins": (Pin(name=RAIL, port="A"),), "chip": CHIP}, "name of a wire"),
        (
            {
                "pins": (Pin(name="P1", port="A"),),
                "chip": CHIP,
                "phases": (Phase(share_frac=1.0, duties=(("P1", 2.0),)),),
            },
            "duty of P1",
        ),
    ],
)
def test_a_circuit_that_cannot_be_wired_is_refused_in_one_line(changes, words):
    circuit = Circuit(supply=rail(5.0), leds=cold_leds(("red",)), strings=(LedString(refs=("D1",)),))
    with pytest.raises(DesignError, match=words) as caught:
        solve_point(replace(circuit, **changes))
    assert "\n" not in str(caught.value)


def test_where_the_search_starts_changes_nothing_and_another_circuit_is_no_place_to_start():
    circuit = one_led(resistor_ohm=150.0)
    alone, near = solve_point(circuit), solve_point(one_led(resistor_ohm=220.0))
    # Both stop at 1e-8 mA of imbalance
    assert_allclose(solve_point(circuit, near=near).mean_current_ma, alone.mean_current_ma, rtol=1e-9)
    assert_allclose(solve_point(circuit, near=near).junction_c, alone.junction_c, rtol=1e-9)
    assert len(near.node_v) != len(solve_point(one_led(resistor_ohm=0.0), near=near).node_v)


def test_dense_and_sparse_solve_a_board_alike(monkeypatch):
    words = ("red", "green", "blue", "white")
    circuit = build_circuit(
        rail_strings([[f"D{number}"] for number in range(1, 13)], resistor_ohm=[330.0] * 12),
        leds=cold_leds(words * 3),
        supply=build_supply("coin-2032"),
    )
    dense = solve_point(circuit)
    monkeypatch.setattr(network, "DENSE_NODES_MOST", 0)
    # Both stop at 1e-8 mA of imbalance; Newton's last step leaves far less
    assert_allclose(solve_point(circuit).led_current_ma, dense.led_current_ma, rtol=1e-10, atol=1e-10)


def test_many_depths_at_once_are_each_the_depth_alone():
    circuit = replace(one_led("blue", resistor_ohm=100.0), supply=build_supply("coin-2032"))
    depths = (0.0, 0.3, 0.9, 1.0)
    for depth, point in zip(depths, solve_points(circuit, depths_frac=depths), strict=True):
        alone = solve_point(circuit, depth_frac=depth)
        assert point.depth_frac == depth
        assert_allclose(point.led_current_ma, alone.led_current_ma, rtol=5e-4)  # what 0.01 K makes of a current
        assert point.junction_c[0] == pytest.approx(alone.junction_c[0], abs=0.02)  # within 0.01 K each


def test_leds_that_share_a_resistor_divide_its_current_by_forward_voltage():
    wiring = rail_strings([["D1"], ["D2"]], resistor_ohm=[100.0, 100.0], names=["R1", "R1"])
    point = solve_point(build_circuit(wiring, leds=cold_leds(("red", "blue")), supply=rail(5.0)))
    assert point.led_voltage_v[0, 0] == pytest.approx(point.led_voltage_v[0, 1], abs=1e-9)
    assert point.led_current_ma[0, 0] > 100.0 * point.led_current_ma[0, 1]  # 2.0 V against 2.8 V
    drop_v = point.supply_v[0] - point.led_voltage_v[0, 0]
    assert point.led_current_ma.sum() == pytest.approx(10.0 * drop_v, abs=10 * LEAK_MA)
