"""Whole runs worked by hand, line by line; and what must hold for every run."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cost_cases import PERFECT, PLAIN, STAMP, make_bill, make_costing, make_costs, run_total
from paneglow.cost import build_costing, build_statement, cost_runs
from paneglow.errors import DesignError

D = Decimal


def state(costing, way="hand", good=1):
    return build_statement(cost_runs(costing, way=way, good=[good]), currency=costing.costs.currency)


def amounts(statement):
    return {line.what: line.amount for line in statement.lines}


def with_yield(way, **figures):
    rows = "".join(f"{name} = {value}\n" for name, value in figures.items())
    others = [other for other in ("hand", "mixed", "service") if other != way]
    perfect = "".join(f'[[process_yield]]\nway = "{other}"\ngood_percent = 100\n{STAMP}\n' for other in others)
    return f'{PLAIN}{perfect}[[process_yield]]\nway = "{way}"\n{rows}{STAMP}\n'


def test_ten_boards_by_hand():
    # 10 x 2.00 = 20.00; 80 x 0.20 = 16.00 but 100 x 0.10 = 10.00, of which 20 x 0.10 = 2.00 stay over;
    # 8 LEDs x 0.75 min x 10 = 60 min at 15/h = 15.00; in all 45.00, carried 43.00
    found = state(make_costing(), good=10)
    assert amounts(found) == {
        "bare board": D("20.00"),
        "led": D("8.00"),
        "solder": D("15.00"),
        "led, left over": D("2.00"),
    }
    assert (found.total, found.unit, found.total_carried, found.unit_carried) == (
        D("45.00"),
        D("4.50"),
        D("43.00"),
        D("4.30"),
    )
    assert found.minutes == 60


def test_ten_boards_mixed_with_nothing_for_hands():
    # Side-view parts go to the machine: 10.00 + 2.00; 10 x 16 x 0.01 = 1.60; 1 type 2.00; boards, LEDs as by hand
    found = state(make_costing(bill=make_bill(mounting="side_view")), way="mixed", good=10)
    assert amounts(found) == {
        "bare board": D("20.00"),
        "led": D("8.00"),
        "set-up": D("10.00"),
        "stencil": D("2.00"),
        "joints": D("1.60"),
        "part types": D("2.00"),
        "led, left over": D("2.00"),
    }
    assert found.total == D("45.60")
    assert found.minutes == 0


def test_lens_down_leds_stay_in_own_hands_when_mixed():
    # 16 joints of 8 resistors by machine, 8 LEDs by hand: 60 min
    costing = make_costing(PLAIN + PERFECT + RESISTOR, bill=make_bill(resistor=8))
    found = amounts(state(costing, way="mixed", good=10))
    assert found["solder"] == D("15.00")
    assert found["joints"] == D("1.60")
    assert found["part types"] == D("2.00")


RESISTOR = f"""
[[offer]]
item = "resistor"
supplier = "shop"
price_breaks = [{{ at = 1, each = 0.01 }}]
{STAMP}
"""
SCHEME = PLAIN.replace(
    "per_part_type = 2\n",
    "per_part_type = 2\nfloor_per_board = 0.50\nhand_setup = 5\nhand_per_joint = 0.05\nsecond_side_percent = 50\n"
    "own_parts_percent = 3\nown_parts_least = 15\nspares_percent = 20\nspares_least = 4\n",
)


def test_a_service_that_solders_turned_leds_by_hand():
    # 5.00 + 10 x 16 x 0.05 = 8.00; LEDs: 80 + 20 % = 96, bought as 100 x 0.10, of which 9.60 are for this run:
    # 3 % of 9.60 = 0.29, so the minimum, 15.00
    found = amounts(state(make_costing(SCHEME + PERFECT), way="service", good=10))
    assert found["set-up for hand work"] == D("5.00")
    assert found["joints by hand"] == D("8.00")
    assert found["handling of your own parts"] == D("15.00")
    assert found["led"] == D("9.60")
    assert found["led, left over"] == D("0.40")
    assert "set-up" not in found


def test_a_minimum_charge_says_so_and_what_it_replaces():
    # 8 LEDs by machine: 16 joints x 0.01 = 0.16 a board, and 3 % of 9.60 = 0.288
    found = state(make_costing(SCHEME + PERFECT, bill=make_bill(mounting="reverse")), way="service", good=10)
    workings = {line.what: line.working for line in found.lines}
    assert workings["joints"] == "10 boards x 0.5 minimum charge per board (16 joints alone would be 0.16)"
    assert workings["handling of your own parts"] == "minimum charge 15 (3 % of 9.6 would be 0.29)"


def test_the_minimum_of_a_board_is_asked_where_joints_are_few():
    # 16 x 0.01 = 0.16 < 0.50: 10 x 0.50 = 5.00
    found = amounts(state(make_costing(SCHEME + PERFECT, bill=make_bill(mounting="reverse")), way="service", good=10))
    assert found["joints"] == D("5.00")


def test_two_sides_cost_two_set_ups_and_more_expensive_joints():
    # 2 x 10.00, 2 x 2.00; 400 LEDs = 800 joints on the back, 2 resistors = 4 on the front: 804 x 0.01 x 1.5 = 12.06
    bill = make_bill(400, mounting="reverse")
    front = type(bill.rows[0])(item="resistor", count=2, side="front", built_by="machine")
    both = type(bill)(rows=(*bill.rows, front), size_mm=bill.size_mm)
    found = amounts(state(make_costing(SCHEME + PERFECT + RESISTOR, bill=both), way="service", good=10))
    assert (found["set-up"], found["stencil"], found["joints"]) == (D("20.00"), D("4.00"), D("120.60"))
    assert found["part types"] == D("4.00")


def test_three_percent_of_supplied_parts_above_the_least():
    # 1000 boards: 8000 LEDs + 20 % = 9600 x 0.10 = 960.00; 3 % = 28.80
    found = amounts(state(make_costing(SCHEME + PERFECT), way="service", good=1000))
    assert found["handling of your own parts"] == D("28.80")


@pytest.mark.parametrize(("seconds", "boards"), [(45, 15), (20, 40)])
def test_the_machine_begins_to_pay_at_15_and_at_40_boards(seconds, boards):
    # 8 LEDs: 10 + 2 + 4 types x 2 = 20.00 and 16 x 0.01 = 0.16 a board, against hands at 15/h:
    # 45 s: 8 x 0.75 min = 1.50 a board, 20.00 / (1.50 - 0.16) = 14.9 -> 15
    # 20 s: 8 x 1/3 min = 0.6667 a board, 20.00 / (0.6667 - 0.16) = 39.5 -> 40
    text = PLAIN.replace("minutes = 0.75", f"minutes = {seconds / 60:.9f}") + PERFECT
    for colour in ("amber", "red", "green"):
        text += f'[[offer]]\nitem = "{colour}"\nsupplier = "shop"\n'
        text += f"price_breaks = [{{ at = 1, each = 0.10 }}]\n{STAMP}\n"
    bill = make_bill(2, mounting="side_view")
    rows = tuple(
        type(bill.rows[0])(item=c, count=2, side="back", built_by="machine", mounting="side_view")
        for c in ("amber", "red", "green")
    )
    costing = make_costing(text, bill=type(bill)(rows=(*bill.rows, *rows), size_mm=bill.size_mm))

    def more_expensive(good):
        hand, machine = (run_total(costing, way=way, good=good) for way in ("hand", "mixed"))
        return machine > hand

    assert more_expensive(boards - 1)
    assert not more_expensive(boards)


def test_a_yield_of_ninety_percent_begins_more_boards():
    # 10 good of 90 %: P[>= 10 of 12] = 0.889, of 13: 0.966 -> 13 boards, 26.00; 104 LEDs x 0.10 = 10.40; 78 min = 19.50
    found = state(make_costing(with_yield("hand", good_percent=90)), good=10)
    assert found.started == 13
    assert amounts(found) == {"bare board": D("26.00"), "led": D("10.40"), "solder": D("19.50")}
    assert found.total == D("55.90")


def test_rework_saves_half_of_the_bad_boards():
    # 80 % good, half of the others saved by 6 min each: 90 % in the end, 13 boards;
    # 13 x 0.2 x 0.5 x 6 min = 7.8 min = 1.95
    found = state(
        make_costing(with_yield("hand", good_percent=80, rework_percent=50, rework_minutes=6)), good=10
    )  # fmt: skip
    assert found.started == 13
    assert amounts(found)["rework"] == D("1.95")


def test_the_yield_can_come_from_bad_joints():
    # 16 joints at 6566 ppm: (1 - 0.006566)^16 = 0.9000 -> 13 boards as at 90 %
    found = state(make_costing(with_yield("hand", joint_defects_ppm=6566)), good=10)
    assert found.started == 13


def test_attrition_buys_spare_leds():
    # 800 LEDs of 100 boards at 5 % attrition: the mean says 843. Of 853 the mean is 810.35 and the deviation
    # sqrt(853 x 0.95 x 0.05) = 6.365: 799.5 lies 1.70 below, 95.6 %; of 852 799.5 lies 1.56 below, 94.0 %
    found = cost_runs(make_costing(with_yield("hand", good_percent=100, attrition_percent=5)), way="hand", good=[100])
    assert found.plan.needs["led"].tolist() == [853]


def test_own_work_learns():
    # 4 boards, unit curve of 80 %: 1 + 0.8 + 0.7021 + 0.64 = 3.1421 boards' time, x 6 min = 18.8526 min at 15/h = 4.71;
    # cumulative average: 4^(1 - 0.321928) = 2.56 -> 15.36 min = 3.84
    for model, charge in (("unit", "4.71"), ("cumulative-average", "3.84")):
        more = f'minutes = 0.75\nlearning_percent = 80\nlearning_model = "{model}"'
        costing = make_costing(PLAIN.replace("minutes = 0.75", more) + PERFECT)
        assert amounts(state(costing, good=4))["solder"] == D(charge)


def test_overhead_is_on_own_work():
    # 15.00 of labour and 20 % on it = 3.00
    costing = make_costing(PLAIN.replace("rate_per_hour = 15", "rate_per_hour = 15\noverhead_percent = 20") + PERFECT)
    assert amounts(state(costing, good=10))["overhead"] == D("3.00")


def test_stock_is_used_before_anything_is_bought():
    # 80 needed: 50 from stock x 0.15 = 7.50, 30 bought x 0.20 = 6.00
    stock = f'[[stock]]\nitem = "led"\npieces = 50\neach = 0.15\n{STAMP}\n'
    found = state(make_costing(PLAIN + PERFECT + stock), good=10)
    assert [line.amount for line in found.lines if line.what == "led"] == [D("7.50"), D("6.00")]


def test_duty_and_a_foreign_currency_are_on_every_piece():
    # 8 x 0.20 USD x 0.92 x 1.05 = 1.5456; postage 5 USD = 4.60
    text = PLAIN.replace('supplier = "shop"\n', 'supplier = "shop"\ncurrency = "USD"\n') + PERFECT
    text += f"[rates]\nworth = {{ USD = 0.92 }}\n{STAMP}\n"
    text += f'[[supplier]]\nname = "shop"\npostage = 5\nduty_percent = 5\ncurrency = "USD"\n{STAMP}\n'
    found = amounts(state(make_costing(text)))
    assert found["led"] == D("1.55")
    assert found["postage of shop"] == D("4.60")


def test_packaging_is_for_good_pieces_and_items_for_all_boards():
    # 90 % yield, 13 boards for 10 pieces: 13 holders x 0.40 = 5.20, 10 boxes x 0.50 = 5.00
    text = with_yield("hand", good_percent=90)
    for name, each in (("holder", "0.40"), ("box", "0.50")):
        packaging = "packaging = true\n" if name == "box" else ""
        text += f'[[item]]\nname = "{name}"\n{packaging}\n[[offer]]\nitem = "{name}"\nsupplier = "shop"\n'
        text += f"price_breaks = [{{ at = 1, each = {each} }}]\n{STAMP}\n"
    found = amounts(state(make_costing(text), good=10))
    assert (found["holder"], found["box"]) == (D("5.20"), D("5.00"))


def test_money_spent_once_is_spread_over_the_run():
    # 35.00 over 10 pieces: 3.50 each on top of 4.50
    once = f'[[one_off]]\nname = "jig"\namount = 35\n{STAMP}\n'
    assert state(make_costing(PLAIN + PERFECT + once), good=10).unit == D("8.00")


def test_a_board_larger_than_the_quoted_one_has_no_price():
    with pytest.raises(DesignError, match=r"the board is 60 x 80 mm and no \[\[board\]\] offer in plain holds"):
        make_costing(PLAIN.replace("[100, 100]", "[79, 59]") + PERFECT)


def test_a_board_fits_turned():
    assert make_costing(PLAIN.replace("[100, 100]", "[80, 60]") + PERFECT).offers.breaks[0].item == "board"


def test_two_finishes_must_be_chosen_from():
    board = PLAIN[PLAIN.index("[[board]]") : PLAIN.index("[[offer]]")]
    costs = make_costs(PLAIN + PERFECT + board.replace('"plain"', '"gold"'))
    with pytest.raises(DesignError, match=r"\[build\] finish is missing; boards are offered in plain, gold"):
        build_costing(costs, bill=make_bill())


def test_a_service_takes_no_fewer_boards_than_its_minimum():
    # 10 wanted, 25 the least: 25 x 2.00, 200 LEDs x 0.10; by hand 10 are begun
    costing = make_costing(SCHEME.replace("setup_per_side", "minimum_boards = 25\nsetup_per_side") + PERFECT)
    served = state(costing, way="service", good=10)
    assert (served.started, amounts(served)["bare board"]) == (25, D("50.00"))
    assert state(costing, way="hand", good=10).started == 10


def test_an_order_fee_is_asked_once_with_duty_and_prices_move_by_their_factor():
    # 8 x 0.20 x 1.5 x 1.05 = 2.52; the fee 4.00 x 1.05 = 4.20, whatever the factor on prices
    text = PLAIN.replace('item = "led"\n', 'item = "led"\norder_fee = 4\nprice_factor = 1.5\n') + PERFECT
    text += f'[[supplier]]\nname = "shop"\nduty_percent = 5\n{STAMP}\n'
    found = state(make_costing(text))
    assert (amounts(found)["led"], amounts(found)["led, order fee"]) == (D("2.52"), D("4.20"))
    kinds = {line.what: line.kind for line in found.lines}
    assert (kinds["led"], kinds["led, order fee"]) == ("variable", "fixed")
    assert "led: 8 x 0.2 x 1.5 (price factor) + 5 % duty" in {f"{line.what}: {line.working}" for line in found.lines}


def test_the_leaders_of_two_reels_are_in_the_working():
    # 100 boards x 8 = 800 LEDs from reels of 450 that lose 10 each: 440 a reel, so two; 900 x 0.05, 80 of 900 left over
    reel = PLAIN.replace('item = "led"\n', 'item = "led"\nform = "reel"\npack = 450\nleader = 10\n')
    reel = reel.replace("{ at = 1, each = 0.20 }, { at = 100, each = 0.10 }", "{ at = 450, each = 0.05 }")
    found = state(make_costing(reel + PERFECT), good=100)
    workings = {line.what: line.working for line in found.lines}
    assert workings["led, reel"] == "820 of 900 (20 on the leader) x 0.05"
    assert amounts(found)["led, reel, left over"] == D("4.00")


@given(
    st.sampled_from(["hand", "mixed", "service"]),
    st.integers(1, 10_000),
    st.integers(1, 40),
    st.sampled_from(["lens_down", "side_view"]),
    st.integers(50, 100),
    st.sampled_from(["EUR", "JPY", "KWD"]),
)
@settings(max_examples=150, deadline=None)
def test_printed_lines_always_add_up_to_the_printed_totals(way, good, leds, mounting, percent, currency):
    text = SCHEME.replace('"EUR"', f'"{currency}"')
    quality = with_yield(way, good_percent=percent, rework_percent=30, rework_minutes=7, attrition_percent=1.7)
    found = state(
        make_costing(text + quality[len(PLAIN) :], bill=make_bill(leds, mounting=mounting)), way=way, good=good
    )
    used = [line for line in found.lines if line.kind != "leftover"]
    assert sum(line.amount for line in found.lines) == found.total
    assert sum(line.per_piece for line in found.lines) == found.unit
    assert sum(line.amount for line in used) == found.total_carried
    assert sum(line.per_piece for line in used) == found.unit_carried


PRICES = st.decimals(min_value="0.001", max_value=5, places=3)


@given(PRICES, PRICES, st.integers(1, 3000), st.sampled_from(["hand", "mixed", "service"]), st.sampled_from([0, 1]))
@settings(max_examples=150, deadline=None)
def test_a_piece_never_gets_cheaper_when_a_price_rises(first, raised, good, way, step):
    low, high = (sorted([first, first + raised])[index] for index in (0, 1))
    steps = ([D(6), D(3)], [D("0.20"), D("0.10")])
    totals = []
    for price in (low, high):
        board, led = (list(prices) for prices in steps)
        led[step] = price
        led[0] = max(led)  # a price never rises with quantity
        text = SCHEME.replace("at = 1, each = 0.20", f"at = 1, each = {led[0]}").replace(
            "at = 100, each = 0.10", f"at = 100, each = {led[1]}"
        )
        totals.append(run_total(make_costing(text + PERFECT), way=way, good=good))
    assert totals[0] <= totals[1]


@given(st.integers(1, 400), st.integers(9, 5000), PRICES, st.integers(0, 8))
@settings(max_examples=150, deadline=None)
def test_a_larger_pack_on_offer_never_makes_the_run_more_expensive(good, pack, each, leader):
    reel = f'[[offer]]\nitem = "led"\nsupplier = "shop"\nform = "reel"\npack = {pack}\nleader = {leader}\n'
    reel += f"price_breaks = [{{ at = {pack}, each = {each} }}]\n{STAMP}\n"
    without, offered = (run_total(make_costing(text), good=good) for text in (PLAIN + PERFECT, PLAIN + PERFECT + reel))
    assert offered <= without
