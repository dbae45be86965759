"""Single charges of a run, each exact and with its working, so that it can be done again by hand."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Group = Literal["boards", "parts", "leftovers", "assembly", "labour", "packaging", "once"]
GROUPS: tuple[Group, ...] = ("boards", "parts", "assembly", "labour", "packaging", "once", "leftovers")
Kind = Literal["variable", "fixed", "leftover"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """One charge: `fixed` does not grow with the run, `leftover` buys what the run does not use."""

    group: Group
    what: str
    working: str
    kind: Kind
    amount: Decimal
    minutes: Decimal = Decimal(0)  # of own work


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
