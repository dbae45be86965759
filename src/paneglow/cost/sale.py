"""Selling: what is left of a price, and the price that leaves what is wanted.

The buyer pays a gross amount, tax and postage inside. Fees in percent are taken of that gross amount, tax and all, so
neither tax nor fees can be put on top of a cost: the price is solved from what must be left. Of the pieces sold a share
comes back: the gross amount and the fees in percent are refunded, fixed fees and postage are not; some returned pieces
are sold again.
"""

from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from pydantic import Field

from paneglow.cost.money import HUNDRED, ZERO, apportion, minor_unit, to_paid, to_plain
from paneglow.cost.records import CostFile, RangedNumber, Way
from paneglow.errors import RangeError
from paneglow.units import Record


@dataclass(frozen=True, slots=True, kw_only=True)
class FeeTerms:
    """One fee in the base currency."""

    name: str
    fixed: Decimal
    share: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class SaleTerms:
    """How pieces are sold, in the base currency; shares of one."""

    fees: tuple[FeeTerms, ...] = ()
    vat: Decimal = ZERO
    postage_charged: Decimal = ZERO
    postage_paid: Decimal = ZERO
    returned: Decimal = ZERO
    return_cost: Decimal = ZERO
    resold: Decimal = ZERO

    @property
    def kept(self) -> Decimal:
        """Share of the pieces sold that stay with the buyer."""
        return 1 - self.returned

    @property
    def fee_share(self) -> Decimal:
        """All fees in percent of the gross amount."""
        return sum((fee.share for fee in self.fees), ZERO)

    @property
    def per_sale(self) -> Decimal:
        """What every sale costs whatever the price: fixed fees, postage, the share of returns."""
        fixed = sum((fee.fixed for fee in self.fees), ZERO)
        return fixed + self.postage_paid + self.returned * self.return_cost

    @property
    def pieces_per_sale(self) -> Decimal:
        """Pieces that one sale uses up: returned ones that are sold again are used up once, by their last buyer."""
        return 1 - self.returned * self.resold


class SaleLine(Record):
    """One step from what the buyer pays to what is left."""

    what: str = Field(description="What comes in or goes out.")
    working: str = Field(description="How the amount comes about.")
    amount: Decimal = Field(description="Per piece sold, as printed; negative where it goes out.")


class SaleResult(Record):
    """What is left of a price, per piece sold."""

    way: Way = Field(description="Way to build.")
    good: int = Field(description="Good pieces of the run.")
    price: Decimal = Field(description="What the buyer pays for the piece, tax inside.")
    lines: tuple[SaleLine, ...] = Field(description="From gross amount to profit; they add up to it.")
    profit: Decimal = Field(description="Profit of a piece sold, leftovers charged to the run.")
    margin_percent: Decimal = Field(description="That profit as a share of the takings without tax [%].")
    profit_carried: Decimal = Field(description="Profit of a piece sold, leftovers carried to a later run.")
    margin_percent_carried: Decimal = Field(description="That profit as a share of the takings without tax [%].")


def build_terms(costs: CostFile) -> SaleTerms:
    """The sale of a cost file in the base currency; nothing is charged where there is none."""
    sale = costs.sale
    if sale is None:
        return SaleTerms()

    def money(figure: RangedNumber) -> Decimal:
        return costs.in_base(figure, table=sale)

    return SaleTerms(
        fees=tuple(
            FeeTerms(name=fee.name, fixed=costs.in_base(fee.fixed, table=fee), share=fee.percent.share)
            for fee in costs.fee
        ),
        vat=sale.vat_percent.share,
        postage_charged=money(sale.postage_charged),
        postage_paid=money(sale.postage_paid),
        returned=sale.return_percent.share,
        return_cost=money(sale.return_cost),
        resold=sale.resold_percent.share,
    )


def takings(price: Decimal, *, terms: SaleTerms) -> Decimal:
    """Takings of one sale without tax, refunds off, exact."""
    return terms.kept * (price + terms.postage_charged) / (1 + terms.vat)


def contribution(price: Decimal, *, terms: SaleTerms) -> Decimal:
    """What one sale leaves before the cost of the piece, exact."""
    gross = price + terms.postage_charged
    return takings(price, terms=terms) - terms.kept * gross * terms.fee_share - terms.per_sale


def profit(price: Decimal, *, unit: Decimal, terms: SaleTerms) -> Decimal:
    """What one sale leaves, exact.

    Parameters
    ----------
    price : Decimal
        What the buyer pays for the piece, tax inside.
    unit : Decimal
        Cost of one piece.
    terms : SaleTerms
        Tax, fees, postage and returns.

    Examples
    --------
    >>> fee = FeeTerms(name="all", fixed=Decimal("0.45"), share=Decimal("0.095"))
    >>> profit(Decimal(12), unit=Decimal(6), terms=SaleTerms(fees=(fee,), vat=Decimal("0.2")))
    Decimal('2.410')
    """
    return contribution(price, terms=terms) - unit * terms.pieces_per_sale


def price_for_margin(margin: Decimal, *, unit: Decimal, terms: SaleTerms, currency: str) -> Decimal:
    """Lowest price that leaves a margin, in whole minor units.

    Parameters
    ----------
    margin : Decimal
        Wanted profit as a share of the takings without tax, at least 0.
    unit : Decimal
        Cost of one piece.
    terms : SaleTerms
        Tax, fees, postage and returns.
    currency : str
        Base currency; the price is rounded up to its minor unit.

    Raises
    ------
    RangeError
        Where tax, fees and margin take everything, so that no price would do.

    Notes
    -----
    kept gross (1/(1+vat) - fees) - per sale - piece = margin kept gross/(1+vat), solved for gross.
    """
    left = terms.kept * ((1 - margin) / (1 + terms.vat) - terms.fee_share)
    if terms.kept == 0:
        raise RangeError("no price leaves anything: all pieces come back and are refunded; correct return_percent")
    if left <= 0:
        taken = HUNDRED * terms.fee_share * (1 + terms.vat)
        of_fees = " and ".join(f"{fee.name} {to_plain(HUNDRED * fee.share)} %" for fee in terms.fees if fee.share)
        fees = f"fees ({of_fees} of what the buyer pays) take {to_plain(round(taken, 2))} % of the takings without tax"
        raise RangeError(
            f"a margin of {to_plain(HUNDRED * margin)} % cannot be reached at any price:"
            f" {fees if of_fees else 'a margin is a share of the takings without tax'}, so a margin stays below"
            f" {to_plain(round(HUNDRED - taken, 2))} % even of a piece that costs nothing"
        )
    gross = (terms.per_sale + unit * terms.pieces_per_sale) / left
    return (gross - terms.postage_charged).quantize(minor_unit(currency), rounding=ROUND_CEILING)


def build_sale(
    price: Decimal, *, unit: Decimal, unit_carried: Decimal, terms: SaleTerms, way: Way, good: int, currency: str
) -> SaleResult:
    """What is left of a price, line by line, leftovers charged to the run; and the profit with them carried.

    Parameters
    ----------
    price, unit, terms
        As for `profit`; `unit` charges leftovers to the run.
    unit_carried : Decimal
        Cost of one piece with leftovers carried to a later run.
    way : {"hand", "mixed", "service"}
        Way to build.
    good : int
        Good pieces of the run.
    currency : str
        Base currency: amounts are printed in its minor unit.
    """
    steps = _steps(price, unit=unit, terms=terms)
    left, left_carried = (profit(price, unit=each, terms=terms) for each in (unit, unit_carried))
    printed = apportion([amount for _, _, amount in steps], currency=currency, total=to_paid(left, currency=currency))
    net = takings(price, terms=terms)
    return SaleResult(
        way=way,
        good=good,
        price=to_paid(price, currency=currency),
        lines=tuple(
            SaleLine(what=what, working=working, amount=amount)
            for (what, working, _), amount in zip(steps, printed, strict=True)
        ),
        profit=to_paid(left, currency=currency),
        margin_percent=round(HUNDRED * left / net, 2) if net else ZERO,
        profit_carried=to_paid(left_carried, currency=currency),
        margin_percent_carried=round(HUNDRED * left_carried / net, 2) if net else ZERO,
    )


def _steps(price: Decimal, *, unit: Decimal, terms: SaleTerms) -> list[tuple[str, str, Decimal]]:
    """What comes in and goes out of one sale: name, working, exact amount; zeros are left out."""
    gross = price + terms.postage_charged
    share, kept = (to_plain(HUNDRED * part) for part in (terms.returned, terms.kept))
    of_kept = f"{to_plain(gross)}" if terms.kept == 1 else f"{kept} % of {to_plain(gross)}"
    vat = to_plain(HUNDRED * terms.vat)
    steps = [
        ("price", "the buyer pays, tax inside", price),
        ("postage charged", "the buyer pays, tax inside", terms.postage_charged),
        ("refunds", f"{share} % of {to_plain(gross)}", -terms.returned * gross),
        (
            "tax",
            f"{vat}/{to_plain(HUNDRED + HUNDRED * terms.vat)} of {of_kept}",
            takings(price, terms=terms) - terms.kept * gross,
        ),
    ]
    for fee in terms.fees:
        percent = f"{to_plain(HUNDRED * fee.share)} % of {of_kept}"
        steps += [
            (f"{fee.name} fee", percent, -terms.kept * gross * fee.share),
            (f"{fee.name} fee, fixed", "per sale", -fee.fixed),
        ]
    resold = terms.returned * terms.resold
    steps += [
        ("postage paid", "per sale", -terms.postage_paid),
        ("returns", f"{share} % x {to_plain(terms.return_cost)}", -terms.returned * terms.return_cost),
        ("piece", "its cost, leftovers charged", -unit),
        ("sold again", f"{to_plain(HUNDRED * resold)} % of the cost", unit * resold),
    ]
    return [step for step in steps if step[2]]
