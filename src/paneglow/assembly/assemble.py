"""The stage for what is built: polarity, building and bill, worked out once and handed on."""

from dataclasses import dataclass

from paneglow.assembly.bill import Bill, build_bill
from paneglow.assembly.building import Building, size_of, survey_building
from paneglow.assembly.polarity import build_polarity
from paneglow.assembly.polarity_records import Polarity
from paneglow.assembly.registration import check_registration
from paneglow.board import Board
from paneglow.catalog import Catalog
from paneglow.design import Design


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assembled:
    """How one board is built; none of it depends on the currents."""

    polarity: Polarity  # which way round every LED is, and how that is known
    building: Building  # who builds what, and what the lands reach
    bill: Bill  # what one board needs


def assemble(design: Design, *, board: Board, catalog: Catalog) -> Assembled:
    """Work out once how a board is built; cost, judge and report all take it from here.

    Parameters
    ----------
    design : Design
        Its rails, what legend marks mean, the cover behind the board.
    board : Board
        With its nets and placement.
    catalog : Catalog
        For the boards the user has timed.

    Raises
    ------
    DesignError
        Where a rail of the design cannot be.
    PlacementError
        Where the parts of the placement file miss their pads all alike.
    """
    board = board.soldered
    if design.board.placement is not None:
        check_registration(board, name=design.board.placement)
    building = survey_building(design, board=board, catalog=catalog)
    return Assembled(
        polarity=build_polarity(design, board=board),
        building=building,
        bill=build_bill(board.leds, ways=building.ways, placement=board.placement, size_mm=size_of(board.maps.outline)),
    )
