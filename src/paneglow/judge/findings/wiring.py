"""Rules about the circuits that a design declares, against the copper and the rows of the placement file."""

from collections.abc import Iterable, Iterator

from paneglow.judge.findings.rule import BoardContext, Fault, rule


def _faults(context: BoardContext, *, code: str, remedy: str) -> Iterator[Fault]:
    for one in context.polarity.wiring.faults:
        if one.code == code:
            yield Fault(subject=one.subject, at_mm=one.at_mm, reason=one.reason, remedy=remedy)


@rule("error")
def part_without_lands(context: BoardContext) -> Iterable[Fault]:
    """A resistor or another small part of the placement file has no bare pad under one of its ends.

    The pad was forgotten, lies under solder mask, or the row stands in the wrong place. The part is not soldered, and
    its circuit stays open.
    """
    return _faults(
        context,
        code="part-without-lands",
        remedy="Open the solder mask over both of its pads, draw the missing one, or correct the place and the face of"
        " its row in the placement file.",
    )


@rule("error")
def resistor_bypassed(context: BoardContext) -> Iterable[Fault]:
    """A string hangs on its rails without the resistor that the design gives it.

    Copper joins the pads of the resistor, or leads past them. Nothing limits the current: the LED or its supply is
    destroyed.
    """
    return _faults(
        context,
        code="resistor-bypassed",
        remedy="Part the copper between the two pads of the resistor, or say resistor_ohm = 0 where the design means"
        " it so.",
    )


@rule("error")
def resistor_missing(context: BoardContext) -> Iterable[Fault]:
    """No row of the placement file puts a resistor that the design declares on its pads.

    Nobody places it; the string stays open and dark.
    """
    return _faults(
        context,
        code="resistor-missing",
        remedy="Add its row to the placement file, with its value.",
    )


@rule("error")
def resistor_differs(context: BoardContext) -> Iterable[Fault]:
    """The resistor that copper puts in series with an LED is not the one of the design.

    Its name or its value is another: two resistors are swapped, or one file is older. The LED is too bright or too dim.
    """
    return _faults(
        context,
        code="resistor-differs",
        remedy="Swap the rows of the placement file back, or correct resistors and resistor_ohm in the [[circuit]].",
    )


@rule("error")
def resistor_shared_by_copper(context: BoardContext) -> Iterable[Fault]:
    """One resistor feeds several strings that were each declared with their own.

    They share its current by their forward voltages: each gets less, and the lowest gets most.
    """
    return _faults(
        context,
        code="resistor-shared-by-copper",
        remedy="Give each string its own resistor, or declare the shared one by its name in resistors of the"
        " [[circuit]].",
    )


@rule("error")
def circuit_wired_otherwise(context: BoardContext) -> Iterable[Fault]:
    """Copper does not join LEDs as the design declares their circuit.

    Currents, life and brightness are then computed for a circuit that this board does not have.
    """
    return _faults(
        context,
        code="circuit-wired-otherwise",
        remedy="Correct the copper, or declare the circuit in [[circuit]] as it is routed.",
    )


@rule("error")
def rail_reaches_no_led(context: BoardContext) -> Iterable[Fault]:
    """A rail of the design is copper on which no LED hangs.

    The point lies on other copper than was meant, or a trace to it is missing.
    """
    return _faults(
        context,
        code="rail-reaches-no-led",
        remedy="Correct at_mm or net of this [[rail]], or join its copper to the LEDs.",
    )


@rule("error")
def data_input_open(context: BoardContext) -> Iterable[Fault]:
    """Nothing drives the data or clock input of an LED with logic inside.

    A trace is missing, or the part before it lies the wrong way round. It and all that follow it stay dark.
    """
    return _faults(
        context,
        code="data-input-open",
        remedy="Join its input to the output of the LED before it, or to the source of the data; look first whether a"
        " part beside it is turned.",
    )


@rule("error")
def data_outputs_joined(context: BoardContext) -> Iterable[Fault]:
    """Copper joins the outputs of two LEDs with logic inside.

    They drive against each other: data is lost, and the outputs may be damaged.
    """
    return _faults(
        context,
        code="data-outputs-joined",
        remedy="Part their copper, or turn the part of the two that lies the wrong way round.",
    )


@rule("error")
def data_order_differs(context: BoardContext) -> Iterable[Fault]:
    """Data passes the LEDs in another order than the design declares.

    Each LED then shows the colour that was meant for another.
    """
    return _faults(
        context,
        code="data-order-differs",
        remedy="List the LEDs of this [[circuit]] in the order of the copper, or correct the copper.",
    )


@rule("note")
def circuit_not_checked(context: BoardContext) -> Iterable[Fault]:
    """Part of a declared circuit could not be compared with the copper.

    What is not known is said, so that it does not read as a pass.
    """
    return _faults(
        context,
        code="circuit-not-checked",
        remedy="State values in the placement file or the names of resistors in the [[circuit]], [[rail]] tables, and"
        " the terminals of each part.",
    )
