"""How a board is built, ready to print: a row per order code and style."""

from dataclasses import dataclass

from paneglow.assembly import Building, BuildWay, JointFit, LandFit, NeededLand, Stability
from paneglow.report.numbers import to_digits, to_refs_text
from paneglow.units import Quantity

STAND_WORDS = {"rests": "rests on its lens", "rocks": "rocks on its lens", "hangs": "hangs in its solder"}


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildingRow:
    """One order code in one style, ready to print."""

    part: str
    mounting: str
    refs: str
    way: str
    chip: str  # class of the chip that shows the way
    reasons: str
    minutes: str
    land: str
    joints: str
    goals: str  # joint goals the board's own lands reach, in a word or two
    standing: str
    stand: str  # the same in a word
    height: str


def build_building_rows(building: Building) -> tuple[BuildingRow, ...]:
    """Rows in the order of the design."""
    lands = zip(building.ways, building.lands, strict=True)
    return tuple(_row(way, building=building, land=land) for way, land in lands)


def to_minutes_text(minutes: Quantity) -> str:
    """Minutes with their range and where they come from.

    Examples
    --------
    >>> to_minutes_text(Quantity(value=12, low=5, high=25, origin="assumed", source="no source"))
    '12 min (5.0–25, assumed)'
    """
    low, high = to_digits(minutes.lowest), to_digits(minutes.highest)
    return f"{to_digits(minutes.value)} min ({low}\N{EN DASH}{high}, {minutes.origin})"


def _row(way: BuildWay, *, building: Building, land: NeededLand) -> BuildingRow:
    refs = set(way.refs)
    fits = [fit for fit in building.fits if fit.ref in refs]
    heights = [height for height in building.heights if height.ref in refs]
    stability = next((one.stability for one in building.standings if refs & set(one.refs)), None)
    tallest = max(height.height_mm for height in heights)
    room = [height.clearance_mm for height in heights if height.clearance_mm is not None]
    return BuildingRow(
        part=way.part,
        mounting=way.mounting.replace("_", " "),
        refs=to_refs_text(way.refs),
        way=f"by {way.way}",
        chip="met" if way.way == "machine" and not way.open_questions else "open",
        reasons="; ".join(word for word in (*way.reasons, *way.open_questions, way.heat) if word),
        minutes=to_minutes_text(way.minutes_each) if way.way == "hand" else "",
        land=_land(land),
        joints=_joints(fits),
        goals=_goals_word(fits),
        stand="" if stability is None else stability.stand,
        standing="" if stability is None else _standing(stability),
        height=f"{to_digits(tallest)} mm" + (f", {to_digits(min(room))} mm to the cover" if room else ""),
    )


def _standing(stability: Stability) -> str:
    """How a lens-down part stands, what it holds against and how far it may tilt."""
    words = f"{STAND_WORDS[stability.stand]}, may tilt by {to_digits(stability.tilt_most_deg)} deg"
    if stability.stand == "hangs":
        return words
    held = stability.unevenness_held_frac
    low, value, high = (to_digits(100 * end) for end in (held.lowest, held.value, held.highest))
    return f"{words}; holds joints that differ by {value} % ({low}\N{EN DASH}{high})"


def _land(needed: NeededLand) -> str:
    if needed.land is None:
        return needed.reason
    pad = needed.land.pads[-1]
    size = f"{pad.length_mm:.2f} x {pad.width_mm:.2f} mm, middle {abs(pad.at_mm[0]):.2f} mm out"
    opening = needed.land.opening
    if opening is None:
        return size
    corners = "" if opening.shape == "drilled hole" else f", inside corners {opening.corner_radius_mm:.2f} mm"
    hole = f"{opening.shape} {opening.length_mm:.2f} x {opening.width_mm:.2f} mm{corners}"
    return f"{size}; {hole}, {opening.copper_free_mm:.2f} mm free of copper round it"


def _joints(fits: list[LandFit]) -> str:
    """What the worst of the board's own pads reaches."""
    joints = [joint for fit in fits for joint in fit.joints]
    if not joints:
        return "not on this board" if not fits else "not told"
    if any(joint.pad is None for joint in joints):
        return "a pad is missing"
    return f"{_GOAL_WORDS[_goals_word(fits)]}; toe {_toes(joints)}; {_class_words(joints)}"


_GOALS = ("most", "nominal", "least", None)
_GOAL_WORDS = {
    "most": "most generous goals",
    "nominal": "nominal goals",
    "least": "least goals",
    "below least": "below the least goals",
}


def _goals_word(fits: list[LandFit]) -> str:
    """Joint goals that the worst of the lands reaches."""
    joints = [joint for fit in fits for joint in fit.joints]
    if not joints:
        return "not here"
    if any(joint.pad is None for joint in joints):
        return "missing"
    worst = _GOALS[max(_GOALS.index(joint.density) for joint in joints)]
    return "below least" if worst is None else worst


def _toes(joints: list[JointFit]) -> str:
    toes = sorted(f"{joint.toe_mm:.2f}" for joint in joints if joint.toe_mm is not None)
    return f"{toes[0]} mm" if toes[0] == toes[-1] else f"{toes[0]} to {toes[-1]} mm"


def _class_words(joints: list[JointFit]) -> str:
    classes = [joint.workmanship for joint in joints]
    if None in classes:
        return "overhang not allowed in any class"
    return f"overhang allowed in class {max(1, min(one for one in classes if one is not None))}"
