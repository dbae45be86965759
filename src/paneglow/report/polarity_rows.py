"""Which way round LEDs are, ready to print: a row per LED."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from paneglow.assembly import LedPolarity, Polarity, RowCheck

STATE_CHIPS: Mapping[str, str] = {"correct": "met", "not told": "open", "not on this board": "open"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PolarityRow:
    """One LED, ready to print."""

    ref: str
    part: str
    mounting: str
    state: str
    chip: str  # class of the chip that shows the state
    reason: str
    anode: str
    mark: str
    legend: str
    second_way: str


def build_polarity_rows(polarity: Polarity) -> tuple[PolarityRow, ...]:
    """Rows in the order of the design."""
    second = {row.ref: row.state for row in polarity.rows}
    return tuple(_row(one, second_way=second.get(one.ref, "no row")) for one in polarity.leds)


def _row(one: LedPolarity, *, second_way: str) -> PolarityRow:
    return PolarityRow(
        ref=one.ref,
        part=one.part,
        mounting=one.mounting.replace("_", " "),
        state=one.state,
        chip=STATE_CHIPS.get(one.state, "missed"),
        reason=one.reason,
        anode=_anode(one),
        mark=_mark(one),
        legend=_legend(one),
        second_way=second_way,
    )


def _anode(one: LedPolarity) -> str:
    if one.anode_mm is None:
        return "not told"
    return f"{one.anode_direction}, at {one.anode_mm[0]:.2f}, {one.anode_mm[1]:.2f} mm ({one.anode_net})"


def _mark(one: LedPolarity) -> str:
    if one.mark is None:
        return "none stated"
    where = f"shows {one.mark.direction}" if one.mark.visible else f"underneath, {one.mark.direction}"
    proof = "" if one.mark.verified else "; not verified"
    return f"{one.mark.shape} = {one.mark.means}, {where}{proof}"


def _legend(one: LedPolarity) -> str:
    if one.legend is None:
        return "marks neither end"
    if one.legend == "both ends":
        return "marks both ends"
    agrees = {True: ", as it should", False: ", which is wrong", None: ""}[one.legend_agrees]
    return f"marks the {one.legend}{agrees}"


def to_way_round_text(checked: Sequence[LedPolarity | RowCheck], *, basis: str = "") -> str:
    """How many LEDs are the right way round, how many only if an assumption holds, and how many nobody knows.

    Parameters
    ----------
    checked : sequence of LedPolarity or RowCheck
    basis : str
        What tells the rails, in words.
    """
    states = Counter(one.state for one in checked)
    right = sum(one.state == "correct" and one.proven for one in checked)
    hoped = [one for one in checked if one.state == "correct" and not one.proven]
    unknown, elsewhere = states["not told"], states["not on this board"]
    wrong = len(checked) - states["correct"] - unknown - elsewhere
    clauses = []
    if right or wrong:
        clauses.append(f"{right} of {len(checked)} LEDs are the right way round{f', by {basis}' if basis else ''}")
    if hoped:
        codes = len({one.part for one in hoped})
        which = f"{len(hoped)} more" if right else f"{len(hoped)} of {len(checked)} LEDs"
        unproven = f"{codes} order code{'s' if codes > 1 else ''} unproven"
        clauses.append(f"{which} only if the cathode is where it is assumed: {unproven}")
    if unknown:
        clauses.append(f"for {unknown} of {len(checked)} LEDs nothing tells which way round they must be")
    if elsewhere:
        clauses.append(f"{elsewhere} are on a board of their own")
    if wrong:
        clauses.append(f"{wrong} are not")
    return "; ".join(clauses)
