"""The cycle of a circuit cut into steps in which no switch moves: scan phases, cut again where PWM channels go off."""

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

from paneglow.drive.circuit.records import GROUND, RAIL, Circuit, LedString, Phase, PinState
from paneglow.errors import DesignError

SHARE_TOLERANCE = 1e-9  # rounding of shares that are thirds and sevenths


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A share of the cycle: the state of every pin, which strings' own switches are closed, which LEDs are meant."""

    share_frac: float
    pins: dict[str, PinState]
    strings_on: tuple[bool, ...]
    meant: frozenset[str]


def build_steps(circuit: Circuit) -> tuple[Step, ...]:
    """Every step of one cycle, in order; shares sum to 1.

    Parameters
    ----------
    circuit : Circuit
    """
    return tuple(itertools.chain.from_iterable(_of_phase(phase, circuit=circuit) for phase in circuit.phases))


def check_circuit(circuit: Circuit) -> None:
    """Raise where a circuit is not one that can be wired.

    Parameters
    ----------
    circuit : Circuit

    Raises
    ------
    DesignError
        If a terminal, an LED or a pin is unknown or stands twice, a value is out of its range, pins have no chip, or
        the shares of the phases do not sum to 1.
    """
    for problem in _problems(circuit):
        raise DesignError(f"circuit: {problem}")


def _of_phase(phase: Phase, *, circuit: Circuit) -> Iterator[Step]:
    duties = dict(phase.duties)
    ends = {*duties.values(), *(string.duty_frac for string in circuit.strings), 1.0}
    start = 0.0
    for end in sorted(end for end in ends if 0.0 < end <= 1.0):
        share_frac, start = phase.share_frac * (end - start), end
        if share_frac <= 0.0:
            continue
        pins: dict[str, PinState] = {pin.name: "float" for pin in circuit.pins}
        pins |= {name: state for name, state in phase.pins if duties.get(name, 1.0) >= end}
        on = tuple(string.duty_frac >= end for string in circuit.strings)
        driven = {RAIL, GROUND, *(resistor.name for resistor in circuit.shared)}
        driven |= {name for name, state in pins.items() if state != "float"}
        lit = {ref for string, closed in zip(circuit.strings, on, strict=True) if closed for ref in string.refs
               if {string.from_terminal, string.to_terminal} <= driven}  # fmt: skip
        meant = frozenset(lit if phase.lights is None else lit & set(phase.lights))
        yield Step(share_frac=share_frac, pins=pins, strings_on=on, meant=meant)


def _problems(circuit: Circuit) -> Iterator[str]:
    pins = [pin.name for pin in circuit.pins]
    shared = [resistor.name for resistor in circuit.shared]
    terminals = {RAIL, GROUND, *pins, *shared}
    wired = [ref for string in circuit.strings for ref in string.refs]
    yield from (f"{ref} is wired twice; an LED belongs to one string" for ref in sorted(_twice(wired)))
    yield from (f"{name} stands twice among pins and shared resistors" for name in sorted(_twice([*pins, *shared])))
    named = [resistor.name for resistor in circuit.resistors if resistor.name]
    yield from (f"{name} stands in two places; only strings of one rail circuit can share it" for name in _twice(named))
    for resistor in circuit.resistors:
        if not resistor.ohm >= 0.0:
            yield f"{resistor.name or 'a resistor'} has {resistor.ohm:g} ohm; allowed is 0 or more"
    yield from (f"{name} is the name of a wire, not of a pin or resistor; call it something else"
                for name in (*pins, *shared) if name in (RAIL, GROUND))  # fmt: skip
    yield from (f"{ref} has no string; wire it or leave it out" for ref in circuit.refs if ref not in wired)
    yield from (f"{ref} is wired but is not an LED of the board" for ref in wired if ref not in circuit.refs)
    if pins and circuit.chip is None:
        yield "it has pins but no chip; say which chip they belong to"
    for string in circuit.strings:
        yield from _of_string(string, terminals=terminals)
    for number, phase in enumerate(circuit.phases, start=1):
        named = [name for name, _ in (*phase.pins, *phase.duties)]
        yield from (f"phase {number} names pin {name!r}, which there is not" for name in named if name not in pins)
        yield from (
            f"phase {number}: duty of {name} is {duty:g}; allowed is 0 to 1"
            for name, duty in phase.duties
            if not 0.0 <= duty <= 1.0
        )
    shares = [phase.share_frac for phase in circuit.phases]
    if min(shares, default=0.0) < 0.0 or not math.isclose(sum(shares), 1.0, abs_tol=SHARE_TOLERANCE):
        yield f"shares of the phases sum to {sum(shares):g}; needed are shares of 0 or more that sum to 1"


def _of_string(string: LedString, *, terminals: set[str]) -> Iterator[str]:
    name = string.name
    if not string.refs:
        yield "a string holds no LED"
    for terminal in (string.from_terminal, string.to_terminal):
        if terminal not in terminals:
            yield f"{name} ends at {terminal!r}; allowed is rail, ground, a pin or a shared resistor"
    if string.from_terminal == string.to_terminal:
        yield f"{name} starts and ends at {string.from_terminal!r}; no current can flow"
    if not 0.0 <= string.duty_frac <= 1.0:
        yield f"{name}: duty_frac is {string.duty_frac:g}; allowed is 0 to 1"
    if string.sink is not None and not (string.sink.current_ma >= 0.0 and string.sink.dropout_v > 0.0):
        yield f"{name}: a sink needs a current of 0 mA or more and a dropout voltage above 0 V"


def _twice(names: list[str]) -> set[str]:
    return {name for name in names if names.count(name) > 1}
