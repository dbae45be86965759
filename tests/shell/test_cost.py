"""`paneglow cost` on the demonstration: what it prints, its JSON, its CSV and its exit codes."""

import csv
import json
import shutil
from decimal import Decimal
from pathlib import Path

import pytest
from typer.testing import CliRunner

from paneglow.cli import app
from paneglow.cost import dated_tables
from paneglow.results import CheckResults, CostResults

EXAMPLE = Path(__file__).parents[2] / "examples" / "harbour-keepsake"
ON = ("--on", "2026-11-25")


def run(*arguments):
    return CliRunner().invoke(app, ["cost", *map(str, arguments)])


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The demonstration as `paneglow demo` writes it."""
    target = tmp_path_factory.mktemp("cost") / "harbour"
    assert CliRunner().invoke(app, ["demo", str(target)]).exit_code == 0
    return target


@pytest.fixture(scope="module")
def results(folder):
    return CostResults.model_validate_json(run(folder, "--json", *ON, "--quantity", 100, "--quantity", 2500).stdout)


def test_what_it_prints_fits_80_columns_and_adds_up(folder):
    result = run(folder, *ON, "--way", "hand")
    assert result.exit_code == 0, result.output
    assert all(len(line) <= 80 for line in result.stdout.splitlines())
    lines = result.stdout[result.stdout.index("all by hand, 100 good pieces") :].splitlines()[3:]
    amounts, total = [], None
    for line in lines:
        words = line.split()
        if len(words) > 2 and words[2] == "total":
            total = (Decimal(words[0]), Decimal(words[1]))
            break
        if line[:7].strip() and words[0].replace(".", "").isdigit():
            amounts.append((Decimal(words[0]), Decimal(words[1])))
    assert len(amounts) > 20
    assert total == (sum(run for run, _ in amounts), sum(piece for _, piece in amounts))


def test_every_statement_adds_up_and_every_way_is_there_at_every_quantity(results):
    found = [(row.way, row.good) for row in results.answer.statements]
    assert found == [(way, good) for good in (100, 2500) for way in ("hand", "mixed", "service")]
    for row in results.answer.statements:
        assert sum(line.amount for line in row.lines) == row.total
        assert sum(line.per_piece for line in row.lines) == row.unit


def test_the_demonstration_tells_its_old_invoice_and_sets_versions_beside_the_design(results):
    assert "price-too-old" in {finding.code for finding in results.findings}
    names = list(dict.fromkeys(row.name for row in results.options))
    assert names == ["harbour-keepsake", "second wave LED", "all reverse", "all side view"]
    assert {row.light_state for row in results.options} == {"not traced"}


def test_leds_built_by_hand_are_priced_as_built_by_hand(folder, results):
    """The record of building says who builds each LED; no other place may say otherwise."""
    checked = CheckResults.model_validate_json(CliRunner().invoke(app, ["check", str(folder), "--json"]).stdout)
    by_hand = [way for way in checked.building.ways if way.way == "hand"]
    assert sum(len(way.refs) for way in by_hand if way.mounting == "reverse") == 2
    (mixed,) = (row for row in results.answer.statements if (row.way, row.good) == ("mixed", 100))
    lines = {line.what: line.working for line in mixed.lines}
    for style in {way.mounting for way in by_hand}:
        count = sum(len(way.refs) for way in by_hand if way.mounting == style)
        assert f" x {count} a board x " in lines[f"solder {style.replace('_', '-')}"]
    # 4 side-view LEDs and 16 resistors are left to the machine: 40 joints
    assert "40 joints" in lines["joints"]


def test_the_csv_holds_every_line_and_the_curve(folder, tmp_path):
    assert run(folder, *ON, "--csv", tmp_path / "money.csv").exit_code == 0
    with (tmp_path / "money.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    for way in ("hand", "mixed", "service"):
        of_way = [row for row in rows if row["way"] == way]
        total = next(Decimal(row["amount"]) for row in of_way if row["kind"] == "total")
        assert sum(Decimal(row["amount"]) for row in of_way if row["group"] != "total") == total
    with (tmp_path / "money-curve.csv").open(newline="", encoding="utf-8") as file:
        curve = list(csv.DictReader(file))
    assert {row["way"] for row in curve} == {"hand", "mixed", "service"}
    assert max(int(row["good_pieces"]) for row in curve) == 10_000


def test_the_same_seed_prints_the_same_bytes(folder):
    assert run(folder, "--json", *ON).stdout == run(folder, "--json", *ON, "--seed", 1).stdout


def test_a_price_below_cost_ends_with_1_and_a_reason_with_0(folder, tmp_path):
    design = tmp_path / "copy"
    shutil.copytree(folder, design)
    text = (design / "cost.toml").read_text(encoding="utf-8")
    low = text.replace("price = 24\n", "price = 1\n")
    (design / "cost.toml").write_text(low, encoding="utf-8")
    shown = run(design, *ON)
    assert shown.exit_code == 1
    assert "below_cost_reason" in shown.stdout
    (design / "cost.toml").write_text(
        low.replace("[sale]\n", '[sale]\nbelow_cost_reason = "gifts"\n'), encoding="utf-8"
    )
    assert run(design, *ON).exit_code == 0


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("worth = { USD = 0.92 }", "worth = { CHF = 1.07 }", "currency: is USD while the base is EUR"),
        ("vat_percent = 20", "vat_percent = 200", "[sale] vat_percent: is 200 percent; allowed is 0 to 100"),
        ("{ at = 10, each = 1.60 }", "{ at = 3, each = 1.60 }", "price_breaks item 2: is at 3 pieces after 5"),
        ('item = "cell holder"', 'item = "cell holde"', "there is no offer for cell holder; add an [[offer]]"),
        (
            'finish = "lead-free"',
            'finish = "silver"',
            "[build] finish is 'silver'; boards are offered in lead-free, gold",
        ),
    ],
)
def test_a_mistake_is_one_line_on_stderr_and_exit_code_2(folder, tmp_path, old, new, words):
    design = tmp_path / "copy"
    shutil.copytree(folder, design)
    text = (design / "cost.toml").read_text(encoding="utf-8")
    assert old in text
    (design / "cost.toml").write_text(text.replace(old, new, 1), encoding="utf-8")
    shown = run(design, *ON)
    assert shown.exit_code == 2
    assert shown.stderr.count("\n") == 1
    assert words in shown.stderr


def test_without_a_cost_file_it_works_from_ranges_and_writes_one_to_start_from(folder, tmp_path):
    design = tmp_path / "copy"
    shutil.copytree(folder, design)
    (design / "cost.toml").unlink()
    first = run(design, *ON, "--json")
    assert first.exit_code == 0, first.output
    assert f"{design / 'cost.toml'}: written, since there was none" in first.stderr
    record = CostResults.model_validate_json(first.stdout)
    # Everything a board needs has a price, everything is assumed, and so nothing is called the cheapest
    placed = {row.part for row in record.leds}
    assert {"hk-chip-amber", "hk-side-green"} <= placed
    assert record.answer.cheapest is None
    assert {row.origin for _, row in dated_tables(record.inputs)} == {"assumed"}
    assert all(row.worst > row.best for row in record.answer.risks)
    workings = {line.what: line.working for line in record.answer.statements[0].lines}
    assert workings["hk-chip-amber"].endswith(" x 0.2")
    assert workings["resistor-0603"].endswith(" x 0.02")
    assert workings["cell holder"].endswith(" x 0.5")
    text = (design / "cost.toml").read_bytes()
    again = run(design, *ON, "--json")
    assert again.stdout == first.stdout
    assert again.stderr == ""
    assert (design / "cost.toml").read_bytes() == text


def test_light_neither_needs_nor_writes_a_cost_file(folder, tmp_path, monkeypatch):
    def refuse(*_args, **_keywords):
        raise AssertionError("traced")

    monkeypatch.setattr("paneglow.pipeline.light.trace", refuse)
    design = tmp_path / "copy"
    shutil.copytree(folder, design)
    (design / "cost.toml").unlink()
    assert str(CliRunner().invoke(app, ["light", str(design)]).exception) == "traced"
    assert not (design / "cost.toml").exists()


def test_its_json_is_the_record(folder):
    assert set(json.loads(run(folder, "--json", *ON).stdout)) == set(CostResults.model_fields)


def test_the_committed_example_is_what_the_demo_writes(folder):
    assert (folder / "cost.toml").read_bytes() == (EXAMPLE / "cost.toml").read_bytes()


def test_a_version_whose_file_is_missing_is_left_out_and_says_who_asked(folder, tmp_path, monkeypatch):
    def refuse(*_args, **_keywords):
        raise AssertionError("traced")

    design = tmp_path / "copy"
    shutil.copytree(folder, design)
    (design / "second-wave.toml").unlink()
    record = CostResults.model_validate_json(run(design, "--json", *ON).stdout)
    assert "second wave LED" not in {row.name for row in record.options}
    (finding,) = (finding for finding in record.findings if finding.code == "version-left-out")
    assert "[[option]] 'second wave LED' of cost.toml" in finding.reason
    assert "second-wave.toml: there is no such file" in finding.reason
    # `light` goes on to trace
    monkeypatch.setattr("paneglow.pipeline.light.trace", refuse)
    assert str(CliRunner().invoke(app, ["light", str(design)]).exception) == "traced"


def test_the_run_of_the_design_is_costed_as_it_stands_or_refused(folder, tmp_path):
    design = tmp_path / "copy"
    shutil.copytree(folder, design)
    text = (design / "design.toml").read_text(encoding="utf-8")
    (design / "design.toml").write_text(text.replace("quantity = 100", "quantity = 20000"), encoding="utf-8")
    record = CostResults.model_validate_json(run(design, "--json", *ON).stdout)
    assert {row.good for row in record.answer.statements} == {20_000}
    (design / "design.toml").write_text(text.replace("quantity = 100", "quantity = 1000000"), encoding="utf-8")
    shown = run(design, *ON)
    assert shown.exit_code == 2
    assert "[run] quantity is 1000000; what a piece costs is worked out for runs of 1 to 100000" in shown.stderr


def test_every_led_stands_with_its_cost_and_what_another_would_change(results):
    rows = {row.part: row for row in results.leds}
    assert {row.way for row in results.leds} == {"mixed"}
    amber = {swap.by: swap.more_each_board for swap in rows["hk-chip-amber"].instead}
    # All of one kind replaced cost what replacing each alone adds up to, but for what codes share: postage, leaders
    assert set(amber) == {"hk-reverse-amber", "hk-side-amber"}
    assert amber["hk-reverse-amber"] > 0 > amber["hk-side-amber"]
    assert all(row.each_board > 0 for row in results.leds)


def test_a_cost_file_that_lacks_a_price_stops_no_light_and_is_told(folder, tmp_path):
    design = tmp_path / "copy"
    shutil.copytree(folder, design)
    text = (design / "cost.toml").read_text(encoding="utf-8")
    (design / "cost.toml").write_text(text.replace('item = "hk-side-green"', 'item = "hk-side-gren"'), encoding="utf-8")
    found = json.loads(CliRunner().invoke(app, ["check", str(design), "--json"]).stdout)["findings"]
    (told,) = [finding for finding in found if finding["code"] == "cost-left-out"]
    assert told["reason"] == "What it costs is left out: there is no offer for hk-side-green."
    refused = CliRunner().invoke(app, ["cost", str(design)])
    assert (refused.exit_code, "there is no offer for hk-side-green" in refused.stderr) == (2, True)
