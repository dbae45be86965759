"""The section of the page about money: rows ready to print and the plots; computes nothing."""

from dataclasses import dataclass
from decimal import Decimal

from markupsafe import Markup

from paneglow.cost import WAY_WORDS, Statement, dated_tables
from paneglow.judge import Finding
from paneglow.report.cost_plots import WAY_COLOURS, plot_curves, plot_groups, plot_inputs, plot_options
from paneglow.report.numbers import to_range_text
from paneglow.report.selection import sort_findings
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
class PriceRow:
    """One table of the cost file: what it is about and where it comes from."""

    subject: str
    origin: str
    dated: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CostSection:
    """Everything the template of the section needs."""

    cheapest: str
    sentences: tuple[str, ...]
    ways: tuple[WayRow, ...]
    options: tuple[OptionRow, ...]
    statements: tuple[tuple[str, Statement], ...]
    findings: tuple[Finding, ...]
    prices: tuple[PriceRow, ...]
    curves: Markup
    groups: Markup
    inputs: Markup
    versions: Markup
    price: str
    margin: str


def build_cost_section(results: CostResults) -> CostSection:
    """Gather what the section prints."""
    answer = results.answer
    first = [row for row in answer.statements if row.good == answer.statements[0].good]
    cheapest = min(first, key=lambda row: row.total)
    return CostSection(
        cheapest=WAY_WORDS[cheapest.way],
        sentences=_sentences(results),
        ways=tuple(_way_row(row, results=results) for row in answer.statements),
        options=tuple(_option_row(row) for row in results.options),
        statements=tuple((f"{WAY_WORDS[row.way]}, {row.good} good pieces", row) for row in answer.statements),
        findings=sort_findings(results.findings),
        prices=tuple(
            PriceRow(subject=subject, origin=table.origin, dated=str(table.dated), source=table.source)
            for subject, table in dated_tables(results.inputs)
        ),
        # Drawn here, with all text in them escaped by the plotting library
        curves=Markup(plot_curves(results)),
        groups=Markup(plot_groups(results)),
        inputs=Markup(plot_inputs(results, way=cheapest.way)),
        versions=Markup(plot_options(results)),
        price=str(answer.sales[0].price) if answer.sales else "",
        margin=_plain(answer.wanted[0].margin_percent) if answer.wanted else "",
    )


def _plain(number: Decimal) -> str:
    return f"{number.normalize():f}"


def _sentences(results: CostResults) -> tuple[str, ...]:
    """What crosses, and how many to make, in sentences."""
    answer = results.answer
    crossings = [
        f"From {row.good} pieces on, {WAY_WORDS[row.cheaper]} is cheaper than {WAY_WORDS[row.than]}."
        for row in answer.crossovers
    ]
    best = max(answer.demand, key=lambda row: row.expected_profit, default=None)
    if best is None:
        return tuple(crossings)
    made = (
        f"For the stated demand, {best.good} pieces ({WAY_WORDS[best.way]}) have the greatest expected profit,"
        f" {best.expected_profit:.2f} {results.currency}."
    )
    return (*crossings, made)


def _way_row(row: Statement, *, results: CostResults) -> WayRow:
    answer = results.answer
    first = row.good == answer.statements[0].good
    risk = next((risk for risk in answer.risks if risk.way == row.way and first), None)
    sale = next((sale for sale in answer.sales if sale.way == row.way and first), None)
    wanted = next((wanted for wanted in answer.wanted if wanted.way == row.way and first), None)
    pays = next((found.good for found in answer.break_even if found.way == row.way and found.pays), None)
    return WayRow(
        way=WAY_WORDS[row.way],
        colour=WAY_COLOURS[row.way],
        good=row.good,
        started=row.started,
        unit=str(row.unit),
        carried=str(row.unit_carried),
        total=str(row.total),
        minutes=f"{row.minutes / row.good:.1f}",
        span=NONE if risk is None else f"{risk.best} / {risk.likely} / {risk.worst}",
        cheapest=NONE if risk is None else f"{100 * risk.cheapest_frac:.0f} %",
        left=NONE if sale is None else str(sale.profit),
        margin=NONE if sale is None else f"{sale.margin_percent:.1f} %",
        pays_from=NONE if pays is None else str(pays),
        wanted=NONE if wanted is None or wanted.price is None else str(wanted.price),
    )


def _option_row(row: OptionResult) -> OptionRow:
    seen = row.light
    verdict: str = row.light_state
    if seen is not None:
        verdict = "passes" if seen.passed else f"{100 * seen.goals_met_frac:.0f} % of goals met"
    return OptionRow(
        name=row.name,
        way=WAY_WORDS[row.way],
        unit=str(row.unit),
        minutes=f"{row.minutes:.1f}",
        luminance=NONE if seen is None else f"{to_range_text(seen.mean_cd_m2)} cd/m²",
        evenness=NONE if seen is None else to_range_text(seen.evenness),
        least="" if seen is None else to_range_text(seen.evenness_least, floor=EVENNESS_FLOOR),
        light=verdict,
        best=row.best,
    )
