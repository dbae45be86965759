"""The section about money: complete, safe, self-contained, and every printed column adds up."""

import re
from datetime import date
from decimal import Decimal

import pytest

from cost_cases import PERFECT, PLAIN, STAMP, TODAY, make_bill, make_costing
from paneglow.cost import Costing, build_answer
from paneglow.judge import check_costs
from paneglow.report import to_curve_csv, to_lines_csv
from paneglow.report.files import encode_pictures, render_pages
from paneglow.results import (
    CostResults,
    OptionLight,
    TracedLight,
    Version,
    build_led_costs,
    build_options,
    build_results,
)
from paneglow.units import Estimate
from sample_evaluation import make_evaluation
from unit.report.test_page import read

SALE = f"[sale]\nprice = 24\nmargin_percent = 30\nvat_percent = 20\n{STAMP}\n[demand]\nleast = 10\nmost = 90\n{STAMP}\n"
RANGED = PLAIN.replace("rate_per_hour = 15", "rate_per_hour = { value = 15, low = 12, high = 24 }")
RUDE = "<script>alert(1)</script> $x$"


def exact(value):
    return Estimate(value=value, se=0.01, low=value * 0.8, high=value * 1.2)


def make_results(costing: Costing, *, name="night piece", on: date = TODAY, lit: bool = True) -> CostResults:
    answer = build_answer(costing, quantities=(20,), seed=1)
    seen = OptionLight(
        mean_cd_m2=exact(20.0), evenness=exact(0.6), evenness_least=exact(0.4), passed=False, goals_met_frac=0.5
    )
    light = TracedLight(leds=(("led", "lens_down"),) * 8, seen=seen) if lit else None
    versions = [Version(name=name, costing=costing, light=light), Version(name=RUDE, costing=costing, light=None)]
    return CostResults(
        name=name,
        currency="EUR",
        on=on,
        answer=answer,
        leds=build_led_costs(versions[0], swapped=(), way="hand", good=20),
        options=build_options(versions, good=20),
        findings=check_costs(costing.costs, answer=answer, good=20, on=on),
        inputs=costing.costs,
    )


@pytest.fixture(scope="module")
def results() -> CostResults:
    return make_results(make_costing(RANGED + PERFECT + SALE, bill=make_bill()), on=date(2027, 6, 1))


def page_with(cost: CostResults) -> str:
    evaluation = make_evaluation()
    object.__setattr__(evaluation, "cost", cost)
    return render_pages(evaluation, results=build_results(evaluation), pictures=encode_pictures(evaluation))[0]


@pytest.fixture(scope="module")
def page(results) -> str:
    return page_with(results)


@pytest.fixture(scope="module")
def reader(page):
    return read(page)


def test_the_page_stays_self_contained_and_well_formed(page, reader):
    beside = ("bench.html", "report-short.html")
    assert all(load.startswith(("data:", "#")) or load in beside for load in reader.loads)
    assert "http:" not in page
    assert "https:" not in page
    assert "url(" not in page
    assert len(reader.ids) == len(set(reader.ids))
    assert all(after - before <= 1 for before, after in zip(reader.headings, reader.headings[1:], strict=False))


def test_every_line_version_finding_and_source_is_told(reader, results):
    told = [
        *(line.working for row in results.answer.statements for line in row.lines),
        *(str(row.total) for row in results.answer.statements),
        *(finding.reason for finding in results.findings),
        *(row.source for row in (*results.inputs.offer, results.inputs.labour)),
        "not traced",
        "50 % of goals met",
    ]
    assert results.findings
    assert [words for words in told if words not in reader.text] == []


def test_names_that_people_write_are_never_taken_for_markup(page, reader):
    assert "<script" not in page
    assert RUDE in reader.text


def test_four_plots_have_words_and_sizes(reader):
    plots = [image for image in reader.images if "svg+xml" in (image.get("src") or "")]
    assert len(plots) == 4
    assert all(image["alt"] and int(image["width"]) == 672 and int(image["height"]) > 50 for image in plots)


def test_the_same_results_draw_the_same_bytes(results, page):
    assert page_with(results) == page


def test_without_light_a_sale_or_ranges_the_section_still_stands():
    text = read(page_with(make_results(make_costing(PLAIN + PERFECT), lit=False))).text
    assert "What it costs" in text
    assert "Price for" not in text
    assert "not traced" in text


def test_a_page_without_a_cost_file_has_no_section():
    evaluation = make_evaluation()
    page = render_pages(evaluation, results=build_results(evaluation), pictures=encode_pictures(evaluation))[0]
    assert "What it costs" not in read(page).text


def test_the_csv_adds_up_and_holds_the_whole_curve(results):
    lines = [row.split(",") for row in to_lines_csv(results).splitlines()[1:]]
    totals = {row[0]: Decimal(row[-3]) for row in lines if row[3] == "total"}
    for way, total in totals.items():
        assert sum(Decimal(row[-3]) for row in lines if row[0] == way and row[2] != "total") == total
    curve = to_curve_csv(results).splitlines()
    assert len(curve) == 1 + sum(len(row.good) for row in results.answer.curves)
    assert re.fullmatch(r"hand,1,\d+\.\d+,\d+\.\d+,EUR", curve[1])
