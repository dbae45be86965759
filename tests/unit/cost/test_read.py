"""Reading a cost file: exact numbers, gaps filled from assumed ranges, every mistake in one clear line."""

from datetime import date
from decimal import Decimal

import pytest

from cost_cases import PLAIN, STAMP
from paneglow.cost import dated_tables, read_costs
from paneglow.cost.read import read_assumed
from paneglow.errors import DesignError

D = Decimal


def read(tmp_path, text):
    path = tmp_path / "cost.toml"
    path.write_text(text, encoding="utf-8")
    return read_costs(path)


def problems(tmp_path, text):
    with pytest.raises(DesignError) as told:
        read(tmp_path, text)
    lines = str(told.value).splitlines()
    assert all(line.startswith(f"{tmp_path / 'cost.toml'}: ") for line in lines)
    return [line.removeprefix(f"{tmp_path / 'cost.toml'}: ") for line in lines]


def test_numbers_are_taken_digit_for_digit(tmp_path):
    costs = read(tmp_path, PLAIN)
    assert costs.assembly.per_joint.value == D("0.01")
    assert costs.offer[0].price_breaks[1].each == D("0.10")
    assert costs.labour.dated == date(2026, 11, 1)


def test_what_is_left_open_comes_from_assumed_ranges(tmp_path):
    costs = read(tmp_path, PLAIN)
    assert {row.way for row in costs.process_yield} == {"hand", "mixed", "service"}
    assert all(row.origin == "assumed" for row in costs.process_yield)
    assert [row.name for row in costs.operation][0] == "solder"
    assert "solder other part" in {row.name for row in costs.operation}


def test_an_operation_for_the_same_thing_replaces_the_assumed_one_whatever_its_name(tmp_path):
    own = f'[[operation]]\nname = "resistors, hot plate"\nper = "part"\nminutes = 0.5\n{STAMP}\n'
    rows = [row for row in read(tmp_path, PLAIN + own).operation if row.per == "part"]
    assert [(row.name, row.minutes.value) for row in rows] == [("resistors, hot plate", D("0.5"))]


BOARD_MINUTES = '[[operation]]\nname = "{name}"\nper = "board"\nminutes = 30\n' + STAMP + "\n"
NO_LEDS = PLAIN[: PLAIN.index("[[operation]]")]


def test_minutes_per_board_hold_the_soldering_where_the_file_counts_none(tmp_path):
    (row,) = (
        row for row in read(tmp_path, NO_LEDS + BOARD_MINUTES.format(name="build")).operation if row.per == "board"
    )
    assert row.solders is True
    (row,) = (row for row in read(tmp_path, PLAIN + BOARD_MINUTES.format(name="pack")).operation if row.per == "board")
    assert row.solders is False


def test_two_timings_per_board_must_say_which_one_holds_the_soldering(tmp_path):
    text = NO_LEDS + BOARD_MINUTES.format(name="build") + BOARD_MINUTES.format(name="pack")
    (line,) = problems(tmp_path, text)
    assert line.startswith(
        "[[operation]]: 'build' and 'pack' count minutes per board, and no minutes of LEDs are stated;"
    )
    told = text.replace('"build"', '"build"\nsolders = true').replace('"pack"', '"pack"\nsolders = false')
    assert [row.solders for row in read(tmp_path, told).operation if row.per == "board"] == [True, False]


def test_soldering_is_not_counted_twice(tmp_path):
    (line,) = problems(
        tmp_path, PLAIN + BOARD_MINUTES.format(name="build").replace("minutes", "solders = true\nminutes")
    )
    assert "'build' holds all soldering (solders = true) and 'solder' counts some of it again" in line


def test_a_leader_as_long_as_its_pack_is_refused(tmp_path):
    text = PLAIN.replace('item = "led"\n', 'item = "led"\nform = "reel"\nleader = 5\npack = 5\n')
    (line,) = problems(tmp_path, text)
    assert line == "[[offer]] 1, leader: is 5 on every pack of 5; nothing of a pack would be left"


def test_every_assumed_table_of_the_catalogue_has_ranges_and_a_source(tmp_path):
    costs = read(tmp_path, 'currency = "EUR"\n')
    tables = list(dated_tables(costs))
    assert len(tables) == 1 + len(read_assumed()["operation"]) + 3
    assert all(table.origin == "assumed" and len(table.source) > 10 for _, table in tables)


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        (
            "{ at = 100, each = 0.10 }",
            "{ at = 100, each = 0.10 }, { at = 50, each = 0.05 }",
            "[[offer]] 1, price_breaks item 3: is at 50 pieces after 100; list the steps with rising quantities,"
            " each once",
        ),
        (
            "each = 0.10",
            "each = 0.30",
            "[[offer]] 1, price_breaks item 2: a piece costs 0.30 from 100 pieces and 0.20 from 1; a price may not"
            " rise with quantity: correct it, or leave the more expensive step out",
        ),
        (
            'item = "led"\n',
            'item = "led"\ncurrency = "USD"\n',
            "[[offer]] 1, currency: is USD while the base is EUR, and [rates] has no USD; add to its worth"
            " USD = <what 1 USD is worth in EUR>",
        ),
        (
            "rate_per_hour = 15",
            "rate_per_hour = 15\noverhead_percent = 120",
            "[labour] overhead_percent: is 120 percent; allowed is 0 to 100",
        ),
        (
            "rate_per_hour = 15",
            "rate_per_hour = -1",
            "[labour.rate_per_hour] value: is -1; allowed is at least 0",
        ),
        ('currency = "EUR"', 'currency = "Euro"', "currency: string should match pattern '^[A-Z]{3}$'"),
        ("dated = 2026-11-01", 'dated = "1 Nov"', "a date such as 2026-11-25, without quotes, is needed"),
        (
            "rate_per_hour",
            "rate_per_our",
            "[labour]: unknown key 'rate_per_our'; the nearest known one is rate_per_hour",
        ),
        ('origin = "quote"', 'origin = "guess"', "is 'guess'; allowed are quote, invoice, own-timing, assumed"),
        (
            "rate_per_hour = 15",
            "rate_per_hour = { value = 15, low = 16, high = 20 }",
            "value 15 must lie between low 16 and high 20",
        ),
    ],
)
def test_a_mistake_is_one_clear_line(tmp_path, old, new, line):
    assert old in PLAIN
    assert any(line in told for told in problems(tmp_path, PLAIN.replace(old, new, 1)))


def test_two_tables_without_a_rate_are_named_once(tmp_path):
    text = PLAIN.replace('supplier = "', 'currency = "USD"\nsupplier = "')
    (line,) = problems(tmp_path, text)
    assert line.startswith("[[board]] 1 and 1 more tables, currency: is USD while the base is EUR")


def test_an_assumed_number_without_a_range_is_refused(tmp_path):
    text = PLAIN.replace('rate_per_hour = 15\norigin = "quote"', 'rate_per_hour = 15\norigin = "assumed"')
    (line,) = problems(tmp_path, text)
    assert line == "labour: rate_per_hour is assumed and has no range; write { value = , low = , high = }"


SALE = f"[sale]\nprice = 12\nvat_percent = 20\n{STAMP}\n"


def test_fees_that_take_everything_are_refused(tmp_path):
    fees = "".join(f'[[fee]]\nname = "{name}"\npercent = 60\n{STAMP}\n' for name in ("a", "b"))
    (line,) = problems(tmp_path, PLAIN + SALE + fees)
    assert line == "[[fee]]: all fees together take 120 percent of what the buyer pays; allowed is below 100"


@pytest.mark.parametrize(
    "demand", ["", "mean = 10\n", "mean = 10\nsd = 2\nleast = 1\nmost = 20\n", "least = 20\nmost = 10\n"]
)
def test_a_demand_is_stated_in_exactly_one_way(tmp_path, demand):
    (line,) = problems(tmp_path, f"{PLAIN}{SALE}[demand]\n{demand}{STAMP}\n")
    assert line == "[demand]: must hold exactly one of mean and sd, least and most, [[demand.step]]"


def test_a_name_used_twice_is_refused(tmp_path):
    stock = f'[[stock]]\nitem = "led"\npieces = 5\neach = 1\n{STAMP}\n'
    (line,) = problems(tmp_path, PLAIN + stock + stock)
    assert line == "[[stock]] 2: 'led' already stands above; each may stand once"


def test_a_yield_is_stated_in_one_way_and_above_nothing(tmp_path):
    both = f'[[process_yield]]\nway = "hand"\ngood_percent = 90\njoint_defects_ppm = 100\n{STAMP}\n'
    (line,) = problems(tmp_path, PLAIN + both)
    assert line == "[[process_yield]] 1: must hold either good_percent or joint_defects_ppm"
    none = f'[[process_yield]]\nway = "hand"\ngood_percent = 0\n{STAMP}\n'
    assert "good_percent must be above 0" in problems(tmp_path, PLAIN + none)[0]


def test_a_missing_file_says_so(tmp_path):
    with pytest.raises(DesignError, match="there is no such file"):
        read_costs(tmp_path / "cost.toml")


@pytest.mark.parametrize(
    ("more", "line"),
    [
        (
            f'[[operation]]\nname = "x"\nper = "part"\nminutes = 1\nlearning_percent = 0\n{STAMP}\n',
            "[[operation]] 2, learning_percent: is 0; allowed is above 0 to 100 (100 learns nothing)",
        ),
        (
            f'[[operation]]\nname = "x"\nper = "part"\nminutes = 1\nsolders = true\n{STAMP}\n',
            '[[operation]] 2, solders: belongs to minutes per board only; write per = "board" or leave it out',
        ),
        (f'[[fee]]\nname = "a"\npercent = 5\n{STAMP}\n', "[[fee]]: fees need a [sale] they are taken from"),
        (
            f'[[process_yield]]\nway = "hand"\njoint_defects_ppm = 1000000\n{STAMP}\n',
            "[[process_yield]] 1, joint_defects_ppm: is 1000000; allowed is below 1000000",
        ),
        (
            f'[[process_yield]]\nway = "hand"\ngood_percent = 90\nattrition_percent = 100\n{STAMP}\n',
            "[[process_yield]] 1: no board or no part would ever be good; good_percent must be above 0,"
            " attrition below 100",
        ),
    ],
)
def test_what_no_run_can_be_is_refused_in_one_line(tmp_path, more, line):
    assert problems(tmp_path, PLAIN + more) == [line]


def test_yesterdays_names_are_answered_by_todays(tmp_path):
    lines = problems(tmp_path, PLAIN.replace("price_breaks", "ladder", 1))
    assert any("unknown key 'ladder'; the nearest known one is price_breaks" in line for line in lines)
    (line,) = problems(tmp_path, PLAIN + f'[[quality]]\nway = "hand"\ngood_percent = 90\n{STAMP}\n')
    assert line == "unknown key 'quality'; the nearest known one is process_yield"
