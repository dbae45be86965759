"""Money: exact, rounded once; what is printed adds up."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from paneglow.cost.money import apportion, minor_unit, to_base, to_paid
from paneglow.errors import DesignError

D = Decimal
AMOUNTS = st.lists(st.decimals(min_value=-1000, max_value=1000, places=6), min_size=1, max_size=40)


@given(AMOUNTS, st.sampled_from(["EUR", "JPY", "KWD"]))
def test_printed_amounts_always_add_up_to_the_rounded_sum(amounts, currency):
    printed = apportion(amounts, currency=currency)
    assert sum(printed) == to_paid(sum(amounts), currency=currency)
    assert all(abs(shown - exact) < minor_unit(currency) for shown, exact in zip(printed, amounts, strict=True))


@given(AMOUNTS, st.decimals(min_value=-500, max_value=500, places=2))
def test_printed_amounts_add_up_to_a_total_that_is_given(amounts, total):
    assert sum(apportion(amounts, currency="EUR", total=total)) == total


def test_three_thirds_of_ten_print_as_ten():
    # 3.333.. three times: 3.33 + 3.33 + 3.33 = 9.99, so one of them shows the missing 0.01
    assert apportion([D(10) / 3] * 3, currency="EUR") == (D("3.34"), D("3.33"), D("3.33"))


def test_halves_go_to_the_even_cent():
    # 4.625 -> 4.62; 4.635 -> 4.64
    assert to_paid(D("4.625"), currency="EUR") == D("4.62")
    assert to_paid(D("4.635"), currency="EUR") == D("4.64")


def test_currencies_without_and_with_thousandths_round_to_their_own_unit():
    assert to_paid(D("1234.56"), currency="JPY") == D("1235")
    assert to_paid(D("1.23456"), currency="KWD") == D("1.235")


def test_an_amount_is_converted_exactly():
    # 12.00 USD at 0.92 = 11.04 EUR
    assert to_base(D("12.00"), currency="USD", base="EUR", rates={"USD": D("0.92")}) == D("11.04")


def test_two_currencies_and_no_rate_is_one_clear_line():
    with pytest.raises(
        DesignError, match=r"an amount is in USD and the base currency is EUR, but \[rates\] has no USD"
    ):
        to_base(D(1), currency="USD", base="EUR", rates={})
