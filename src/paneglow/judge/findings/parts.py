"""Rules about what is known of a part: its polarity mark and its chips."""

from collections.abc import Iterable

from paneglow.board import PlacedLed
from paneglow.judge.findings.rule import BoardContext, Fault, led_fault, rule
from paneglow.judge.wording import to_list


def by_order_code(leds: Iterable[PlacedLed]) -> tuple[tuple[PlacedLed, ...], ...]:
    """LEDs of one order code together, in the order met."""
    groups: dict[str, list[PlacedLed]] = {}
    for led in leds:
        groups.setdefault(led.part.code, []).append(led)
    return tuple(tuple(group) for group in groups.values())


def refs_of(leds: Iterable[PlacedLed]) -> str:
    """Designators in words."""
    return to_list(tuple(led.ref for led in leds))


@rule("warning", blocks_release=True)
def mark_unverified(context: BoardContext) -> Iterable[Fault]:
    """An order code's polarity mark is not told, or nothing stands behind what is told. It blocks release.

    Two codes of one series may carry one mark and mean the opposite by it: boards have been made with every LED the
    wrong way round because one colour of a series differs. A design may go on; no board should be ordered.
    """
    for leds in by_order_code(context.board.leds):
        part = leds[0].part
        if part.mark_verified:
            continue
        told = "has no evidence" if part.mark is not None else "is not told"
        yield led_fault(
            leds[0],
            reason=f"The polarity mark of {part.code} ({refs_of(leds)}) {told}; this blocks release.",
            remedy="Read it off the data sheet of this exact order code (page and date), or test one part with a meter"
            " (date and who), and write it as mark with its evidence in parts/*.toml.",
        )


@rule("error")
def several_chips_as_one(context: BoardContext) -> Iterable[Fault]:
    """A package with several chips is used as if it were one LED.

    A design states one colour and one current per LED, and polarity can only be told per chip: a common terminal or
    four pads leave more than one way to be wrong.
    """
    for leds in by_order_code(context.board.leds):
        terminals = leds[0].part.terminals
        if terminals is None or not terminals.chips:
            continue
        chips = f"{len(terminals.chips)} chips ({', '.join(terminals.chips)})"
        names = " and ".join(terminals.common)
        shared = f" that share terminal {names}" if names else f" on {len(terminals.pads)} terminals"
        yield led_fault(
            leds[0],
            reason=f"The package of {leds[0].part.code} ({refs_of(leds)}) holds {chips}{shared}; a design treats it as"
            " one LED.",
            remedy="Take a part with one chip, or wait for designs that drive chips apart: its polarity, light and"
            " current cannot be checked as one LED.",
        )
