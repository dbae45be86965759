"""Rules about what is known of a part: its polarity mark and its chips."""

import re
from collections.abc import Iterable
from typing import get_args

from paneglow.assembly import CASE_MM, case_size
from paneglow.board import PlacedLed
from paneglow.catalog import Colour
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
    """An order code's polarity mark is not known, or nothing stands behind it. It blocks release.

    Two codes of one series may carry one mark and mean the opposite by it: boards have been made with every LED the
    wrong way round because one colour of a series differs. A design may go on; no board should be ordered.
    """
    for leds in by_order_code(context.board.leds):
        part = leds[0].part
        if part.mark_verified:
            continue
        told = "has no evidence" if part.mark is not None else "is not known"
        yield led_fault(
            leds[0],
            reason=f"The polarity mark of {part.code} ({refs_of(leds)}) {told}; this blocks release.",
            remedy="Read it off the data sheet of this exact order code (page and date), or test one part with a meter"
            " (date and who), and write it as mark with its evidence in parts/*.toml.",
        )


@rule("warning")
def value_contradicts_part(context: BoardContext) -> Iterable[Fault]:
    """The placement file calls an LED by another colour or size than the part of the design has.

    Whoever loads the machine goes by the file: one of the two is out of date.
    """
    rows = {} if context.board.placement is None else {row.ref: row for row in context.board.placement.rows}
    for leds in by_order_code(context.board.leds):
        part = leds[0].part
        own = {"colour": part.colour, "size": case_size(part)}
        for led in leds:
            row = rows.get(led.ref)
            if row is None or part.code in (row.value, row.package):
                continue
            told = f"{row.value} {row.package}".lower()
            said = {
                "colour": set(re.findall("[a-z]+", told)) & set(get_args(Colour)),
                "size": set(re.findall(r"(?<!\d)\d{4}(?!\d)", told)) & CASE_MM.keys(),
            }
            wrong = [
                what for what, words in said.items() if own[what] is not None and words - {own[what]} == words != set()
            ]
            if wrong:
                words = " and ".join(f"{what} {to_list(tuple(sorted(said[what])))}" for what in wrong)
                yield led_fault(
                    led,
                    reason=f"The placement file calls it {row.value or row.package!r}, {words}; {part.code} is"
                    f" {' and '.join(str(own[what]) for what in wrong)}.",
                    remedy="Correct the part of its [[led]] table, or the value in the placement file.",
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


@rule("note")
def cost_left_out(context: BoardContext) -> Iterable[Fault]:
    """The cost file beside the design lacks a price, so nothing is said of money.

    Light, polarity and currents are judged all the same.
    """
    if context.unpriced:
        yield Fault(
            reason=f"What it costs is left out: {context.unpriced.partition(';')[0]}.",
            remedy="Add an [[offer]] with item and price_breaks for each to cost.toml.",
        )
