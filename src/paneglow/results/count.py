"""A design and its cost file to the record of what a piece costs, beside its versions and their light."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import get_args

from paneglow.assembly import minutes_by_hand
from paneglow.catalog import Catalog, Timing
from paneglow.cost import (
    MOST_PIECES,
    Costing,
    LedMinutes,
    Option,
    SizeOf,
    board_size_mm,
    build_answer,
    build_bill,
    build_costing,
    cost_file,
    cost_run,
    read_costs,
    swap_parts,
    with_led_minutes,
)
from paneglow.design import Design, Mounting, design_file, read_design
from paneglow.judge import check_costs
from paneglow.results.cost import CostResults
from paneglow.results.options import TracedLight, Version, build_options, read_light

ASSUMED_MINUTES_DATED = date(2026, 11, 25)  # day the assumed minutes by style were written down


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """The cost file beside a design, with every price that is needed there."""

    costing: Costing  # of the design itself
    versions: tuple[Version, ...]  # that the cost file sets beside it


def count_cost(
    prices: Prices,
    *,
    design: Design,
    on: date,
    quantities: Sequence[int] = (),
    seed: int,
    light: TracedLight | None,
) -> CostResults:
    """What the piece of a design costs by the cost file beside it, and what the versions beside it cost.

    Parameters
    ----------
    prices : Prices
        See `read_prices`.
    design : Design
    on : date
        Day on which the ages of prices are judged.
    quantities : sequence of int
        Good pieces of the runs to show, the first of them judged; the run of the design where there are none.
    seed : int
        Of the draws over the stated ranges.
    light : TracedLight or None
        The light of the design, where it is known.
    """
    costs = prices.costing.costs
    runs = tuple(quantities) or (min(design.run.quantity, MOST_PIECES),)
    own = Version(name=design.name, costing=prices.costing, light=light)
    answer = build_answer(prices.costing, quantities=runs, seed=seed)
    return CostResults(
        name=design.name,
        currency=costs.currency,
        on=on,
        answer=answer,
        options=build_options([own, *prices.versions], good=runs[0]),
        findings=check_costs(costs, answer=answer, good=runs[0], on=on),
        inputs=costs,
    )


def read_prices(design_path: Path, *, design: Design, catalog: Catalog) -> Prices:
    """Read the cost file beside a design, and the bills of the versions it sets beside it.

    Told before light is traced, which takes far longer.

    Parameters
    ----------
    design_path : Path
        The design file; cost.toml lies beside it.
    design : Design
    catalog : Catalog
        For the boards the user has timed: minutes of LEDs that the cost file does not state.

    Raises
    ------
    DesignError
        With the file and what is wrong in it, or what has no price.
    """
    size_of = cache(board_size_mm)  # versions are mostly the same board
    costs = with_led_minutes(read_costs(cost_file(design_path)), known=_led_minutes(catalog))
    costing = build_costing(costs, bill=build_bill(design, folder=design_path.parent, size_of=size_of))
    versions = tuple(
        _version(option, costing=costing, folder=design_path.parent, size_of=size_of) for option in costs.option
    )
    for each in (costing, *(version.costing for version in versions)):
        for way in costs.build.ways:
            cost_run(each, way=way, good=1)
    return Prices(costing=costing, versions=versions)


def _led_minutes(catalog: Catalog) -> dict[Mounting, LedMinutes]:
    """Minutes of every style: the user's own clock from ten boards on, assumed ranges before."""
    return {style: _minutes_of(style, timings=catalog.timings) for style in get_args(Mounting)}


def _minutes_of(style: Mounting, *, timings: Sequence[Timing]) -> LedMinutes:
    minutes, boards = minutes_by_hand(style, timings=timings)
    own = [timing.date for timing in timings if timing.mounting == style]
    return LedMinutes(
        minutes=minutes.value,
        low=minutes.lowest,
        high=minutes.highest,
        origin="own-timing" if boards else "assumed",
        dated=max(own) if boards else ASSUMED_MINUTES_DATED,
        source=minutes.source,
    )


def _version(option: Option, *, costing: Costing, folder: Path, size_of: SizeOf) -> Version:
    """A version of the piece that the cost file sets beside the design."""
    if option.design is None:
        bill = swap_parts(costing.bill, swaps=option.swap)
    else:
        other = design_file(folder / option.design)
        bill = build_bill(read_design(other), folder=other.parent, size_of=size_of)
    light = None if option.results is None else read_light(folder / option.results)
    return Version(name=option.name, costing=build_costing(costing.costs, bill=bill), light=light)
