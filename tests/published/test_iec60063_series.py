"""IEC 60063 preferred values, from memory, and resistors worked by hand from R = (Vs - Vf) / I."""

import pytest

from paneglow.drive.matching import E24, preferred_ohm

# From memory
STATED = "1.0 1.1 1.2 1.3 1.5 1.6 1.8 2.0 2.2 2.4 2.7 3.0 3.3 3.6 3.9 4.3 4.7 5.1 5.6 6.2 6.8 7.5 8.2 9.1"


def test_e24_is_the_table():
    assert tuple(float(word) for word in STATED.split()) == E24


def test_eight_values_differ_from_the_rounded_formula():
    rounded = [round(10.0 ** (step / 24), 1) for step in range(24)]
    differing = {value: formula for value, formula in zip(E24, rounded, strict=True) if value != formula}
    assert set(differing) == {2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 8.2}
    assert all(differing[value] == pytest.approx(value - 0.1) for value in differing if value != 8.2)
    assert differing[8.2] == pytest.approx(8.3)


# Ohm's law by hand, then the next value of the table
@pytest.mark.parametrize(
    ("supply_v", "forward_v", "current_ma", "exact_ohm", "bought_ohm"),
    [(5.0, 2.0, 20.0, 150.0, 150.0), (5.0, 3.2, 20.0, 90.0, 91.0), (3.0, 2.0, 2.0, 500.0, 510.0)],
)
def test_worked_resistors(supply_v, forward_v, current_ma, exact_ohm, bought_ohm):
    ohm = 1e3 * (supply_v - forward_v) / current_ma
    assert ohm == pytest.approx(exact_ohm, rel=1e-12)
    assert preferred_ohm(ohm) == bought_ohm


def test_the_worked_resistor_warms_as_worked():
    assert 1e-3 * 20.0**2 * preferred_ohm(150.0) == pytest.approx(60.0)  # mW, run by hand
