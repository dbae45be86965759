"""What the ranges of cell, forward voltage and light leave open of a battery life."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from paneglow.catalog import Part
from paneglow.drive.data_files import End
from paneglow.drive.leds import build_drive_led
from paneglow.drive.life import build_life
from paneglow.drive.records import Circuit, DailyUse, LifeAnswer, WindowLight
from paneglow.drive.supplies import build_supply
from paneglow.errors import DesignError

# Words of each case, the end of the supply's ranges, the end of the forward voltage
CORNERS: tuple[tuple[str, End, End], ...] = (
    ("weak supply, high forward voltage", "low", "high"),
    ("weak supply, low forward voltage", "low", "low"),
    ("strong supply, high forward voltage", "high", "high"),
    ("strong supply, low forward voltage", "high", "low"),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LifeRange:
    """Battery life at the nominal values, and the shortest and longest that the cases give."""

    nominal: LifeAnswer  # The life at the nominal values
    shortest_h: float  # hours of light
    shortest_case: str  # which case that is
    longest_h: float  # Hours of light in the longest case
    longest_case: str  # Which case lasts longest


def circuit_corners(
    circuit: Circuit, *, parts: Mapping[str, Part], supply_code: str, voltage_v: float | None = None
) -> dict[str, Circuit]:
    """A circuit with its supply and the forward voltage of all LEDs at the ends of their ranges, by words for each.

    Parameters
    ----------
    circuit : Circuit
    parts : mapping
        Part of every LED, by ref.
    supply_code, voltage_v : str, float or None
        As the supply of the circuit was built.

    Raises
    ------
    DesignError
        If an LED of the circuit has no part.

    Notes
    -----
    All four corners, since no end is the worst in everything: a strong cell gives more light and is empty sooner.
    """
    missing = sorted(set(circuit.refs) - set(parts))
    if missing:
        raise DesignError(f"no part is given for {', '.join(missing)}")
    return {
        words: replace(
            circuit,
            supply=build_supply(supply_code, voltage_v=voltage_v, end=supply_end),
            leds=tuple(build_drive_led(ref, parts[ref], voltage=voltage_end) for ref in circuit.refs),
        )
        for words, supply_end, voltage_end in CORNERS
    }


def build_life_range(
    circuit: Circuit,
    *,
    light: WindowLight,
    cases: Mapping[str, tuple[Circuit, WindowLight]],
    use: DailyUse | None = None,
) -> LifeRange:
    """Follow the supply at the nominal values and in every case.

    Parameters
    ----------
    circuit, light : Circuit, WindowLight
        The nominal ones.
    cases : mapping
        Circuit and light of each case, by words for it.
    use : DailyUse, optional
        See `build_life`.
    """
    nominal = build_life(circuit, light=light, use=use)
    hours = {"nominal": nominal.lit_h}
    for words, (other, other_light) in cases.items():
        hours[words] = build_life(other, light=other_light, use=use).lit_h
    shortest, longest = min(hours, key=hours.__getitem__), max(hours, key=hours.__getitem__)
    return LifeRange(
        nominal=nominal,
        shortest_h=hours[shortest],
        shortest_case=shortest,
        longest_h=hours[longest],
        longest_case=longest,
    )
