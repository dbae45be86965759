"""Versions of a piece beside each other: what each looks like and what it costs, the non-dominated ones marked."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from math import hypot
from pathlib import Path

from pydantic import ValidationError

from paneglow.assembly import Bill
from paneglow.cost import Costing, Way, cost_runs, rests_on_assumed_fees, to_paid
from paneglow.design import Mounting
from paneglow.errors import DesignError
from paneglow.judge import Verdict
from paneglow.look import WindowLook
from paneglow.results.cost import LedCost, LightState, OptionLight, OptionResult, SwapCost
from paneglow.results.records import Results
from paneglow.units import Estimate

NOISE_ERRORS = 2  # standard errors within which two looks are the same


@dataclass(frozen=True, slots=True, kw_only=True)
class TracedLight:
    """What light was traced for, and what was seen."""

    leds: tuple[tuple[str, Mounting], ...]  # order code and mounting style of every LED
    seen: OptionLight | None  # None where no window is meant to be lit
    by_part: Mapping[str, Estimate] = field(default_factory=dict)  # mean luminance by order code [cd/m2]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Version:
    """One version of a piece: its bill and prices, and its light where that is known."""

    name: str  # Name of the version
    costing: Costing  # its bill with the prices of the cost file
    light: TracedLight | None  # None where it was never traced


def read_light(path: Path) -> TracedLight | None:
    """The light that an earlier `paneglow light` found; None where there is no such file.

    Raises
    ------
    DesignError
        Where the file is there and is no results.json of this version.
    """
    if not path.is_file():
        return None
    try:
        results = Results.model_validate_json(path.read_text(encoding="utf-8"))
    except (ValidationError, ValueError, OSError) as problem:
        reason = str(problem).splitlines()[0]
        raise DesignError(
            f"{path}: is no results.json of this version of paneglow ({reason}); run paneglow light again"
        ) from None
    return TracedLight(
        leds=tuple((led.part, led.mounting) for led in results.leds),
        seen=build_option_light(results.windows, verdict=results.verdict),
        by_part=luminance_by_part(results.windows, parts={led.ref: led.part for led in results.leds}),
    )


def build_option_light(windows: Sequence[WindowLook], *, verdict: Verdict) -> OptionLight | None:
    """What a traced board looks like in one row; None where no window is meant to be lit.

    Luminance and evenness are means over the windows that an LED is meant for, weighted by area; their ranges and
    errors add those of the windows as if all moved together, which is the wider reading.
    """
    lit = [window for window in windows if window.leds]
    if not lit:
        return None
    goals = verdict.goals
    met = sum(goal.outcome == "met" for goal in goals)
    return OptionLight(
        mean_cd_m2=_mean(lit, of=lambda window: window.mean_cd_m2),
        evenness=_mean(lit, of=lambda window: window.evenness),
        evenness_least=min((window.evenness for window in lit), key=lambda estimate: estimate.value),
        passed=verdict.passed,
        goals_met_frac=met / len(goals) if goals else 1.0,
    )


def luminance_by_part(windows: Sequence[WindowLook], *, parts: Mapping[str, str]) -> dict[str, Estimate]:
    """Mean luminance [cd/m2] of the windows that the LEDs of each order code are meant for, weighted by area.

    Parameters
    ----------
    windows : sequence of WindowLook
        As traced.
    parts : mapping of str to str
        Order code of every LED, by its designator.
    """
    found = {}
    for part in dict.fromkeys(parts.values()):
        lit = [window for window in windows if any(parts.get(ref) == part for ref in window.leds)]
        if lit:
            found[part] = _mean(lit, of=lambda window: window.mean_cd_m2)
    return found


def _mean(windows: Sequence[WindowLook], *, of: Callable[[WindowLook], Estimate]) -> Estimate:
    """Mean over windows, weighted by area; errors and ranges as if all moved together."""
    whole = sum(window.area_mm2 for window in windows)
    ends = {
        end: sum(window.area_mm2 * getattr(of(window), end) for window in windows) / whole
        for end in Estimate.model_fields
        if end != "known"
    }
    return Estimate(**ends)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SwappedPart:
    """The design with the LEDs of one order code replaced."""

    part: str  # order code in the design
    by: str  # order code instead
    costing: Costing  # its bill with the prices of the cost file


def build_led_costs(own: Version, *, swapped: Sequence[SwappedPart], way: Way, good: int) -> tuple[LedCost, ...]:
    """What the LEDs of every order code cost a board, and what another code instead would change.

    Parameters
    ----------
    own : Version
        The design itself, with its light.
    swapped : sequence of SwappedPart
        What the versions of the cost file put instead of single order codes.
    way : {"hand", "mixed", "service"}
        Way to build.
    good : int
        Good pieces of the run.
    """
    bill, light = own.costing.bill, own.light
    known = light is not None and _light_state(light, bill=bill) == "traced"

    def paid(amount: Decimal) -> Decimal:
        return to_paid(amount, currency=own.costing.costs.currency)

    whole, rows = _exact_unit(own.costing, way=way, good=good), []
    for part in dict.fromkeys(row.item for row in bill.rows if row.mounting is not None):
        without = replace(own.costing, bill=replace(bill, rows=tuple(row for row in bill.rows if row.item != part)))
        rows.append(
            LedCost(
                way=way,
                part=part,
                count=sum(row.count for row in bill.rows if row.item == part),
                each_board=paid(whole - _exact_unit(without, way=way, good=good)),
                mean_cd_m2=light.by_part.get(part) if light is not None and known else None,
                instead=tuple(
                    SwapCost(by=swap.by, more_each_board=paid(_exact_unit(swap.costing, way=way, good=good) - whole))
                    for swap in swapped
                    if swap.part == part
                ),
            )
        )
    return tuple(rows)


def build_options(versions: Sequence[Version], *, good: int) -> tuple[OptionResult, ...]:
    """Every version in every way at one quantity.

    Parameters
    ----------
    versions : sequence of Version
        The design itself first.
    good : int
        Good pieces of the run.

    Returns
    -------
    tuple of OptionResult
        `best` marks the rows that no other dominates in cost, own minutes, luminance, evenness and goals met; a row
        that needs fees nobody quoted is neither marked nor compared.
    """
    units = {way: _exact_unit(versions[0].costing, way=way, good=good) for way in versions[0].costing.costs.build.ways}
    rows = [row for version in versions for row in _rows(version, usual=units, good=good)]
    compared = [row for row in rows if row.quoted]
    best = [row for row in compared if not any(dominates(other, row) for other in compared)]
    return tuple(row.model_copy(update={"best": row in best}) for row in rows)


def _rows(version: Version, *, usual: Mapping[Way, Decimal], good: int) -> list[OptionResult]:
    costs = version.costing.costs
    state = _light_state(version.light, bill=version.costing.bill)
    light = version.light.seen if version.light is not None and state == "traced" else None
    rows = []
    for way in costs.build.ways:
        runs = cost_runs(version.costing, way=way, good=[good])
        unit = runs.total[0] / good
        rows.append(
            OptionResult(
                name=version.name,
                way=way,
                good=good,
                unit=to_paid(unit, currency=costs.currency),
                more=to_paid(unit - usual[way], currency=costs.currency),
                quoted=not rests_on_assumed_fees(version.costing, way=way),
                minutes=round(runs.minutes[0] / good, 2),
                light_state=state,
                light=light,
                best=False,
            )
        )
    return rows


def _exact_unit(costing: Costing, *, way: Way, good: int) -> Decimal:
    exact: Decimal = cost_runs(costing, way=way, good=[good]).total[0] / good
    return exact


def _light_state(light: TracedLight | None, *, bill: Bill) -> LightState:
    """Whether a light is that of a bill: the same order codes mounted alike, as often."""
    if light is None:
        return "not traced"
    traced = sorted(light.leds)
    billed = sorted(
        (row.item, row.mounting) for row in bill.rows if row.mounting is not None for _ in range(row.count)
    )  # fmt: skip
    return "traced" if traced == billed else "of another version"


def dominates(one: OptionResult, other: OptionResult) -> bool:
    """Whether one row is at least as good as another in everything, and better in something.

    Two ways to build one version look the same: cost and own minutes decide. Two versions are also compared by
    luminance, evenness and goals met, of which a difference within two standard errors counts as none; where the light
    of either is not known neither dominates the other.
    """
    gains = [float(other.unit - one.unit), float(other.minutes - one.minutes)]
    if one.name != other.name:
        if one.light is None or other.light is None:
            return False
        gains += _gains(one.light, other.light)
    return all(gain >= 0 for gain in gains) and any(gain > 0 for gain in gains)


def _gains(one: OptionLight, other: OptionLight) -> list[float]:
    """How much better one light is in luminance, evenness and goals met; 0 within the noise of tracing."""
    pairs = ((one.mean_cd_m2, other.mean_cd_m2), (one.evenness, other.evenness))
    noisy = [(first.value - second.value, hypot(first.se, second.se)) for first, second in pairs]
    seen = [gain if abs(gain) > NOISE_ERRORS * error else 0.0 for gain, error in noisy]
    return [*seen, one.goals_met_frac - other.goals_met_frac]
