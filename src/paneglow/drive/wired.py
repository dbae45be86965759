"""A board before and after its circuit is solved, and after matching: the states in which its light is looked at."""

from dataclasses import dataclass

from paneglow.board import Board
from paneglow.catalog import Catalog
from paneglow.design import Design
from paneglow.drive.answer import (
    DriveAnswer,
    at_test_currents,
    current_source,
    light_of,
    relit_scene,
    solve_drive,
    with_point,
)
from paneglow.drive.lit import LitDrive, build_lights, light_drive
from paneglow.scene import Scene
from paneglow.transport import Tally


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WiredBoard:
    """A board and its solved circuit; `board` holds the currents of the design."""

    design: Design  # The design
    board: Board  # The board
    drive: DriveAnswer | None  # None where nothing is wired

    @property
    def by_circuit(self) -> bool:
        """Whether currents come from a circuit, as wired or as matched."""
        return current_source(self.design) != "design"

    @property
    def used_drive(self) -> DriveAnswer | None:
        """The solved circuit, where currents come from it."""
        return self.drive if self.by_circuit else None

    @property
    def traced_board(self) -> Board:
        """The board with every wired LED at its test current, so that none is dark while light is traced."""
        return at_test_currents(self.board, design=self.design)

    @property
    def light_frac(self) -> dict[str, float]:
        """Light of every wired LED by ref, over that at its test current."""
        return {} if self.used_drive is None else light_of(self.used_drive.point)

    @property
    def present_board(self) -> Board:
        """The board at the currents that flow as it is wired."""
        return self.board if self.used_drive is None else with_point(self.board, point=self.used_drive.point)

    def present_scene(self, scene: Scene) -> Scene:
        """The scene of the traced board with the light of the present one."""
        return relit_scene(scene, board=self.traced_board, light_frac=self.light_frac)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoardState:
    """A board and its scene at the same currents."""

    board: Board  # The board
    scene: Scene  # Geometry and coefficients that were traced


def wire_up(design: Design, *, board: Board) -> WiredBoard:
    """A board with its circuit solved.

    Raises
    ------
    DesignError
        If the circuit cannot be wired as it is written.
    """
    return WiredBoard(design=design, board=board, drive=solve_drive(design, board=board))


def drive_states(
    wired: WiredBoard, *, scene: Scene, tally: Tally, catalog: Catalog
) -> tuple[LitDrive, BoardState, BoardState | None]:
    """The drive, the state that is judged, and the one before or after matching to compare it with.

    Parameters
    ----------
    wired : WiredBoard
    scene, tally : Scene, Tally
        Of its traced board.
    catalog : Catalog
    """
    lights = build_lights(wired.traced_board, scene=scene, tally=tally, light_frac=wired.light_frac)
    lit = light_drive(wired.design, board=wired.present_board, catalog=catalog, drive=wired.drive, lights=lights)
    before = BoardState(board=wired.present_board, scene=wired.present_scene(scene))
    if lit.match is None:
        return lit, before, None
    point = lit.match.drive.point
    after = BoardState(
        board=with_point(wired.board, point=point),
        scene=relit_scene(scene, board=wired.traced_board, light_frac=light_of(point)),
    )
    return (lit, after, before) if lit.currents == "matching" else (lit, before, after)
