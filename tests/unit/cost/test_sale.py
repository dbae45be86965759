"""Selling: tax and fees inside the price, solved the right way round."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from paneglow.cost.sale import FeeTerms, SaleTerms, build_sale, price_for_margin, profit
from paneglow.errors import RangeError

D = Decimal
FEES = (
    FeeTerms(name="selling", fixed=D("0.30"), share=D("0.08")),
    FeeTerms(name="payment", fixed=D("0.20"), share=D("0.02")),
)
TERMS = SaleTerms(fees=FEES, vat=D("0.2"))  # 20 % tax inside the price; fees 10 % and 0.50, chosen here


def sold(price, unit=6, terms=TERMS):
    return build_sale(D(price), unit=D(unit), unit_carried=D(unit), terms=terms, way="hand", good=1, currency="EUR")


@pytest.mark.parametrize(
    ("price", "left"),
    [
        ("12.00", "2.30"),  # 12/1.2 = 10.00; 10 % of 12 + 0.50 = 1.70; 10.00 - 1.70 - 6.00 = 2.30
        ("15.00", "4.50"),  # 12.50 - 1.50 - 0.50 - 6.00 = 4.50
        ("18.00", "6.70"),  # 15.00 - 1.80 - 0.50 - 6.00 = 6.70
    ],
)
def test_what_a_price_leaves_of_a_piece_that_costs_six(price, left):
    assert sold(price).profit == D(left)


def test_the_margin_is_of_the_takings_without_tax():
    # 2.30 / 10.00 = 23 %
    assert sold("12.00").margin_percent == D("23.00")


def test_the_lines_of_a_sale_in_full():
    lines = {line.what: line.amount for line in sold("12.00").lines}
    assert lines == {
        "price": D("12.00"),
        "tax": D("-2.00"),  # 20/120 of 12.00
        "selling fee": D("-0.96"),  # 8 % of 12.00, tax and all
        "selling fee, fixed": D("-0.30"),
        "payment fee": D("-0.24"),  # 2 % of 12.00
        "payment fee, fixed": D("-0.20"),
        "piece": D("-6.00"),
    }


def test_fees_are_taken_of_the_price_with_postage():
    # Gross 12.00 + 3.60 = 15.60; net 13.00; fees 1.56 + 0.50; postage 3.00 paid; 13.00 - 2.06 - 3.00 - 6.00 = 1.94
    terms = SaleTerms(fees=FEES, vat=D("0.2"), postage_charged=D("3.60"), postage_paid=D("3.00"))
    assert sold("12.00", terms=terms).profit == D("1.94")


def test_returns_are_refunded_and_some_sold_again():
    # Of 100 sold 10 come back: kept 0.9 of 12.00 = 10.80, net 9.00; fees 10 % of 10.80 = 1.08 + 0.50;
    # returns 0.1 x 4.00 = 0.40; piece 6.00 less 0.1 x 0.5 x 6.00 = 5.70; 9.00 - 1.58 - 0.40 - 5.70 = 1.32
    terms = SaleTerms(fees=FEES, vat=D("0.2"), returned=D("0.1"), return_cost=D(4), resold=D("0.5"))
    assert sold("12.00", terms=terms).profit == D("1.32")


def test_without_tax_the_whole_price_is_taken():
    # 12.00 - 1.20 - 0.50 - 6.00 = 4.30
    assert sold("12.00", terms=SaleTerms(fees=FEES)).profit == D("4.30")


def test_the_price_for_a_margin_of_nothing_covers_tax_and_fees():
    # gross (1/1.2 - 0.1) = 6.50: 6.50 / 0.733333 = 8.8636, up to 8.87; adding tax and fees on top, 6.00 x 1.2 x 1.1
    # + 0.50 = 8.42, would lose 0.33
    assert price_for_margin(D(0), unit=D(6), terms=TERMS, currency="EUR") == D("8.87")
    assert sold("8.42").profit == D("-0.33")


def test_the_price_for_a_margin_of_thirty_percent():
    # gross (0.7/1.2 - 0.1) = 6.50: 6.50 / 0.483333 = 13.4483, up to 13.45; check: 11.2083 net, 1.345 + 0.50 fees,
    # 3.3633 left = 30.01 %
    assert price_for_margin(D("0.3"), unit=D(6), terms=TERMS, currency="EUR") == D("13.45")
    assert sold("13.45").margin_percent == D("30.01")


def test_the_price_for_the_margin_of_the_worked_example_is_its_price():
    assert price_for_margin(D("0.23"), unit=D(6), terms=TERMS, currency="EUR") == D("12.00")


def test_a_price_in_yen_is_whole():
    # 600 + 45 = 645; / 0.733333 = 879.55 -> 880
    terms = SaleTerms(fees=(FeeTerms(name="all", fixed=D(45), share=D("0.1")),), vat=D("0.2"))
    assert price_for_margin(D(0), unit=D(600), terms=terms, currency="JPY") == D(880)


def test_a_margin_no_price_can_reach_says_why():
    # (1 - 0.9)/1.2 = 0.0833 is less than the fees of 0.1; the most is 1 - 0.1 x 1.2 = 88 %
    words = r"a margin of 90 % cannot be reached .*: fees \(selling 8 % and payment 2 % .* take 12 %.* below 88 %"
    with pytest.raises(RangeError, match=words):
        price_for_margin(D("0.9"), unit=D(6), terms=TERMS, currency="EUR")


def test_where_all_comes_back_the_returns_are_blamed_and_not_the_fees():
    with pytest.raises(RangeError, match="all pieces come back and are refunded; correct return_percent"):
        price_for_margin(D("0.1"), unit=D(6), terms=SaleTerms(fees=FEES, returned=D(1)), currency="EUR")


def test_without_fees_only_a_margin_of_everything_is_out_of_reach():
    # A share of the takings below 1 always has a price: 6 / (1 - 0.99) = 600
    assert price_for_margin(D("0.99"), unit=D(6), terms=SaleTerms(), currency="EUR") == D("600.00")
    with pytest.raises(RangeError, match="a margin stays below 100 %"):
        price_for_margin(D(1), unit=D(6), terms=SaleTerms(), currency="EUR")


SHARES = st.decimals(min_value=0, max_value="0.3", places=3)
MONEY = st.decimals(min_value="0.01", max_value=500, places=2)


@st.composite
def some_terms(draw):
    return SaleTerms(
        fees=(FeeTerms(name="one", fixed=draw(MONEY) / 100, share=draw(SHARES)),),
        vat=draw(SHARES),
        postage_charged=draw(MONEY) / 50,
        postage_paid=draw(MONEY) / 50,
        returned=draw(SHARES),
        return_cost=draw(MONEY) / 50,
        resold=draw(SHARES),
    )


@given(MONEY, MONEY, some_terms())
def test_the_lines_of_a_sale_always_add_up_to_its_profit(price, unit, terms):
    result = build_sale(price, unit=unit, unit_carried=unit, terms=terms, way="hand", good=1, currency="EUR")
    assert sum(line.amount for line in result.lines) == result.profit


@given(MONEY, SHARES, some_terms())
def test_the_price_for_a_margin_reaches_it_and_a_cent_less_does_not(unit, margin, terms):
    price = price_for_margin(margin, unit=unit, terms=terms, currency="EUR")

    def reached(gross):
        net = terms.kept * (gross + terms.postage_charged) / (1 + terms.vat)
        return profit(gross, unit=unit, terms=terms) - margin * net

    # 1e-20: the last digits of 28
    assert reached(price) >= -D("1e-20")
    assert reached(price - D("0.01")) < D("1e-20")


@given(MONEY, MONEY, MONEY, some_terms())
def test_a_more_expensive_piece_never_leaves_more(price, unit, more, terms):
    assert profit(price, unit=unit + more, terms=terms) <= profit(price, unit=unit, terms=terms)
