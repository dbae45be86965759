"""Objects being collected: the image itself, step-repeat blocks and aperture blocks, with limits on their growth."""

from dataclasses import dataclass, field
from typing import Literal

from paneglow.errors import GerberError
from paneglow.fab.curves import Similarity
from paneglow.fab.drawing import FlashMark, Mark, RegionMark, Shape, StrokeMark, moved_mark
from paneglow.fab.gerber_numbers import parse_decimal

MAX_SEGMENTS = 2_000_000  # flashes, stroke segments and region segments of one file; the wild's largest has 0.1 million
MAX_NESTING = 20  # aperture blocks inside each other; the wild has 2
MAX_REPEATS = 100_000  # copies of one step-repeat


@dataclass(slots=True, kw_only=True)
class Frame:
    """One level of collecting; not a record: it grows while its block is read."""

    kind: Literal["image", "step-repeat", "block"]
    offsets_mm: tuple[tuple[float, float], ...] = ()  # where a step-repeat puts its copies
    aperture: int = 0  # the D number that an aperture block will have
    objects: list[Mark] = field(default_factory=list)
    weight: int = 0

    def add(self, mark: Mark) -> None:
        """Take one more object.

        Raises
        ------
        GerberError
            Beyond the limit on the size of a drawing.
        """
        self.objects.append(mark)
        self.grow(weight_of(mark))

    def grow(self, by: int) -> None:
        """Count segments that are about to be added."""
        self.weight += by
        if self.weight > MAX_SEGMENTS:
            raise GerberError(f"the file draws more than {MAX_SEGMENTS} segments, step-repeat and blocks included")

    def extend(self, block: "Frame", *, transforms: list[Similarity], invert: bool = False) -> None:
        """Take copies of another frame's objects, copy by copy, checking the limit before any is made."""
        self.grow(block.weight * len(transforms))
        shapes: dict[tuple[int, Similarity], Shape] = {}
        for transform in transforms:
            self.objects.extend(
                moved_mark(mark, transform=transform, shapes=shapes, invert=invert) for mark in block.objects
            )


def weight_of(mark: Mark) -> int:
    """Segments of one object; 1 for a flash."""
    if isinstance(mark, FlashMark):
        return 1
    if isinstance(mark, StrokeMark):
        return len(mark.segments)
    assert isinstance(mark, RegionMark)
    return sum(len(contour) for contour in mark.contours)


def parse_step_repeat(text: str, *, mm_per_unit: float) -> tuple[tuple[float, float], ...]:
    """Offsets [mm] of the copies of an SR statement, first along y, then along x; one copy (0, 0) where it ends one.

    Raises
    ------
    GerberError
        Where the statement cannot be read or asks for too many copies.
    """
    values = {"X": "1", "Y": "1", "I": "0", "J": "0"}
    rest = text.removeprefix("SR").replace(" ", "")
    while rest:
        axis, rest = rest[0], rest[1:]
        length = next((k for k, character in enumerate(rest) if character in "XYIJ"), len(rest))
        if axis not in values or length == 0:
            raise GerberError(f"cannot read step-repeat {text[:40]!r}; needed is for example %SRX3Y2I2.0J3.0*%")
        values[axis], rest = rest[:length], rest[length:]
    n_x, n_y = parse_decimal(values["X"]), parse_decimal(values["Y"])
    if n_x != int(n_x) or n_y != int(n_y) or n_x < 1 or n_y < 1 or n_x * n_y > MAX_REPEATS:
        raise GerberError(
            f"step-repeat of {n_x:g} x {n_y:g}; allowed are whole numbers, 1 to {MAX_REPEATS} copies in all"
        )
    step_x, step_y = parse_decimal(values["I"]) * mm_per_unit, parse_decimal(values["J"]) * mm_per_unit
    return tuple((column * step_x, row * step_y) for column in range(int(n_x)) for row in range(int(n_y)))
