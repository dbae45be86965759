"""From a design and its cost file to what a piece costs, beside its versions and their light."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from paneglow.assembly import Bill, build_bill, build_ways, size_of
from paneglow.board import BoardFiles, PlacedLed, read_board_files, seat_leds
from paneglow.catalog import Catalog, find_part
from paneglow.cost import (
    MOST_RUN,
    Costing,
    Option,
    build_answer,
    build_costing,
    cost_file,
    cost_runs,
    read_costs,
    starter_text,
    with_led_minutes,
)
from paneglow.design import Design, design_file, read_design
from paneglow.errors import DesignError, OutputError, PaneglowError, PriceError
from paneglow.judge import check_costs
from paneglow.pipeline.inputs import Inputs, read_inputs
from paneglow.results import (
    CostResults,
    SwappedPart,
    TracedLight,
    Version,
    build_led_costs,
    build_options,
    read_light,
)
from paneglow.writing import write_together


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """The cost file beside a design, with every price that is needed there."""

    costing: Costing  # of the design itself
    versions: tuple[Version, ...]  # that the cost file sets beside it
    swapped: tuple[SwappedPart, ...]  # the design with single order codes replaced, as versions replace them
    left_out: tuple[tuple[str, str], ...]  # versions that could not be read or priced: name and reason


def cost_design(
    path: Path, *, on: date, quantities: Sequence[int] = (), seed: int = 1, light: Path | None = None
) -> CostResults:
    """Read a design and its cost file and tell what a piece costs, in every way to build it and beside its versions.

    Parameters
    ----------
    path : Path
        A design.toml, or the folder that holds it; cost.toml is read beside it.
    on : date
        Day on which the ages of prices are judged.
    quantities : sequence of int
        Good pieces of the runs to show, the first of them judged; the run of the design where there are none.
    seed : int
        Of the draws over the stated ranges.
    light : Path, optional
        results.json of an earlier `paneglow light` of the design; its light is left out where there is none.

    Raises
    ------
    PaneglowError
        Where an input is wrong or a price is missing.
    """
    traced = None if light is None else read_light(light)
    inputs = read_inputs(path)
    leds = seat_leds(inputs.design, placement=inputs.files.placement, catalog=inputs.catalog)
    prices = read_prices(inputs, bill=_bill(leds, files=inputs.files, catalog=inputs.catalog))
    return count_cost(prices, design=inputs.design, on=on, quantities=quantities, seed=seed, light=traced)


def write_starter_costs(path: Path, *, on: date) -> Path | None:
    """Write a cost.toml of assumed ranges beside a design that has none.

    Parameters
    ----------
    path : Path
        A design.toml, or the folder that holds it.
    on : date
        Day the ranges are written down.

    Returns
    -------
    Path or None
        The file; None where one is already there, which is never changed.

    Raises
    ------
    PaneglowError
        Where an input is wrong, or the file cannot be written.
    """
    target = cost_file(design_file(path))
    if target.exists():
        return None
    inputs = read_inputs(path)
    leds = seat_leds(inputs.design, placement=inputs.files.placement, catalog=inputs.catalog)
    supply = inputs.design.supply
    text = starter_text(
        _bill(leds, files=inputs.files, catalog=inputs.catalog),
        name=inputs.design.name,
        on=on,
        cell_holder=supply is not None and supply.kind == "coin-cell",
    )
    try:
        write_together(target.parent, contents={target.name: text.encode("utf-8")})
    except OutputError:
        raise DesignError(
            f"{target}: there is no such file, and none can be written to start from; make its folder writable, or copy"
            " the design into one that is"
        ) from None
    return target


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
    runs = tuple(quantities) or (design.run.quantity,)
    own = Version(name=design.name, costing=prices.costing, light=light)
    answer = build_answer(prices.costing, quantities=runs, seed=seed)
    return CostResults(
        name=design.name,
        currency=costs.currency,
        on=on,
        answer=answer,
        leds=build_led_costs(own, swapped=prices.swapped, way=answer.shown.way, good=runs[0]),
        options=build_options([own, *prices.versions], good=runs[0]),
        findings=check_costs(costs, answer=answer, good=runs[0], on=on, left_out=prices.left_out),
        inputs=costs,
    )


def read_prices_beside(inputs: Inputs, *, bill: Bill) -> tuple[Prices | None, str]:
    """`read_prices` where a cost file lies beside the design, and why there are none where it lacks a price.

    Whoever tries another part wants to see its light before its price is known.
    """
    if not cost_file(inputs.path).is_file():
        return None, ""
    try:
        return read_prices(inputs, bill=bill), ""
    except PriceError as problem:
        return None, str(problem)


def read_prices(inputs: Inputs, *, bill: Bill) -> Prices:
    """Read the cost file beside a design, and work out the bills of the versions it sets beside it.

    Told before light is traced, which takes far longer.

    Parameters
    ----------
    inputs : Inputs
        The design; cost.toml lies beside it.
    bill : Bill
        What one board of it needs.

    Raises
    ------
    DesignError
        With the file and what is wrong in it, or what has no price.
    """
    if inputs.design.run.quantity > MOST_RUN:
        raise DesignError(
            f"{inputs.path}: [run] quantity is {inputs.design.run.quantity}; what a piece costs is worked out for runs"
            f" of 1 to {MOST_RUN}: write a run of that size"
        )
    costs = with_led_minutes(read_costs(cost_file(inputs.path)), timings=inputs.catalog.timings)
    costing = build_costing(costs, bill=bill)
    for way in costs.build.ways:
        cost_runs(costing, way=way, good=[1])
    versions, left_out, swaps = [], [], {}
    for option in costs.option:
        try:
            version = _version(option, costing=costing, inputs=inputs)
            for way in costs.build.ways:
                cost_runs(version.costing, way=way, good=[1])
        except PaneglowError as problem:
            left_out.append((option.name, str(problem).splitlines()[0]))
        else:
            versions.append(version)
            swaps.update({(swap.part, swap.by): option.model_copy(update={"swap": (swap,)}) for swap in option.swap})
    in_design = {row.item for row in bill.rows}
    swapped = tuple(
        SwappedPart(part=part, by=by, costing=_version(single, costing=costing, inputs=inputs).costing)
        for (part, by), single in swaps.items()
        if single.design is None and part in in_design
    )
    return Prices(costing=costing, versions=tuple(versions), swapped=swapped, left_out=tuple(left_out))


def _version(option: Option, *, costing: Costing, inputs: Inputs) -> Version:
    """A version of the piece that the cost file sets beside the design."""
    folder, design, files, catalog = inputs.path.parent, inputs.design, inputs.files, inputs.catalog
    if option.design is not None:
        other = design_file(folder / option.design)
        design = read_design(other)
        files = read_board_files(design, folder=other.parent, beside=files)
    leds = seat_leds(design, placement=files.placement, catalog=catalog)
    swaps = {swap.part: swap for swap in option.swap}
    # The part that comes instead must be known, or nobody can say who builds it
    swapped = tuple(
        replace(led, part=find_part(catalog, swap.by), mounting=swap.mounting)
        if (swap := swaps.get(led.part.code)) is not None
        else led
        for led in leds
    )
    light = None if option.results is None else read_light(folder / option.results)
    bill = _bill(swapped, files=files, catalog=catalog)
    return Version(name=option.name, costing=build_costing(costing.costs, bill=bill), light=light)


def _bill(leds: Sequence[PlacedLed], *, files: BoardFiles, catalog: Catalog) -> Bill:
    size_mm = size_of(files.fabrication.outline)
    ways = build_ways(leds, size_mm=size_mm, timings=catalog.timings)
    return build_bill(leds, ways=ways, placement=files.placement, size_mm=size_mm)
