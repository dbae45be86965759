"""Rules about money: prices too old, a price below cost, a margin out of reach, leftovers, a run that does not pay."""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from paneglow.cost import WAY_WORDS, dated_tables
from paneglow.design import nearest
from paneglow.judge.findings.rule import CostContext, Fault, Threshold, rule
from paneglow.judge.records import Severity
from paneglow.judge.wording import to_list

PRICE_AGE_MAX_DAYS = Threshold(
    what="age beyond which a price, fee or rate is asked for anew",
    value=90,
    unit="days",
    source="our choice: a quarter",
)
LEFTOVER_MAX_FRAC = Threshold(
    what="share of a run's cost that may go into leftovers", value=0.1, unit="1", source="our choice, no source"
)
CHEAPEST_MIN_FRAC = Threshold(
    what="share of draws in which the cheapest way must stay the cheapest", value=0.8, unit="1", source="our choice"
)
RUN_OFF_BEST_FRAC = Threshold(
    what="share of the best run that a run may differ by", value=0.25, unit="1", source="our choice, no source"
)
PRICED = ("quote", "invoice")  # origins that somebody asked or paid at a date


def _finding(*, severity: Severity | None = None, subject: str, reason: str, remedy: str) -> Fault:
    sentence = f"{reason[:1].upper()}{reason[1:].removesuffix('.')}."
    return Fault(severity=severity, subject=subject, reason=sentence, remedy=remedy)


@rule("warning", thresholds=(PRICE_AGE_MAX_DAYS,))
def price_too_old(context: CostContext) -> Iterable[Fault]:
    """A price, a fee or the exchange rates are older than a quarter.

    Prices of parts and fees of services move; a unit cost rests on the oldest of them. One finding for all tables of
    one day and one source. Own timings and assumed ranges do not age in this way.
    """
    old: dict[tuple[date, str], list[str]] = {}
    for subject, table in dated_tables(context.costs):
        rates = table is context.costs.rates
        if (table.origin in PRICED or rates) and (context.on - table.dated).days > PRICE_AGE_MAX_DAYS.value:
            old.setdefault((table.dated, table.source), []).append(subject)
    for (dated, source), subjects in old.items():
        days = (context.on - dated).days
        yield _finding(
            subject=to_list(tuple(subjects)),
            reason=f"the price is of {dated}, {days} days old, more than {PRICE_AGE_MAX_DAYS.value:g} ({source})",
            remedy="Ask again and write the new price with its date.",
        )


@rule("warning")
def price_dated_ahead(context: CostContext) -> Iterable[Fault]:
    """A table carries a date that has not come yet.

    Its age cannot be judged; most likely the date is mistyped.
    """
    for subject, table in dated_tables(context.costs):
        if table.dated > context.on:
            yield _finding(
                subject=subject,
                reason=f"the date {table.dated} lies after {context.on}",
                remedy="Correct dated.",
            )


@rule("warning")
def name_without_offer(context: CostContext) -> Iterable[Fault]:
    """The cost file says something of a supplier or an item that no offer in it names.

    A misspelt name changes nothing in silence: postage is left out, pieces on hand are bought again.
    """
    costs = context.costs
    items = {offer.item for offer in costs.offer}
    suppliers = {offer.supplier for offer in (*costs.offer, *costs.board)}
    stocked = () if costs.assembly is None else costs.assembly.stocked
    told = (
        ("[[supplier]]", "supplier", [one.name for one in costs.supplier], suppliers),
        ("[[stock]]", "item", [one.item for one in costs.stock], items),
        ("[assembly] stocked", "item", list(stocked), items),
    )
    for table, kind, names, known in told:
        for name in (name for name in names if name not in known):
            close = nearest(name, known)
            yield _finding(
                subject=name,
                reason=f"The cost file names {name!r} in {table}, and no offer has this {kind}",
                remedy=f"{f'Write {close!r} if that is meant' if close else 'Correct the name'}, add an offer, or take"
                " it out.",
            )


@rule("error", "warning", "note")
def price_below_variable_cost(context: CostContext) -> Iterable[Fault]:
    """The price leaves less than one more piece costs.

    Every piece sold then adds to the loss, however many are made. A written reason (`below_cost_reason`) turns the
    error into a note that quotes it: a sample, a gift, a clearance. It is an error where no way to build is cheap
    enough, else a warning.
    """
    short = [row for row in context.answer.variable if row.contribution is not None and row.contribution < row.unit]
    reason = "" if context.costs.sale is None else context.costs.sale.below_cost_reason.strip()
    hopeless = len(short) == len(context.answer.variable)
    severity: Severity = "note" if reason else "error" if hopeless else "warning"
    for row in short:
        yield _finding(
            severity=severity,
            subject=WAY_WORDS[row.way],
            reason=f"a sale leaves {row.contribution} {context.costs.currency} for the piece, and one more piece costs"
            f" {row.unit}" + (f"; the written reason: {reason}" if reason else ""),
            remedy="Raise the price, build in a cheaper way, or write below_cost_reason in [sale].",
        )


@rule("error")
def margin_out_of_reach(context: CostContext) -> Iterable[Fault]:
    """No price leaves the wanted margin.

    Tax inside the price and fees in percent of it take a share of every price; what remains is the most a margin can
    be.
    """
    for row in context.answer.wanted[:1]:
        if row.price is None:
            yield _finding(
                subject="price",
                reason=row.reason,
                remedy="Lower margin_percent in [sale], or sell where fees are lower.",
            )


@rule("warning")
def run_does_not_pay(context: CostContext) -> Iterable[Fault]:
    """At the asked price the run loses money, though more of them would not.

    Fixed costs and leftovers are spread over too few pieces.
    """
    losing = [row for row in context.answer.sales if row.profit < 0 and row.good == context.good]
    below = {row.way for row in context.answer.variable if row.contribution is not None and row.contribution < row.unit}
    for row in losing:
        if row.way not in below:
            pays = next((found.good for found in context.answer.break_even if found.way == row.way), None)
            more = "no run up to 10000 pays" if pays is None else f"a run of {pays} is the smallest that pays"
            yield _finding(
                subject=WAY_WORDS[row.way],
                reason=f"{row.good} pieces at {row.price} {context.costs.currency} lose {-row.profit} each; {more}",
                remedy="Make more, raise the price, or carry the leftovers to a later run.",
            )


@rule("warning", thresholds=(LEFTOVER_MAX_FRAC,))
def leftovers_costly(context: CostContext) -> Iterable[Fault]:
    """A large part of the cheapest way's cost buys parts that are left over.

    Minimum buys per colour do that: fewer colours, or a part with smaller packs, or a larger run, makes the piece
    cheaper.
    """
    cheapest = context.answer.shown
    if not cheapest.total:
        return
    over = cheapest.total - cheapest.total_carried
    if over / cheapest.total <= Decimal(str(LEFTOVER_MAX_FRAC.value)):
        return
    lines = sorted((line for line in cheapest.lines if line.kind == "leftover"), key=lambda line: -line.amount)
    worst = tuple(f"{line.what.removesuffix(', left over')} {line.amount}" for line in lines)
    yield _finding(
        subject=WAY_WORDS[cheapest.way],
        reason=f"{over} of {cheapest.total} {context.costs.currency} ({100 * over / cheapest.total:.0f} %) buy what"
        f" this run does not use: {to_list(worst, most=3)}",
        remedy="Use fewer order codes, make a larger run, or plan a second one and carry the leftovers.",
    )


@rule("note", thresholds=(CHEAPEST_MIN_FRAC,))
def cheapest_way_open(context: CostContext) -> Iterable[Fault]:
    """Which way is cheapest depends on numbers that are only known as ranges.

    The inputs with the widest swing are worth a quote or a stopwatch before the way is chosen.
    """
    risk = next((row for row in context.answer.risks if row.way == context.answer.cheapest), None)
    if risk is None or risk.cheapest_frac is None or len(context.answer.risks) < 2:
        return
    if risk.cheapest_frac >= CHEAPEST_MIN_FRAC.value:
        return
    swings = tuple(row.what for row in context.answer.sensitivity if row.way == risk.way and row.swing)
    yield _finding(
        subject=WAY_WORDS[risk.way],
        reason=f"it is the cheapest at the stated values, but only in {100 * risk.cheapest_frac:.0f} % of {risk.draws}"
        " draws from the ranges",
        remedy=f"Time or ask what moves it most: {to_list(swings, most=3)}.",
    )


@rule("note", thresholds=(RUN_OFF_BEST_FRAC,))
def run_off_the_demand(context: CostContext) -> Iterable[Fault]:
    """The run is much larger or smaller than the one with the greatest expected profit.

    Pieces too many are left at their salvage value; pieces too few are sales lost.
    """
    best = next((row for row in context.answer.demand if row.way == context.answer.shown.way), None)
    if best is None or abs(context.good - best.good) <= RUN_OFF_BEST_FRAC.value * best.good:
        return
    reason = (
        f"For the stated demand {best.good} pieces have the greatest expected profit, and the run is {context.good}"
    )
    if not best.good:
        reason = "For the stated demand no run is expected to pay"
    yield _finding(
        subject="run",
        reason=reason,
        remedy="Change quantity in [run] of the design, or say more about the demand.",
    )


@rule("note")
def fees_not_quoted(context: CostContext) -> Iterable[Fault]:
    """A way needs an assembly service, and nobody quoted its fees.

    What stands there are wide assumed ranges: the way is shown as a range, and no cheapest way is named on them.
    """
    for row in context.answer.statements:
        if row.good == context.good and not row.quoted:
            yield _finding(
                subject=WAY_WORDS[row.way],
                reason=f"nobody quoted the assembly fees, so a piece costs {row.unit_low} to {row.unit_high}"
                f" {context.costs.currency} by the assumed ranges, and no cheapest way is named",
                remedy="Ask an assembly service and write its fees under [assembly] with their date.",
            )


@rule("note")
def minutes_of_whole_board(context: CostContext) -> Iterable[Fault]:
    """Minutes per board stand for all soldering by own hands.

    A timing per board that nothing else divides is taken as the whole work with the iron; minutes of LEDs, parts,
    joints and glue are then not added.
    """
    for row in context.costs.operation:
        if row.solders:
            yield _finding(
                subject=row.name,
                reason=f"the {row.minutes.value} min a board are taken to hold all soldering and gluing by own hands:"
                " no minutes of LEDs, parts or joints are added",
                remedy="Write solders = false in that [[operation]] if it is other work, such as packing.",
            )


@rule("warning")
def version_left_out(context: CostContext) -> Iterable[Fault]:
    """A version named in an [[option]] of the cost file could not be read or priced.

    It is left out of the comparison; everything else stands.
    """
    for name, reason in context.left_out:
        yield _finding(
            subject=name,
            reason=f"the [[option]] {name!r} of cost.toml is left out: {reason}",
            remedy="Correct that [[option]], or take it out of cost.toml.",
        )
