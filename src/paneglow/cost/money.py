"""Money in Decimal: currencies, conversion by the user's own table, rounding once, at the end, and numbers as text."""

from collections.abc import Mapping, Sequence
from decimal import ROUND_FLOOR, ROUND_HALF_EVEN, Decimal

import numpy as np
import numpy.typing as npt

from paneglow.errors import DesignError

Exact = npt.NDArray[np.object_]  # exact amounts, a Decimal per run

ZERO = Decimal(0)
ONE = Decimal(1)
HUNDRED = Decimal(100)
MINUTES_PER_HOUR = Decimal(60)

# ISO 4217 minor units other than two digits, table A.1 of 1 January 2026 without its funds codes; all others are
# hundredths
WHOLE = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF"
THOUSANDTHS = "BHD IQD JOD KWD LYD OMR TND"
MINOR_DIGITS = dict.fromkeys(WHOLE.split(), 0) | dict.fromkeys(THOUSANDTHS.split(), 3)


def minor_unit(currency: str) -> Decimal:
    """Smallest amount of a currency that can be paid: 0.01 of most.

    Examples
    --------
    >>> minor_unit("EUR"), minor_unit("JPY"), minor_unit("KWD")
    (Decimal('0.01'), Decimal('1'), Decimal('0.001'))
    """
    return Decimal(1).scaleb(-MINOR_DIGITS.get(currency, 2))


def to_paid(amount: Decimal, *, currency: str) -> Decimal:
    """Amount rounded to what can be paid, halves to the even digit.

    Examples
    --------
    >>> to_paid(Decimal("4.625"), currency="EUR"), to_paid(Decimal("0.035"), currency="EUR")
    (Decimal('4.62'), Decimal('0.04'))
    """
    return amount.quantize(minor_unit(currency), rounding=ROUND_HALF_EVEN)


def apportion(amounts: Sequence[Decimal], *, currency: str, total: Decimal | None = None) -> tuple[Decimal, ...]:
    """Each amount as printed, so that the printed ones add up to the printed total exactly.

    Parameters
    ----------
    amounts : sequence of Decimal
        Exact amounts, negative ones too.
    currency : str
        ISO 4217 code; its minor unit is the step.
    total : Decimal, optional
        What they add up to, in whole steps; their rounded sum where it is left out.

    Returns
    -------
    tuple of Decimal
        The steps that rounding down leaves over go to the largest remainders, the first of equal ones first. Where no
        total is given every printed amount differs from its exact one by less than one step.

    Examples
    --------
    >>> apportion([Decimal("0.005"), Decimal("0.005"), Decimal("0.005")], currency="EUR")
    (Decimal('0.01'), Decimal('0.01'), Decimal('0.00'))
    """
    if not amounts:
        return ()
    step = minor_unit(currency)
    floors = [amount.quantize(step, rounding=ROUND_FLOOR) for amount in amounts]
    target = to_paid(sum(amounts, ZERO), currency=currency) if total is None else total
    each, more = divmod(int((target - sum(floors, ZERO)) / step), len(amounts))
    by_remainder = sorted(range(len(amounts)), key=lambda index: floors[index] - amounts[index])
    raised = set(by_remainder[:more])
    return tuple(floor + step * (each + (index in raised)) for index, floor in enumerate(floors))


def to_base(amount: Decimal, *, currency: str | None, base: str, rates: Mapping[str, Decimal]) -> Decimal:
    """Amount in the base currency, not rounded.

    Parameters
    ----------
    amount : Decimal
        As quoted.
    currency : str or None
        Currency of the amount; None is the base.
    base : str
        Currency of the result.
    rates : mapping of str to Decimal
        The user's own table: what one unit of a currency is worth in the base.

    Raises
    ------
    DesignError
        Where there is no rate.
    """
    if currency is None or currency == base:
        return amount
    if currency not in rates:
        raise DesignError(
            f"an amount is in {currency} and the base currency is {base}, but [rates] has no {currency};"
            f" add {currency} = <what 1 {currency} is worth in {base}> with its date"
        )
    return amount * rates[currency]


def to_share(percent: Decimal) -> Decimal:
    """Percentage as a share of one."""
    return percent / HUNDRED


def to_plain(number: Decimal | int) -> str:
    """A number with all its digits and no exponent, trailing zeros dropped.

    Examples
    --------
    >>> to_plain(Decimal("0.1200")), to_plain(Decimal("1E+3")), to_plain(4000)
    ('0.12', '1000', '4000')
    """
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def to_price(price: Decimal) -> str:
    """A price as a working shows it: at most six decimals, marked where digits are dropped.

    Examples
    --------
    >>> to_price(Decimal("0.12")), to_price(Decimal(1) / Decimal(3))
    ('0.12', '0.333333..')
    """
    short = round(price, 6)
    return to_plain(short) if short == price else f"{to_plain(short)}.."
