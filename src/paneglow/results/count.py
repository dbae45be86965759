"""A design and its cost file to the record of what a piece costs, beside its versions and their light."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from paneglow.cost import (
    MOST_PIECES,
    Costing,
    Option,
    build_answer,
    build_bill,
    build_costing,
    cost_file,
    read_costs,
    swap_parts,
)
from paneglow.design import Design, design_file, read_design
from paneglow.judge import check_costs
from paneglow.results.cost import CostResults
from paneglow.results.options import TracedLight, Version, build_options, read_light


def count_cost(
    design_path: Path,
    *,
    design: Design,
    on: date,
    quantities: Sequence[int] = (),
    seed: int,
    light: TracedLight | None,
) -> CostResults:
    """What the piece of a design costs by the cost file beside it."""
    path = cost_file(design_path)
    costs = read_costs(path)
    bill = build_bill(design, folder=design_path.parent)
    own = Version(name=design.name, costing=build_costing(costs, bill=bill), light=light)
    runs = tuple(quantities) or (min(design.run.quantity, MOST_PIECES),)
    answer = build_answer(own.costing, quantities=runs, seed=seed)
    others = [_version(option, costing=own.costing, folder=path.parent) for option in costs.option]
    return CostResults(
        name=design.name,
        currency=costs.currency,
        on=on,
        answer=answer,
        options=build_options([own, *others], good=runs[0]),
        findings=check_costs(costs, answer=answer, good=runs[0], on=on),
        inputs=costs,
    )


def _version(option: Option, *, costing: Costing, folder: Path) -> Version:
    """A version of the piece that the cost file sets beside the design."""
    if option.design is None:
        bill = swap_parts(costing.bill, swaps=option.swap)
    else:
        other = design_file(folder / option.design)
        bill = build_bill(read_design(other), folder=other.parent)
    light = None if option.results is None else read_light(folder / option.results)
    return Version(name=option.name, costing=build_costing(costing.costs, bill=bill), light=light)
