"""Charges for own work: minutes per operation, learning, rework, and the overhead on them."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import get_args

import numpy as np
import numpy.typing as npt

from paneglow.assembly import minutes_by_hand
from paneglow.catalog import Timing
from paneglow.checks import check_between
from paneglow.cost.charges import Charge
from paneglow.cost.money import MINUTES_PER_HOUR, ZERO, Exact, to_plain, to_price, to_share
from paneglow.cost.offers import Floats
from paneglow.cost.records import PER_BOARD, SOLDERING, CostFile, LearningModel, Operation, RangedNumber
from paneglow.cost.run import RunPlan, joints_in
from paneglow.design import Mounting
from paneglow.errors import DesignError

FACTOR_DIGITS = 4  # a learning curve is no better known; what is printed is what is charged
MINUTE_DIGITS = 4
MINUTES_ASSUMED_ON = date(2026, 11, 25)  # day the assumed minutes by style were written down
SUMMED_DIRECTLY = 32  # first terms of a learning curve that are summed one by one


def with_led_minutes(costs: CostFile, *, timings: Sequence[Timing]) -> CostFile:
    """The cost file with an operation for every mounting style that none of its own counts.

    Parameters
    ----------
    costs : CostFile
        As read.
    timings : sequence of Timing
        Boards the user has timed: their own clock from ten boards on, assumed ranges before.
    """
    own = {row.mounting for row in costs.operation if row.per == "led"}
    missing = () if None in own else [style for style in get_args(Mounting) if style not in own]
    added = tuple(_soldering(style, timings=timings) for style in missing)
    return costs.model_copy(update={"operation": (*costs.operation, *added)})


def _soldering(style: Mounting, *, timings: Sequence[Timing]) -> Operation:
    minutes, boards = minutes_by_hand(style, timings=timings)
    ends = (minutes.value, minutes.lowest, minutes.highest)
    value, low, high = (Decimal(f"{round(end, MINUTE_DIGITS):g}") for end in ends)
    return Operation(
        name=f"solder {style.replace('_', '-')}",
        per="led",
        mounting=style,
        minutes=RangedNumber(value=value, low=low, high=high),
        origin="own-timing" if boards else "assumed",
        dated=max(timing.date for timing in timings if timing.mounting == style) if boards else MINUTES_ASSUMED_ON,
        source=minutes.source,
    )


def labour_charges(plan: RunPlan, *, costs: CostFile) -> tuple[Charge, ...]:
    """What own work costs.

    Parameters
    ----------
    plan : RunPlan
        Says what own hands solder.
    costs : CostFile
        With the operations and the rate.

    Raises
    ------
    DesignError
        Where there is own work and no [labour] rate, or no minutes for a style that own hands solder.
    """
    done = [row for row in costs.operation if plan.way in row.ways]
    whole = any(row.solders for row in done)
    counted = {row.mounting for row in costs.operation if row.per == "led"}
    for row in () if whole else plan.own:
        if row.mounting is not None and not counted & {None, row.mounting}:
            raise DesignError(
                f'no minutes are stated for {row.mounting} LEDs; add an [[operation]] with per = "led" and'
                f' mounting = "{row.mounting}"'
            )
    labour = costs.labour
    charges = [
        *(charge for row in done if not (whole and row.per in SOLDERING) for charge in _operation(row, plan, costs)),
        *_rework(plan, costs=costs),
    ]
    if labour is not None and charges:
        percent = labour.overhead_percent
        worked = np.broadcast_to(np.asarray(sum((charge.amount for charge in charges), ZERO)), plan.started.shape)
        charges.append(
            Charge(
                group="labour",
                what="overhead",
                working=lambda run: f"{to_plain(percent.value)} % of {to_price(worked[run])}",
                kind="variable",
                amount=worked * percent.share,
            )
        )
    return tuple(charges)


def _charge(
    what: str, *, working: Callable[[int], str], minutes: Decimal | Exact, costs: CostFile, fixed: bool = False
) -> Charge:
    labour = costs.labour
    if labour is None:
        raise DesignError("own work has no rate; add [labour] with rate_per_hour, its origin, date and source")
    return Charge(
        group="labour",
        what=what,
        working=lambda run: f"{working(run)} at {costs.in_words(labour.rate_per_hour, table=labour)}/h",
        kind="fixed" if fixed else "variable",
        amount=minutes / MINUTES_PER_HOUR * costs.in_base(labour.rate_per_hour, table=labour),
        minutes=minutes,
    )


def _operation(operation: Operation, plan: RunPlan, costs: CostFile) -> Iterator[Charge]:
    each = operation.minutes.value
    if operation.per == "run":
        yield _charge(operation.name, working=lambda _: f"{to_plain(each)} min", minutes=each, costs=costs, fixed=True)
        return
    count, words = _count(operation, plan, costs)
    if not count:
        return
    boards = np.broadcast_to(plan.started, plan.started.shape).astype(object)
    percent, times = operation.learning_percent, None
    if percent is not None:
        times = pieces_equivalent(
            plan.started,
            rate=to_share(percent.value),
            model=operation.learning_model,
            learned=operation.learned,
        )
        boards = np.array([Decimal(f"{time:.{FACTOR_DIGITS}f}") for time in times], dtype=object)
    spent = each * count * boards

    def working(run: int) -> str:
        started = f"{plan.started[run]} boards"
        if percent is not None:
            curve = f"{to_plain(percent.value)} % {operation.learning_model} curve"
            started = f"{to_plain(boards[run])} ({started}, {curve})"
        return f"{to_plain(each)} min{words} x {started} = {to_price(spent[run])} min"

    yield _charge(operation.name, working=working, minutes=spent, costs=costs)


def _count(operation: Operation, plan: RunPlan, costs: CostFile) -> tuple[Decimal, str]:
    """How often it is done on one board, and that in words.

    Minutes that hold the soldering of a whole board count in proportion to the joints that own hands solder. Joints of
    items are soldered by the service where it does everything.
    """
    by_items = sum(row.joints * row.per_piece for row in plan.items)
    own_items = 0 if plan.way == "service" else by_items
    if operation.per == PER_BOARD and operation.solders:
        own = joints_in(plan.own, costs=costs) + own_items
        every = joints_in((*plan.own, *plan.machine, *plan.extra), costs=costs) + by_items
        if own == every:
            return Decimal(1), ""
        return Decimal(own) / every, f" x {own} of {every} joints"
    if operation.per == PER_BOARD:
        return Decimal(1), ""
    leds = [row for row in plan.own if row.mounting is not None]
    glued = [row for row in (*plan.own, *plan.machine, *plan.extra) if row.glued]  # no machine glues
    count = {
        "led": sum(row.count for row in leds if operation.mounting in (None, row.mounting)),
        "part": sum(row.count for row in plan.own if row.mounting is None),
        "joint": own_items,
        "glue": sum(row.count for row in glued),
    }[operation.per]
    return Decimal(count), f" x {count} a board"


def _rework(plan: RunPlan, *, costs: CostFile) -> Iterator[Charge]:
    process = plan.process
    share = np.broadcast_to(np.asarray((1 - plan.first_pass_yield) * process.rework_percent.share), plan.started.shape)
    spent = plan.started * share * process.rework_minutes.value
    if np.any(spent):
        yield _charge(
            "rework",
            working=lambda run: (
                f"{plan.started[run]} boards x {to_plain(100 * share[run])} %"
                f" x {to_plain(process.rework_minutes.value)} min = {to_price(spent[run])} min"
            ),
            minutes=spent,
            costs=costs,
        )


def pieces_equivalent(
    pieces: npt.ArrayLike, *, rate: Decimal | Exact | npt.ArrayLike, model: LearningModel, learned: int = 0
) -> Floats:
    """Time of runs, counted in times of the very first piece.

    Parameters
    ----------
    pieces : array_like of int, shape (run,)
        Pieces of a run, at least 0.
    rate : array_like, shape (run,) or one for all
        Share of the time that remains at each doubling, above 0 to 1.
    model : {"unit", "cumulative-average"}
        unit: `rate` is of the time of the doubled piece; cumulative-average: of the mean time up to it.
    learned : int
        Pieces made before the run, at least 0.

    Returns
    -------
    ndarray, shape (run,)
        Multiply by the time of the first piece.

    Raises
    ------
    RangeError
        Where a rate is outside its range.

    Notes
    -----
    Unit model: the time of the n-th piece is n^b, with b = log2(rate), so each doubling leaves `rate` of the time.
    Cumulative-average model: the mean time of the first n pieces is n^b, so that their total is n^(1+b).

    References
    ----------
    T. P. Wright, Factors affecting the cost of airplanes, J. Aeronaut. Sci. 3, 122-128, 1936.
    """
    count, rates = np.broadcast_arrays(
        np.atleast_1d(np.asarray(pieces, dtype=np.float64)), np.asarray(rate, dtype=np.float64)
    )
    for end in (rates.min(), rates.max()):
        check_between("learning rate", float(end), lower=1e-6, upper=1.0)
    exponent = np.log2(rates)
    if model == "unit":
        return _power_sum(learned + count, exponent) - _power_sum(np.full_like(count, learned), exponent)
    return np.asarray((learned + count) ** (1.0 + exponent) - float(learned) ** (1.0 + exponent))


def _power_sum(last: Floats, exponent: Floats) -> Floats:
    """Sum of k^exponent for k from 1 to `last`: the first terms one by one, the rest by Euler and Maclaurin."""
    first = np.arange(1.0, SUMMED_DIRECTLY + 1.0)
    head = np.where(first <= last[:, None], first ** exponent[:, None], 0.0).sum(axis=1)
    end, start, b = np.maximum(last, SUMMED_DIRECTLY), float(SUMMED_DIRECTLY), exponent
    ratio, power = np.log(end / start), b + 1.0
    slope = np.where(np.abs(power) > 1e-9, power, 1.0)
    area = np.where(np.abs(power) > 1e-9, np.expm1(slope * ratio) / slope, ratio) * start**power

    def ends(x: Floats | float) -> Floats:
        third = b * (b - 1.0) * (b - 2.0)
        fifth = third * (b - 3.0) * (b - 4.0)
        return np.asarray(
            x**b / 2.0 + b * x ** (b - 1.0) / 12.0 - third * x ** (b - 3.0) / 720.0 + fifth * x ** (b - 5.0) / 30240.0
        )

    return np.asarray(head + area + ends(end) - ends(start))
