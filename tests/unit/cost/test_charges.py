"""Lines of a statement where a count is one, none, or just at a limit; each amount by hand."""

from dataclasses import replace
from decimal import Decimal

from cost_cases import PERFECT, PLAIN, STAMP, make_bill, make_costing
from paneglow.cost import build_statement, cost_runs

D = Decimal
SIDE = make_bill(mounting="side_view")


def lines_of(text, *, way="hand", good=1, bill=None):
    costing = make_costing(text + PERFECT, bill=bill)
    return build_statement(cost_runs(costing, way=way, good=[good]), currency="EUR").lines


def working(lines, what):
    (line,) = (line for line in lines if line.what == what)
    return line.working


def in_stock(pieces, *, each="0.15"):
    return f'[[stock]]\nitem = "led"\npieces = {pieces}\neach = {each}\n{STAMP}\n'


def test_one_piece_from_stock_is_a_line():
    for each in ("0.15", "0"):  # also where it costs nothing
        lines = lines_of(PLAIN + in_stock(1, each=each), bill=make_bill(1))
        assert [line.amount for line in lines if line.what == "led"] == [D(each)]


def test_what_lies_in_stock_needs_no_offer_and_leaves_no_line_of_buying():
    unsold = PLAIN.replace('item = "led"', 'item = "another"')
    lines = lines_of(unsold + in_stock(80), good=10)
    assert [line.working.split(" x ")[0] for line in lines if line.what == "led"] == ["80 from stock"]


def test_a_run_that_buys_none_beside_one_that_buys_some_has_no_line_of_none():
    costing = make_costing(PLAIN + PERFECT + in_stock(8))
    runs = cost_runs(costing, way="hand", good=[1, 10])
    one, ten = (build_statement(runs, run=run, currency="EUR").lines for run in (0, 1))
    assert [line.working.split(" x ")[0] for line in one if line.what == "led"] == ["8 from stock"]
    assert len([line for line in ten if line.what == "led"]) == 2


def test_postage_is_listed_by_supplier_in_the_order_of_their_names():
    posted = "".join(
        f'[[supplier]]\nname = "{name}"\npostage = {amount}\n{STAMP}\n'
        for name, amount in (("shop", 3), ("board house", 5))
    )
    posts = [(line.what, line.amount) for line in lines_of(PLAIN + posted) if line.what.startswith("postage")]
    assert posts == [("postage of board house", D("5.00")), ("postage of shop", D("3.00"))]


def test_sides_are_counted_in_words():
    one = lines_of(PLAIN, way="mixed", bill=SIDE)
    assert working(one, "set-up").startswith("1 side x")
    other = replace(SIDE.rows[0], side="front")
    two = lines_of(PLAIN, way="mixed", bill=replace(SIDE, rows=(*SIDE.rows, other)))
    assert working(two, "set-up").startswith("2 sides x")


def test_a_minimum_charge_is_told_only_where_it_is_above_what_the_joints_cost():
    # 16 joints x 0.01 = 0.16 a board
    for floor, told in (("0.16", False), ("0.17", True)):
        text = PLAIN.replace("per_joint = 0.01", f"per_joint = 0.01\nfloor_per_board = {floor}")
        assert ("minimum charge" in working(lines_of(text, way="mixed", bill=SIDE), "joints")) is told


def test_handling_of_own_parts_that_just_reaches_its_minimum_grows_with_the_run():
    # 8 x 0.20 = 1.60 of own parts, of which 10 % are 0.16
    for least, kind in (("0.16", "variable"), ("0.17", "fixed")):
        text = PLAIN.replace("per_joint = 0.01", f"per_joint = 0.01\nown_parts_percent = 10\nown_parts_least = {least}")
        lines = lines_of(text, way="mixed", bill=SIDE)
        assert [line.kind for line in lines if line.what == "handling of your own parts"] == [kind]
