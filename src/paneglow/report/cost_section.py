"""The section of the page about money: rows ready to print and the plots; computes nothing."""

from dataclasses import dataclass
from decimal import Decimal

from paneglow.cost import WAY_WORDS, Statement, Way, dated_tables
from paneglow.judge import Finding
from paneglow.report.cost_plots import WAY_COLOURS, Plot, plot_curves, plot_groups, plot_inputs, plot_options
from paneglow.report.numbers import to_range_text
from paneglow.results import CostResults, OptionResult

EVENNESS_FLOOR = 0.01  # below it a window is uneven beyond any use (our choice)
NONE = "\N{EN DASH}"


@dataclass(frozen=True, slots=True, kw_only=True)
class WayRow:
    """One way to build at one quantity, ready to print."""

    way: str
    colour: str
    good: int
    started: int
    unit: str
    carried: str
    total: str
    minutes: str
    span: str
    cheapest: str
    left: str
    margin: str
    pays_from: str
    wanted: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OptionRow:
    """One version in one way, ready to print."""

    name: str
    way: str
    unit: str
    minutes: str
    luminance: str
    evenness: str
    least: str
    light: str
    best: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeRow:
    """What the wanted margin asks at one size of run, ready to print."""

    good: int
    prices: tuple[str, ...]  # of each way that has one, leftovers charged, then carried


@dataclass(frozen=True, slots=True, kw_only=True)
class LedCostRow:
    """What the LEDs of one order code cost a board beside their light, ready to print."""

    part: str
    count: int
    each_board: str
    light: str
    instead: tuple[str, ...]  # what another order code would change


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceRow:
    """One table of the cost file: what it is about and where it comes from."""

    subject: str
    origin: str
    dated: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CostSection:
    """Everything the template of the section needs."""

    cheapest: str  # empty where none is named
    shown: str  # the way whose inputs are drawn
    sentences: tuple[str, ...]
    ways: tuple[WayRow, ...]
    size_ways: tuple[str, ...]
    sizes: tuple[SizeRow, ...]
    leds: tuple[LedCostRow, ...]
    options: tuple[OptionRow, ...]
    statements: tuple[tuple[str, Statement], ...]
    findings: tuple[Finding, ...]
    prices: tuple[PriceRow, ...]
    curves: Plot
    groups: Plot
    inputs: Plot
    versions: Plot
    price: str
    margin: str


def build_cost_section(results: CostResults) -> CostSection:
    """Gather what the section prints."""
    answer = results.answer
    return CostSection(
        cheapest="" if answer.cheapest is None else WAY_WORDS[answer.cheapest],
        shown=WAY_WORDS[answer.shown.way],
        sentences=cost_sentences(results),
        ways=tuple(_way_row(row, results=results) for row in answer.statements),
        size_ways=tuple(WAY_WORDS[way] for way in dict.fromkeys(row.way for row in answer.wanted)),
        sizes=_size_rows(results),
        leds=_led_rows(results),
        options=tuple(_option_row(row) for row in results.options),
        statements=tuple((f"{WAY_WORDS[row.way]}, {row.good} good pieces", row) for row in answer.statements),
        findings=results.findings,
        prices=tuple(
            PriceRow(subject=subject, origin=table.origin, dated=str(table.dated), source=table.source)
            for subject, table in dated_tables(results.inputs)
        ),
        curves=plot_curves(results),
        groups=plot_groups(results),
        inputs=plot_inputs(results, way=answer.shown.way),
        versions=plot_options(results),
        price=str(answer.sales[0].price) if answer.sales else "",
        margin=_plain(answer.wanted[0].margin_percent) if answer.wanted else "",
    )


def _plain(number: Decimal) -> str:
    return f"{number.normalize():f}"


def cost_sentences(results: CostResults) -> tuple[str, ...]:
    """Which way is cheapest from where on, what nobody quoted, and how many to make, in sentences."""
    answer, currency = results.answer, results.currency
    said = []
    crossings: dict[tuple[Way, Way], dict[bool, list[str]]] = {}
    for row in answer.crossovers:
        crossings.setdefault((row.cheaper, row.than), {}).setdefault(row.carried, []).append(str(row.good))
    for (cheaper, than), by_reading in crossings.items():
        charged, carried = (" and ".join(by_reading.get(reading, ())) for reading in (False, True))
        words = f"{WAY_WORDS[cheaper]} is cheaper than {WAY_WORDS[than]}"
        if charged:
            said.append(f"From {charged} pieces on, {words}.")
        if carried and carried != charged:
            said.append(f"With leftovers carried to the next run, from {carried} pieces on, {words}.")
    unquoted = [WAY_WORDS[row.way] for row in answer.statements if row.good == answer.shown.good and not row.quoted]
    if unquoted:
        said.append(
            f"Nobody quoted the assembly fees of: {', '.join(unquoted)}. Shown as a range; no cheapest way is named."
        )
    best = max(answer.demand, key=lambda row: row.expected_profit, default=None)
    if best is not None and best.good:
        said.append(
            f"Best run for your demand: {best.good} pieces, {WAY_WORDS[best.way]}. Expected: {best.expected_sold:.0f}"
            f" sold, {best.expected_profit:.0f} {currency} profit. (Textbook rule from unit costs alone:"
            f" {best.critical_good:.0f}.)"
        )
    elif best is not None:
        said.append("No run is expected to pay for your demand.")
    return tuple(said)


def _way_row(row: Statement, *, results: CostResults) -> WayRow:
    answer = results.answer
    first = row.good == answer.statements[0].good
    risk = next((risk for risk in answer.risks if risk.way == row.way and first), None)
    sale = next((sale for sale in answer.sales if sale.way == row.way and first), None)
    wanted = next((wanted for wanted in answer.wanted if (wanted.way, wanted.good) == (row.way, row.good)), None)
    pays = next((found for found in answer.break_even if found.way == row.way), None)
    return WayRow(
        way=WAY_WORDS[row.way],
        colour=WAY_COLOURS[row.way],
        good=row.good,
        started=row.started,
        unit=str(row.unit) if row.quoted else f"{row.unit_low} to {row.unit_high}",
        carried=str(row.unit_carried) if row.quoted else NONE,
        total=str(row.total) if row.quoted else "fees not quoted",
        minutes=f"{row.minutes / row.good:.1f}",
        span=NONE if risk is None else f"{risk.best} / {risk.likely} / {risk.worst}",
        cheapest=NONE if risk is None or risk.cheapest_frac is None else f"{100 * risk.cheapest_frac:.0f} %",
        left=NONE if sale is None else to_both(sale.profit, sale.profit_carried),
        margin=NONE if sale is None else f"{sale.margin_percent:.1f} %",
        pays_from=NONE if pays is None else to_both(pays.good, pays.good_carried),
        wanted=NONE if wanted is None else to_both(wanted.price, wanted.price_carried),
    )


def to_both(charged: object, carried: object, *, dash: str = NONE) -> str:
    """A number with leftovers charged to the run, and in brackets with them carried where that is another."""
    one, other = (dash if number is None else str(number) for number in (charged, carried))
    return one if one == other else f"{one} ({other})"


def _size_rows(results: CostResults) -> tuple[SizeRow, ...]:
    wanted = {(row.good, row.way): row for row in results.answer.wanted}
    ways = tuple(dict.fromkeys(way for _, way in wanted))
    return tuple(
        SizeRow(
            good=good,
            prices=tuple(to_both(wanted[good, way].price, wanted[good, way].price_carried) for way in ways),
        )
        for good in dict.fromkeys(good for good, _ in wanted)
    )


def _led_rows(results: CostResults) -> tuple[LedCostRow, ...]:
    shown = [row for row in results.leds if row.way == results.answer.shown.way]
    return tuple(
        LedCostRow(
            part=row.part,
            count=row.count,
            each_board=str(row.each_board),
            light=NONE if row.mean_cd_m2 is None else f"{to_range_text(row.mean_cd_m2)} cd/m²",
            instead=tuple(
                f"{swap.by}: {abs(swap.more_each_board)} {'more' if swap.more_each_board > 0 else 'less'}"
                for swap in row.instead
            ),
        )
        for row in shown
    )


def _option_row(row: OptionResult) -> OptionRow:
    seen = row.light
    verdict: str = row.light_state
    if seen is not None:
        verdict = "passes" if seen.passed else f"{100 * seen.goals_met_frac:.0f} % of goals met"
    return OptionRow(
        name=row.name,
        way=WAY_WORDS[row.way],
        unit=f"{row.unit} ({row.more:+})" if row.more else str(row.unit),
        minutes=f"{row.minutes:.1f}",
        luminance=NONE if seen is None else f"{to_range_text(seen.mean_cd_m2)} cd/m²",
        evenness=NONE if seen is None else to_range_text(seen.evenness),
        least="" if seen is None else to_range_text(seen.evenness_least, floor=EVENNESS_FLOOR),
        light=verdict,
        best=row.best,
    )
