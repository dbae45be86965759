"""One design evaluated: every stage's record side by side, and how it was made."""

from dataclasses import dataclass
from typing import Annotated, Literal

import numpy as np
import numpy.typing as npt
from pydantic import Field

from paneglow.assembly import Assembled
from paneglow.board import Board
from paneglow.catalog import Catalog
from paneglow.design import Design
from paneglow.drive import DriveResults
from paneglow.judge import Verdict
from paneglow.look import Look, Pictures
from paneglow.results.cost import CostResults
from paneglow.results.references import ModelReference
from paneglow.scene import Scene
from paneglow.transport import Tally
from paneglow.units import NonNegativeFloat, Record

Quality = Literal["draft", "normal", "fine"]
Device = Literal["auto", "cpu", "cuda"]


class StageTime(Record):
    """How long one stage took."""

    stage: str  # Step of the work
    seconds: NonNegativeFloat  # Time it took


class Provenance(Record):
    """How a result came about, so that it can be made again."""

    version: str = Field(description="Version of paneglow.")
    design_sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")] = Field(
        description="Over the design, its fabrication and placement files and its own parts, names included."
    )
    seed: int = Field(description="Seed of the light tracing; the same seed gives the same numbers.")
    quality: Quality  # How finely the light was traced
    photons: int = Field(description="Photons traced in all.")
    device: str  # What traced the light
    stages: tuple[StageTime, ...]  # Time of every step
    references: tuple[ModelReference, ...] = Field(description="Published sources of the models used.")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evaluation:
    """Everything one run of the chain made, in the order it was made."""

    design: Design  # The design
    catalog: Catalog  # Parts, laminates, coats and surfaces that can be named
    board: Board  # The board
    assembled: Assembled  # how the board is built
    scene: Scene  # Geometry and coefficients that were traced
    tally: Tally  # Light of every LED, per emitted lumen
    look: Look  # What the eye sees
    pictures: Pictures  # The four pictures
    verdict: Verdict  # Goals, findings and cautions
    provenance: Provenance  # What produced the result
    drive: DriveResults | None = None  # What drives the LEDs, how long it lasts, and the match
    other_picture: npt.NDArray[np.uint8] | None = None  # [y, x, 3]: before matching where lit as matched, else after it
    cost: CostResults | None = None  # where a cost file lies beside the design
    provisional: tuple[str, ...] = ()  # assumptions of a design that was drafted from fabrication files alone
