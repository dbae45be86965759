"""What a cost file holds, as frozen records: exact numbers with their ranges, and where and when each was read.

Amounts are in the currency their table states, else in the base one.
"""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Annotated, Any, ClassVar, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from paneglow.cost.money import HUNDRED, ONE, ZERO, to_base, to_plain, to_share
from paneglow.design import Mounting
from paneglow.units import PositiveFloat, Record

Way = Literal["hand", "mixed", "service"]
LOOSE = "loose"  # the form that needs no word
WAYS: tuple[Way, ...] = ("hand", "mixed", "service")
WAY_WORDS: dict[Way, str] = {"hand": "all by hand", "mixed": "mixed", "service": "assembly service"}
DefectModel = Literal["independent", "poisson", "murphy", "seeds"]
LearningModel = Literal["unit", "cumulative-average"]
Per = Literal["run", "board", "led", "part", "joint", "glue"]
PER_BOARD: Per = "board"
SOLDERING: frozenset[Per] = frozenset(("led", "part", "joint", "glue"))  # what minutes per board may hold
Pieces = Annotated[int, Field(ge=0, le=100_000_000)]
PiecesAtLeastOne = Annotated[int, Field(ge=1, le=100_000_000)]
Word = Annotated[str, Field(min_length=1, max_length=80)]
CostOrigin = Literal["quote", "invoice", "own-timing", "assumed"]
Currency = Annotated[str, Field(pattern=r"^[A-Z]{3}$", description="ISO 4217 code.")]


def _to_decimal(value: Any) -> Any:
    """A whole number as Decimal; true and false stay what they are and are refused."""
    return Decimal(value) if isinstance(value, int) and not isinstance(value, bool) else value


Number = Annotated[Decimal, BeforeValidator(_to_decimal), Field(allow_inf_nan=False)]
NonNegative = Annotated[Number, Field(ge=0)]
Positive = Annotated[Number, Field(gt=0)]


class RangedNumber(Record):
    """An exact number at least 0, and the range it may lie in."""

    value: NonNegative = Field(description="The number that results are computed with.")
    low: NonNegative | None = Field(default=None, description="Lower end of its range; the value itself where absent.")
    high: NonNegative | None = Field(default=None, description="Upper end of its range; the value itself where absent.")

    @model_validator(mode="after")
    def _check_range(self) -> "RangedNumber":
        if not self.lowest <= self.value <= self.highest:
            raise ValueError(f"value {self.value} must lie between low {self.lowest} and high {self.highest}")
        return self

    @property
    def lowest(self) -> Decimal:
        """Lower end of the range."""
        return self.value if self.low is None else self.low

    @property
    def highest(self) -> Decimal:
        """Upper end of the range."""
        return self.value if self.high is None else self.high

    @property
    def ranged(self) -> bool:
        """Whether the range is wider than the value."""
        return self.lowest < self.highest

    @property
    def share(self) -> Decimal:
        """A percentage as a share of one."""
        return to_share(self.value)


def _to_figure(value: Any) -> Any:
    """A bare number is a figure without a range."""
    return value if isinstance(value, Mapping | RangedNumber) else {"value": value}


def _check_percent(figure: RangedNumber) -> RangedNumber:
    if figure.highest > HUNDRED:
        raise ValueError(f"is {figure.highest} percent; allowed is 0 to 100")
    return figure


Amount = Annotated[RangedNumber, BeforeValidator(_to_figure)]  # in the currency that its table states
Percent = Annotated[RangedNumber, BeforeValidator(_to_figure), AfterValidator(_check_percent)]
NOTHING = RangedNumber(value=Decimal(0))


class Dated(Record):
    """What every table of a cost file says about all of its numbers."""

    origin: CostOrigin = Field(description="How the numbers are known.")
    dated: date = Field(description="Day of the quote, invoice or timing, or when it was assumed.")
    source: str = Field(min_length=3, description="Which quote, invoice or timing, or why it was assumed.")

    decided: ClassVar[frozenset[str]] = frozenset()  # figures that somebody decides, so that they need no range

    @model_validator(mode="after")
    def _check_ranges(self) -> "Dated":
        if self.origin == "assumed":
            named = [(name, figure) for name, figure in figures_of(self) if name not in self.decided]
            bare = [name for name, figure in named if figure.value and not figure.ranged]
            if bare:
                raise ValueError(f"{bare[0]} is assumed and has no range; write {{ value = , low = , high = }}")
        return self


def figures_of(record: Record) -> list[tuple[str, RangedNumber]]:
    """Names and figures that stand directly in a record."""
    return [(name, value) for name, value in record if isinstance(value, RangedNumber)]


class Rates(Dated):
    """The one conversion table of the user's own."""

    worth: dict[Currency, Positive] = Field(description="What one unit of each currency is worth in the base currency.")


class PriceBreak(Record):
    """One step of an offer: the price of a piece from so many pieces on."""

    at: PiecesAtLeastOne = Field(description="Pieces from which the price holds.")
    each: NonNegative = Field(description="Price of one piece.")


class Offer(Dated):
    """What a supplier asks for one item, in one form."""

    item: Word = Field(description="Order code of the design, value of the placement file, or name of an [[item]].")
    supplier: Word = Field(description="Who asks it; neutral words will do.")
    form: Word = Field(default=LOOSE, description="How it comes: loose, cut strip, reel.")
    minimum: PiecesAtLeastOne = Field(default=1, description="Fewest pieces sold.")
    pack: PiecesAtLeastOne = Field(default=1, description="Pieces come in whole packs of this many.")
    leader: Pieces = Field(default=0, description="Pieces lost on the leader of a strip or reel.")
    leader_per: Literal["pack", "purchase"] | None = Field(
        default=None,
        description="Whether every pack has a leader or the whole purchase one; every pack where the form is a reel.",
    )
    order_fee: Amount = Field(default=NOTHING, description="Once per purchase: reeling, set-up, tooling.")
    price_breaks: tuple[PriceBreak, ...] = Field(min_length=1, description="Price of a piece, quantities rising.")
    price_factor: Amount = Field(
        default=RangedNumber(value=Decimal(1)),
        description="Factor on all prices; its range says how far they may move.",
    )
    currency: Currency | None = Field(default=None, description="Of this table; the base currency where absent.")

    @property
    def leader_on_every_pack(self) -> bool:
        """Whether each pack loses its leader: a reel does, a strip cut in one piece does once."""
        return self.leader_per == "pack" if self.leader_per is not None else "reel" in self.form.lower()


class BoardOffer(Offer):
    """What a board house asks for the bare board of one size and finish."""

    item: Literal["board"] = "board"  # The bare board
    size_mm: tuple[PositiveFloat, PositiveFloat] = Field(description="Greatest board the prices hold for [mm].")
    finish: Word = Field(description="Surface finish.")


class Supplier(Dated):
    """What an order at one supplier costs beside the goods."""

    name: Word = Field(description="As offers name it.")
    postage: Amount = Field(default=NOTHING, description="Per order.")
    duty_percent: Percent = Field(default=NOTHING, description="Import duty and charges on the goods [%].")
    currency: Currency | None = Field(default=None, description="Of this table; the base currency where absent.")


class Stock(Dated):
    """Pieces already on hand, used first."""

    item: Word = Field(description="As offers name it.")
    pieces: Pieces = Field(description="How many.")
    each: Amount = Field(description="What one of them cost.")
    currency: Currency | None = Field(default=None, description="Of this table; the base currency where absent.")


class ExtraItem(Record):
    """Something each piece needs that is not in the placement file."""

    name: Word = Field(description="As offers name it.")
    per_piece: PiecesAtLeastOne = Field(default=1, description="How many per finished piece.")
    packaging: bool = Field(default=False, description="Needed for good pieces only, not for rejected boards.")
    joints: Pieces = Field(default=0, description="Solder joints, made by hand.")


class Assembly(Dated):
    """The fee scheme of an assembly service."""

    setup_per_side: Amount = Field(default=NOTHING, description="Per run and side with parts.")
    stencil_per_side: Amount = Field(default=NOTHING, description="Per run and side with parts.")
    per_joint: Amount = Field(default=NOTHING, description="Per solder joint made by machine.")
    per_part_type: Amount = Field(default=NOTHING, description="Per run and part type that the service does not stock.")
    stocked: tuple[Word, ...] = Field(default=(), description="Part types the service stocks.")
    floor_per_board: Amount = Field(default=NOTHING, description="Minimum charge for placing one board.")
    second_side_percent: Percent = Field(
        default=NOTHING, description="Added to joints where both sides have parts [%]."
    )
    hand_setup: Amount = Field(default=NOTHING, description="Per run with hand-soldered extras.")
    hand_per_joint: Amount = Field(default=NOTHING, description="Per joint soldered by hand at the service.")
    own_parts_percent: Percent = Field(default=NOTHING, description="On the value of parts the customer supplies [%].")
    own_parts_least: Amount = Field(
        default=NOTHING, description="Minimum charge for handling parts the customer supplies."
    )
    spares_percent: Percent = Field(default=NOTHING, description="Spares of each part that the service asks for [%].")
    spares_least: Pieces = Field(default=0, description="Fewest spares of each part.")
    minimum_boards: PiecesAtLeastOne = Field(default=1, description="Fewest boards the service takes.")
    currency: Currency | None = Field(default=None, description="Of this table; the base currency where absent.")


class Labour(Dated):
    """What an hour of own work costs."""

    rate_per_hour: Amount = Field(description="Per hour.")
    overhead_percent: Percent = Field(default=NOTHING, description="Rent, tools and the like, on labour [%].")
    currency: Currency | None = Field(default=None, description="Of this table; the base currency where absent.")


class Operation(Dated):
    """Own minutes for one thing done."""

    name: Word = Field(description="What is done.")
    per: Per = Field(description="What the minutes are for; led, part, joint and glue count only what own hands do.")
    mounting: Mounting | None = Field(default=None, description="Only LEDs of this style.")
    minutes: Amount = Field(description="Minutes of the first one, or of each where nothing is learned.")
    solders: bool | None = Field(
        default=None,
        description="Only per board: these minutes hold all soldering and glue by own hands, so that none is added;"
        " where absent they do if the file counts no minutes of LEDs, parts, joints or glue itself.",
    )
    ways: tuple[Way, ...] = Field(default=WAYS, description="Ways to build in which it is done.")
    learning_percent: Percent | None = Field(
        default=None, description="Share of the time that remains each time the count of boards doubles [%]."
    )
    learning_model: LearningModel = Field(
        default="unit", description="unit: the time of the doubled piece; cumulative-average: the mean up to it."
    )
    learned: Pieces = Field(default=0, description="Boards already made when the run starts.")


class ProcessYield(Dated):
    """How much of a run turns out well, for one way to build."""

    way: Way = Field(description="Way to build.")
    good_percent: Percent | None = Field(default=None, description="Boards good at the first test [%].")
    joint_defects_ppm: Amount | None = Field(default=None, description="Bad joints in a million, instead [ppm].")
    defect_model: DefectModel = Field(default="independent", description="How bad joints are spread over boards.")
    rework_percent: Percent = Field(default=NOTHING, description="Share of the others that rework saves [%].")
    rework_minutes: Amount = Field(default=NOTHING, description="Own minutes per board reworked.")
    attrition_percent: Percent = Field(default=NOTHING, description="Parts lost or spoilt while placing [%].")


class OneOff(Dated):
    """Money spent once, whatever the run: a coupon, a jig, a test."""

    name: Word = Field(description="What it is.")
    amount: Amount = Field(description="Once.")
    currency: Currency | None = Field(default=None, description="Of this table; the base currency where absent.")


class Fee(Dated):
    """One fee on a sale."""

    name: Word = Field(description="What it is.")
    fixed: Amount = Field(default=NOTHING, description="Per piece sold.")
    percent: Percent = Field(default=NOTHING, description="Of all that the buyer pays: price with tax and postage [%].")
    currency: Currency | None = Field(default=None, description="Of this table; the base currency where absent.")


class Sale(Dated):
    """How a piece is sold; prices are what the buyer pays, tax inside."""

    decided: ClassVar[frozenset[str]] = frozenset(("price", "margin_percent", "vat_percent", "postage_charged"))

    price: Amount | None = Field(default=None, description="Asked for one piece, tax inside.")
    margin_percent: Percent | None = Field(
        default=None, description="Wanted profit as a share of the price without tax [%]."
    )
    vat_percent: Percent = Field(default=NOTHING, description="Tax inside the price [%]; 0 where none is charged.")
    postage_charged: Amount = Field(default=NOTHING, description="Postage that the buyer pays, tax inside.")
    postage_paid: Amount = Field(default=NOTHING, description="Postage that the seller pays.")
    return_percent: Percent = Field(default=NOTHING, description="Pieces that come back and are refunded [%].")
    return_cost: Amount = Field(default=NOTHING, description="Handling and postage of one return.")
    resold_percent: Percent = Field(default=NOTHING, description="Returned pieces that can be sold again [%].")
    below_cost_reason: str = Field(default="", description="Written reason for a price below variable cost.")
    currency: Currency | None = Field(default=None, description="Of this table; the base currency where absent.")


class DemandStep(Record):
    """One possible demand."""

    pieces: Pieces = Field(description="Pieces that would be bought.")
    weight: Positive = Field(description="How likely, relative to the other steps.")


class Demand(Dated):
    """How many pieces may find a buyer: steps, or a normal or uniform spread."""

    mean: Positive | None = Field(default=None, description="Mean of a normal spread [pieces].")
    sd: Positive | None = Field(default=None, description="Standard deviation of a normal spread [pieces].")
    least: NonNegative | None = Field(default=None, description="Lower end of a uniform spread [pieces].")
    most: Positive | None = Field(default=None, description="Upper end of a uniform spread [pieces].")
    step: tuple[DemandStep, ...] = Field(default=(), description="Possible demands with their weights.")
    salvage: Amount = Field(default=NOTHING, description="What a piece brings that finds no buyer, after all costs.")
    currency: Currency | None = Field(default=None, description="Of this table; the base currency where absent.")


class Swap(Record):
    """LEDs of one order code replaced by another code, mounted in its own way."""

    part: Word = Field(description="Order code in the design.")
    by: Word = Field(description="Order code instead.")
    mounting: Mounting = Field(description="Mounting style instead.")


class Option(Record):
    """A version of the piece to set beside the design: another design file, or the same with LEDs replaced."""

    name: Word = Field(description="What it is called.")
    design: str | None = Field(default=None, description="Its design file, relative to the cost file.")
    swap: tuple[Swap, ...] = Field(default=(), description="LEDs replaced, where it has no design file of its own.")
    results: str | None = Field(default=None, description="results.json of its light, relative to the cost file.")


class Build(Record):
    """How the piece is built and sold, as far as no money is in it."""

    finish: Word | None = Field(default=None, description="Surface finish of the board; the only one where absent.")
    confidence_percent: Number = Field(
        default=Decimal(95), ge=50, lt=100, description="How sure it must be that parts and boards suffice [%]."
    )
    ways: tuple[Way, ...] = Field(default=WAYS, min_length=1, description="Ways to compare, the usual one first.")
    joints: dict[Word, PiecesAtLeastOne] = Field(default_factory=dict, description="Joints of a part that has not two.")


class CostFile(Record):
    """One cost file, with what it leaves open taken from the assumed ranges of the catalogue."""

    currency: Currency = Field(description="Base currency: everything is converted to it and shown in it.")
    build: Build = Field(default=Build(), description="How the piece is built, as far as no money is in it.")
    rates: Rates | None = Field(default=None, description="The conversion table, where other currencies occur.")
    board: tuple[BoardOffer, ...] = Field(default=(), description="Offers for the bare board.")
    offer: tuple[Offer, ...] = Field(default=(), description="Offers for parts and items.")
    supplier: tuple[Supplier, ...] = Field(default=(), description="Postage and duty of suppliers.")
    stock: tuple[Stock, ...] = Field(default=(), description="Pieces on hand.")
    item: tuple[ExtraItem, ...] = Field(default=(), description="What each piece needs beside the placed parts.")
    assembly: Assembly | None = Field(default=None, description="Fee scheme of the assembly service.")
    labour: Labour | None = Field(default=None, description="What own work costs.")
    operation: tuple[Operation, ...] = Field(default=(), description="Own minutes.")
    process_yield: tuple[ProcessYield, ...] = Field(
        default=(), description="Yield, rework and attrition by way to build."
    )
    one_off: tuple[OneOff, ...] = Field(default=(), description="Money spent once.")
    sale: Sale | None = Field(default=None, description="How a piece is sold.")
    fee: tuple[Fee, ...] = Field(default=(), description="Fees on a sale.")
    demand: Demand | None = Field(default=None, description="How many may find a buyer.")
    option: tuple[Option, ...] = Field(default=(), description="Versions to set beside the design.")

    def rate_of(self, table: Record) -> Decimal:
        """What one unit of a table's currency is worth in the base currency."""
        worth = {} if self.rates is None else self.rates.worth
        return to_base(ONE, currency=getattr(table, "currency", None), base=self.currency, rates=worth)

    def in_base(self, figure: RangedNumber, *, table: Record) -> Decimal:
        """A figure of a table in the base currency, not rounded."""
        return self.rate_of(table) * figure.value

    def terms_of(self, table: Record, *, duty: Decimal = ZERO, factor: Decimal = ONE) -> str:
        """What stands behind an amount as quoted, in words: a currency that is not the base one, a price factor, duty.

        Parameters
        ----------
        table : Record
            Whose currency it is.
        duty, factor : Decimal
            Share of duty, and factor on the price.
        """
        currency = getattr(table, "currency", None)
        foreign = "" if currency in (None, self.currency) else f" {currency}"
        moved = "" if factor == 1 else f" x {to_plain(factor)} (price factor)"
        return f"{foreign}{moved}{f' + {to_plain(100 * duty)} % duty' if duty else ''}"

    def in_words(self, figure: RangedNumber, *, table: Record) -> str:
        """A figure of a table as it was quoted, with its currency where that is not the base one."""
        return f"{to_plain(figure.value)}{self.terms_of(table)}"
