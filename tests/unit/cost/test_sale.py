"""Selling: tax and fees inside the price, solved the right way round."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from paneglow.cost.sale import FeeTerms, SaleTerms, build_sale, price_for_margin, profit
from paneglow.errors import RangeError

D = Decimal
FEES = (
    FeeTerms(name="selling", fixed=D("0.20"), share=D("0.065")),
    FeeTerms(name="payment", fixed=D("0.25"), share=D("0.03")),
)
TERMS = SaleTerms(fees=FEES, vat=D("0.2"))  # 20 % tax inside the price; fees 9.5 % and 0.45


def sold(price, unit=6, terms=TERMS):
    return build_sale(D(price), unit=D(unit), terms=terms, way="hand", good=1, currency="EUR")


@pytest.mark.parametrize(
    ("price", "left"),
    [
        ("12.00", "2.41"),  # 12/1.2 = 10.00; 9.5 % of 12 + 0.45 = 1.59; 10.00 - 1.59 - 6.00 = 2.41
        ("15.00", "4.62"),  # 12.50 - 1.425 - 0.45 - 6.00 = 4.625, half to the even cent 4.62
        ("18.00", "6.84"),  # 15.00 - 1.71 - 0.45 - 6.00 = 6.84
    ],
)
def test_what_a_price_leaves_of_a_piece_that_costs_six(price, left):
    assert sold(price).profit == D(left)


def test_the_margin_is_of_the_takings_without_tax():
    # 2.41 / 10.00 = 24.1 %
    assert sold("12.00").margin_percent == D("24.10")


def test_the_lines_of_a_sale_in_full():
    lines = {line.what: line.amount for line in sold("12.00").lines}
    assert lines == {
        "price": D("12.00"),
        "tax": D("-2.00"),  # 20/120 of 12.00
        "selling fee": D("-0.78"),  # 6.5 % of 12.00, tax and all
        "selling fee, fixed": D("-0.20"),
        "payment fee": D("-0.36"),  # 3 % of 12.00
        "payment fee, fixed": D("-0.25"),
        "piece": D("-6.00"),
    }


def test_fees_are_taken_of_the_price_with_postage():
    # Gross 12.00 + 3.60 = 15.60; net 13.00; fees 1.482 + 0.45; postage 3.00 paid; 13.00 - 1.932 - 3.00 - 6.00 = 2.068
    terms = SaleTerms(fees=FEES, vat=D("0.2"), postage_charged=D("3.60"), postage_paid=D("3.00"))
    assert sold("12.00", terms=terms).profit == D("2.07")


def test_returns_are_refunded_and_some_sold_again():
    # Of 100 sold 10 come back: kept 0.9 of 12.00 = 10.80, net 9.00; fees 9.5 % of 10.80 = 1.026 + 0.45;
    # returns 0.1 x 4.00 = 0.40; piece 6.00 less 0.1 x 0.5 x 6.00 = 5.70; 9.00 - 1.476 - 0.40 - 5.70 = 1.424
    terms = SaleTerms(fees=FEES, vat=D("0.2"), returned=D("0.1"), return_cost=D(4), resold=D("0.5"))
    assert sold("12.00", terms=terms).profit == D("1.42")


def test_without_tax_the_whole_price_is_taken():
    # 12.00 - 1.14 - 0.45 - 6.00 = 4.41
    assert sold("12.00", terms=SaleTerms(fees=FEES)).profit == D("4.41")


def test_the_price_for_a_margin_of_nothing_covers_tax_and_fees():
    # gross (1/1.2 - 0.095) = 6.45: 6.45 / 0.738333 = 8.7359, up to 8.74; adding tax and fees on top, 6.00 x 1.2 x 1.095
    # + 0.45 = 8.33, would lose 0.30
    assert price_for_margin(D(0), unit=D(6), terms=TERMS, currency="EUR") == D("8.74")
    assert sold("8.33").profit == D("-0.30")


def test_the_price_for_a_margin_of_thirty_percent():
    # gross (0.7/1.2 - 0.095) = 6.45: 6.45 / 0.488333 = 13.2082, up to 13.21; check: 11.0083 net, 1.255 + 0.45 fees,
    # 3.3034 left = 30.01 %
    assert price_for_margin(D("0.3"), unit=D(6), terms=TERMS, currency="EUR") == D("13.21")
    assert sold("13.21").margin_percent == D("30.01")


def test_the_price_for_the_margin_of_the_worked_example_is_its_price():
    assert price_for_margin(D("0.241"), unit=D(6), terms=TERMS, currency="EUR") == D("12.00")


def test_a_price_in_yen_is_whole():
    # 600 + 45 = 645; / 0.738333 = 873.59 -> 874
    terms = SaleTerms(fees=(FeeTerms(name="all", fixed=D(45), share=D("0.095")),), vat=D("0.2"))
    assert price_for_margin(D(0), unit=D(600), terms=terms, currency="JPY") == D(874)


def test_a_margin_no_price_can_reach_is_told():
    # (1 - 0.9)/1.2 = 0.0833 is less than the fees of 0.095; the most is 1 - 0.095 x 1.2 = 88.6 %
    with pytest.raises(RangeError, match=r"a margin of 90 % cannot be reached at any price.*at most 88\.6 %"):
        price_for_margin(D("0.9"), unit=D(6), terms=TERMS, currency="EUR")


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
    result = build_sale(price, unit=unit, terms=terms, way="hand", good=1, currency="EUR")
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
def test_a_dearer_piece_never_leaves_more(price, unit, more, terms):
    assert profit(price, unit=unit + more, terms=terms) <= profit(price, unit=unit, terms=terms)
