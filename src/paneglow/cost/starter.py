"""A cost file to start from, where a design has none: everything its board needs, at assumed ranges to be replaced."""

import json
from datetime import date
from decimal import Decimal
from math import ceil

from paneglow.assembly import Bill
from paneglow.cost.read import read_assumed

STARTER_CURRENCY = "EUR"  # to be replaced; the ranges hold for it as little as for any other
SOURCE = "assumed range, no quote: ask, and write the price with its date and where it comes from"


def starter_text(bill: Bill, *, name: str, on: date, cell_holder: bool) -> str:
    """Text of a cost.toml that holds a price for everything one board needs.

    Parameters
    ----------
    bill : Bill
        What one board needs.
    name : str
        Of the design.
    on : date
        Day the ranges are written down.
    cell_holder : bool
        Whether each piece needs a holder for its cell.

    Returns
    -------
    str
        A file that `read_costs` takes; every number is assumed and has a range.
    """
    assumed = read_assumed()["starter"]
    stamp = f'origin = "assumed"\ndated = {on}\nsource = "{SOURCE}"\n'

    def offer(item: str, *, kind: str) -> str:
        return (
            f"[[offer]]\nitem = {json.dumps(item, ensure_ascii=False)}\n"
            f'supplier = "parts shop"\n{_prices(assumed[kind])}{stamp}'
        )

    sides = ", ".join(str(ceil(side)) for side in bill.size_mm)
    kinds = {row.item: "part" if row.mounting is None else "led" for row in bill.rows}
    rate = assumed["rate_per_hour"]
    head = (
        f"What {json.dumps(name, ensure_ascii=False)[1:-1]} costs, written by paneglow cost since there was no file.",
        "Every number is an assumed range with no authority: replace it by your own quote, invoice or timing, with its",
        "date. docs/cost.md shows a whole file; what is left out (assembly fees, minutes, yields) is assumed as well.",
    )
    parts = [
        "".join(f"# {line}\n" for line in head) + f'currency = "{STARTER_CURRENCY}"  # your own, by its ISO code\n',
        f'[[board]]\nsupplier = "board house"\nsize_mm = [{sides}]\nfinish = "any"\n{_prices(assumed["board"])}{stamp}',
        *(offer(item, kind=kind) for item, kind in kinds.items()),
    ]
    if cell_holder:
        parts += ['[[item]]\nname = "cell holder"\njoints = 2\n', offer("cell holder", kind="item")]
    parts.append(
        f"[labour]\nrate_per_hour = {{ value = {rate['value']}, low = {rate['low']}, high = {rate['high']} }}\n{stamp}"
    )
    parts.append(
        "# [sale]                # what is left of a price, and the price for a margin\n"
        "# price = 20            # what the buyer pays, tax inside\n"
        "# margin_percent = 30\n"
        "# vat_percent = 20      # tax inside the price; 0 where none is charged\n"
        f'# origin = "assumed"\n# dated = {on}\n# source = "my own price"\n'
    )
    return "\n".join(parts)


def _prices(assumed: dict[str, Decimal]) -> str:
    value, low, high = (Decimal(assumed[end]) for end in ("value", "low", "high"))
    factors = f"{{ value = 1, low = {low / value:.3g}, high = {high / value:.3g} }}"
    return f"price_breaks = [{{ at = 1, each = {value} }}]\nprice_factor = {factors}\n"
