"""Rules about which way round LEDs are: copper against part, mark and legend, and the placement file itself."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

from paneglow.assembly import ASKEW_DEG, LedPolarity, find_pads
from paneglow.board import PlacedLed
from paneglow.judge.findings.parts import refs_of
from paneglow.judge.findings.rule import BoardContext, Fault, Threshold, led_fault, rule
from paneglow.judge.wording import to_list, to_number

ASKEW = Threshold(
    what="angle between a small part and the line between its two pads from which it lies across them",
    value=ASKEW_DEG,
    unit="deg",
    source="chosen: parts are placed within a few degrees, a slip is a quarter turn",
)
ALIKE_MM = 0.01  # pad geometry alike within this is one land pattern; land drawings are rounded so


@rule("error")
def placement_misread(context: BoardContext) -> Iterable[Fault]:
    """Rows of the placement file lie wrong together, and would all lie right if they were read in one other way.

    The file counts rotations otherwise than it is read, or the drawing of one part has another zero. Where all LEDs
    would have to be turned by half, the rails may be named the wrong way round instead.
    """
    for misread in context.polarity.misread:
        whose = f"of {misread.part}" if misread.part else "of the placement file"
        where = f"its [[led]] table: {misread.write}" if misread.part else f"[board]: {misread.write}"
        yield Fault(
            subject=misread.refs[0],
            reason=f"{to_list(misread.refs)}: {len(misread.refs)} rows {whose} lie wrong, by"
            f" {context.polarity.basis}. All lie right if {misread.right_if}.",
            remedy=f"Ask whoever made the file how it counts, and write in {where}; or correct the rails.",
        )


@rule("error")
def led_reversed(context: BoardContext) -> Iterable[Fault]:
    """An LED would be soldered the wrong way round.

    Its anode comes to lie on the negative one of its two nets. It stays dark on every board of the run.
    """
    for led, polarity in _pairs(context):
        if polarity.state == "reversed" and led.ref not in misread_refs(context):
            yield led_fault(
                led,
                reason=polarity.reason,
                remedy="Turn it by 180 deg in the placement file, or correct how the file counts rotations"
                " (placement_zero, placement_bottom) or the terminals of the part.",
            )


@rule("error")
def led_off_its_lands(context: BoardContext) -> Iterable[Fault]:
    """A terminal of an LED comes to lie where there is no pad.

    The row of the placement file is turned or mirrored, or the part is not the one the pads were drawn for.
    """
    for led, polarity in _pairs(context):
        # Where no copper at all is under a terminal, land-missing tells it
        if led.ref in misread_refs(context):
            continue
        if polarity.state == "off its pads" and None not in find_pads(led, board=context.board):
            yield led_fault(
                led,
                reason=polarity.reason,
                remedy="Correct the row of the placement file (place, rotation, side), or draw pads there.",
            )


@rule("error", thresholds=(ASKEW,))
def part_across_its_lands(context: BoardContext) -> Iterable[Fault]:
    """A resistor or another small part of the placement file lies across its two pads.

    Its row was turned. It stands on neither pad and is soldered by hand afterwards, or not at all.
    """
    for one in context.polarity.across:
        yield Fault(
            subject=one.ref,
            at_mm=one.at_mm,
            reason=f"It lies {to_number(one.off_deg)} deg off the line between its two pads.",
            remedy="Correct the rotation of its row in the placement file.",
        )


@rule("error")
def led_on_one_net(context: BoardContext) -> Iterable[Fault]:
    """Copper joins the two sides of an LED.

    No current flows through it.
    """
    for led, polarity in _pairs(context):
        if polarity.state == "both on one net":
            yield led_fault(
                led,
                reason=polarity.reason,
                remedy="Part the copper between its pads, or move it to the pads it was drawn for.",
            )


@rule("error")
def led_leads_nowhere(context: BoardContext) -> Iterable[Fault]:
    """The copper under one side of an LED reaches nothing else.

    It is an island: no other part, rail or plated hole to copper with one. The LED stays dark.
    """
    for led, polarity in _pairs(context):
        if polarity.dead_end is not None and polarity.state != "off its pads":
            yield led_fault(
                led,
                reason=f"The copper under its {polarity.dead_end} is an island: it has no other pad and is no rail.",
                remedy="Join it by a trace or a plated hole, or name it as a [[rail]] if a wire feeds it.",
            )


@rule("warning")
def polarity_not_told(context: BoardContext) -> Iterable[Fault]:
    """Which pad of an LED is the positive one cannot be told.

    Nothing then checks that it is the right way round.
    """
    waiting: dict[str, list[PlacedLed]] = defaultdict(list)
    for led, polarity in _pairs(context):
        if polarity.state == "not told":
            waiting[_cause(polarity, told=bool(context.polarity.basis))].append(led)
    for cause, leds in waiting.items():
        yield led_fault(
            leds[0],
            reason=f"{cause}, so nothing checks which way round {refs_of(leds)} must be.",
            remedy="Name a point on the positive and one on the negative copper in [[rail]] tables, and terminals of"
            " the part in parts/*.toml.",
        )


def _cause(polarity: LedPolarity, *, told: bool) -> str:
    if "does not say where its terminals are" in polarity.reason:
        return polarity.reason.rstrip(".")
    return polarity.reason.rstrip(".") if told else "Nothing tells which copper is the positive side of the supply"


@rule("error")
def mark_against_legend(context: BoardContext) -> Iterable[Fault]:
    """The mark that shows on a part means the other terminal than the legend mark at its pads.

    A person who lines up the two solders the part the wrong way round, every time.
    """
    for group in _by_part(context):
        against = [(led, one) for led, one in group if one.mark_agrees is False]
        if not against:
            continue
        led, one = against[0]
        assert one.mark is not None
        yield led_fault(
            led,
            reason=f"The {one.mark.shape} of {one.part} ({refs_of(led for led, _ in against)}) means the"
            f" {one.mark.means}, and the legend marks the pad of the {one.legend}: lined up, the part is reversed.",
            remedy=f"Take a part whose mark means the {one.legend}, or move the legend mark to the pad of the"
            f" {one.mark.means} and say so in [board] legend_mark; until then solder by the bench sheet and test each"
            " with a meter.",
        )


@rule("warning", "note")
def legend_mark_missing(context: BoardContext) -> Iterable[Fault]:
    """The legend does not mark one end of an LED's pads.

    It marks neither end, or both alike. Nobody can then see on the bare board which way round the LED goes. A warning
    where other LEDs of the board are marked, so that the missing mark misleads; a note where the legend marks none.
    """
    pairs = list(_pairs(context))
    if context.design.board.legend_mark == "none":
        return
    mixed = any(one.legend in ("anode", "cathode") for _, one in pairs)
    for legend, words in ((None, "neither end"), ("both ends", "both ends alike")):
        leds = [
            led for led, one in pairs if one.legend == legend and one.state != "not on this board" and _has_two(led)
        ]
        if leds:
            yield led_fault(
                leds[0],
                severity="warning" if mixed else "note",
                reason=f"The legend marks {words} of the pads of {refs_of(leds)}.",
                remedy=f"Draw a bar or dot of legend ink beyond the pad of the {context.design.board.legend_mark}, or"
                ' say legend_mark = "none" in [board].',
            )


def _has_two(led: PlacedLed) -> bool:
    return led.part.terminals is not None and len(led.part.terminals.pads) == 2


@rule("warning")
def same_lands_opposite_marks(context: BoardContext) -> Iterable[Fault]:
    """Order codes share a footprint, yet their marks mean opposite terminals, or not the usual one.

    One colour of a series is often marked the other way round. Who has learned the mark from one reel solders the next
    one the wrong way. A mark counts as usual where it means what legend marks of the board mean, else the cathode.
    """
    by_lands: dict[object, dict[str, PlacedLed]] = defaultdict(dict)
    for led in context.board.leds:
        if led.part.mark is not None and led.part.terminals is not None:
            by_lands[_land_key(led)].setdefault(led.part.code, led)
    meant_by_legend = context.design.board.legend_mark
    usual = "cathode" if meant_by_legend == "none" else meant_by_legend
    for alike in by_lands.values():
        meant: dict[str, list[PlacedLed]] = defaultdict(list)
        for led in alike.values():
            meant[_role_of_mark(led)].append(led)
        odd = [led for role, leds in meant.items() if role not in (usual, "none") for led in leds]
        if not odd:
            continue
        codes = to_list(tuple(led.part.code for led in odd))
        others = to_list(tuple(led.part.code for led in meant[usual]))
        beside = f"that of {others}, on the same pads, the {usual}" if others else f"a mark usually means the {usual}"
        yield led_fault(
            odd[0],
            reason=f"The mark of {codes} means the {_role_of_mark(odd[0])}; {beside}.",
            remedy="Take order codes whose marks mean the same, or keep the bench sheet beside each reel and test the"
            " first part of every reel with a meter.",
        )


def _land_key(led: PlacedLed) -> object:
    terminals = led.part.terminals
    assert terminals is not None
    pads = sorted((round(abs(pad.at_mm[0]) / ALIKE_MM), round(abs(pad.at_mm[1]) / ALIKE_MM)) for pad in terminals.pads)
    return led.mounting, led.part.body.length_mm, led.part.body.width_mm, tuple(pads)


def _role_of_mark(led: PlacedLed) -> str:
    assert led.part.terminals is not None
    assert led.part.mark is not None
    terminal = led.part.terminals.named(led.part.mark.terminal)
    return "none" if terminal is None else terminal.role


@rule("error")
def legend_mark_disagrees(context: BoardContext) -> Iterable[Fault]:
    """The legend marks the wrong end of an LED's pads.

    A person at the bench trusts it over everything else.
    """
    meant = context.design.board.legend_mark
    for led, polarity in _pairs(context):
        if polarity.legend_agrees is False:
            yield led_fault(
                led,
                reason=f"The legend marks the pad that takes its {polarity.legend}, while a legend mark means the"
                f" {meant} here.",
                remedy="Move the mark to the other pad, or say in [board] legend_mark what marks mean here.",
            )


@rule("note")
def mark_hidden_once_mounted(context: BoardContext) -> Iterable[Fault]:
    """The polarity mark of a part vanishes underneath once it is mounted.

    Nobody can see afterwards which way round it is; it has to be tested.
    """
    for group in _by_part(context):
        polarity = group[0][1]
        if polarity.mark is not None and not polarity.mark.visible:
            leds = refs_of(led for led, _ in group)
            yield led_fault(
                group[0][0],
                reason=f"The {polarity.mark.shape} of {polarity.part} ({leds}), which means the"
                f" {polarity.mark.means}, is underneath once it is mounted {polarity.mounting.replace('_', ' ')}.",
                remedy=polarity.how_to_test,
            )


@rule("warning")
def net_names_disagree(context: BoardContext) -> Iterable[Fault]:
    """Names of nets in the files contradict the copper.

    The files belong to different versions of the board, or the board has a short or a break.
    """
    for sentence in context.polarity.conflicts:
        yield Fault(
            reason=f"{sentence[:1].upper()}{sentence[1:]}.",
            remedy="Export netlist and fabrication files together; where they are, look for a short or a break there.",
        )


@rule("error")
def two_ways_disagree(context: BoardContext) -> Iterable[Fault]:
    """Two independent ways to put a row of the placement file on the board give different answers.

    One works on shapes and angles, one on pixels and bodies in space. Where they differ, neither is to be trusted.
    """
    rows = {row.ref: row for row in context.polarity.rows}
    for led, polarity in _pairs(context):
        row = rows.get(polarity.ref)
        if row is not None and row.state != polarity.state:
            yield led_fault(
                led,
                reason=f"By shapes and angles it is {polarity.state}, by pixels and bodies {row.state}.",
                remedy="Look at its pads: copper much narrower than the raster pitch, or a terminal that barely"
                " reaches its pad; a finer pitch_mm in [board] may settle it.",
            )


def misread_refs(context: BoardContext) -> frozenset[str]:
    """LEDs whose fault is told once, as one of the whole file or of their part."""
    return frozenset(ref for misread in context.polarity.misread for ref in misread.refs)


def _pairs(context: BoardContext) -> Iterable[tuple[PlacedLed, LedPolarity]]:
    polarity_of = {one.ref: one for one in context.polarity.leds}
    return ((led, polarity_of[led.ref]) for led in context.board.leds if led.ref in polarity_of)


def _by_part(context: BoardContext) -> Iterable[Sequence[tuple[PlacedLed, LedPolarity]]]:
    groups: dict[tuple[str, str], list[tuple[PlacedLed, LedPolarity]]] = defaultdict(list)
    for led, polarity in _pairs(context):
        groups[polarity.part, polarity.mounting].append((led, polarity))
    return groups.values()
