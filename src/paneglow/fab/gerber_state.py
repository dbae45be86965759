"""The graphics state of a Gerber file while it is read, and the operations that draw."""

import math
from dataclasses import dataclass, field

from paneglow.errors import GerberError
from paneglow.fab.curves import Contour, Similarity
from paneglow.fab.drawing import FlashMark, Mark, ObjectNames, RegionMark, Shape, StrokeMark
from paneglow.fab.gerber_arcs import QuadrantMode, arc_segment, radius_mismatch_mm
from paneglow.fab.gerber_attributes import Attributes
from paneglow.fab.gerber_blocks import MAX_NESTING, Frame
from paneglow.fab.gerber_numbers import CoordinateFormat
from paneglow.fab.gerber_text import line_number
from paneglow.fab.macro import Macro
from paneglow.fab.macro_shapes import unit_vector
from paneglow.fab.records import Arc, Line, Point, Segment

MAX_COORDINATE_MM = 5_000.0  # distance from the origin; drawing sheets place boards a metre away, not five
RADIUS_MISMATCH_MM = 0.02  # arcs whose ends differ more in radius are noted (assumed, 0.005 to 0.05)
OPEN_CONTOUR_MM = 0.001  # contours are noted as open from this gap on: the last digit of most formats

DRAW, MOVE, FLASH = 1, 2, 3


@dataclass(slots=True, kw_only=True)
class GerberState:
    """What the statements read so far have set; changes with each, so not a record."""

    text: str
    offset: int = 0  # place of the statement being read
    format: CoordinateFormat = field(default_factory=CoordinateFormat)
    image_offset_mm: Point = (0.0, 0.0)
    at_mm: Point = (0.0, 0.0)
    operation: int = 0
    linear: bool = True
    clockwise: bool = False
    quadrant: QuadrantMode | None = None
    dark: bool = True
    mirror: str = "N"
    rotation_deg: float = 0.0
    scale: float = 1.0
    macros: dict[str, Macro] = field(default_factory=dict)
    shapes: dict[int, Shape] = field(default_factory=dict)
    blocks: dict[int, Frame] = field(default_factory=dict)
    unusable: dict[int, str] = field(default_factory=dict)
    aperture: int | None = None
    shape: Shape | None = None  # of the current aperture after mirroring, rotation and scaling; None until asked for
    turned: dict[tuple[int, Similarity], Shape] = field(default_factory=dict)
    frames: list[Frame] = field(default_factory=lambda: [Frame(kind="image")])
    stroke: list[Segment] = field(default_factory=list)
    region: list[Contour] | None = None
    contour: list[Segment] = field(default_factory=list)
    attributes: Attributes = field(default_factory=Attributes)
    names: ObjectNames | None = None  # of the objects drawn from here on
    notes: dict[str, str] = field(default_factory=dict)
    negative: bool = False
    ended: bool = False

    @property
    def line(self) -> int:
        """Line of the statement being read."""
        return line_number(self.text, offset=self.offset)

    def note(self, message: str) -> None:
        """Keep a remark with the line of its first occurrence."""
        if message not in self.notes:
            self.notes[message] = f"line {self.line}: {message}"

    def point(self, x: str | None, y: str | None) -> Point:
        """Coordinates of an operation [mm]; an axis not given keeps its value.

        Raises
        ------
        GerberError
            Without format or unit, or outside the allowed distance from the origin.
        """
        if x is None and y is None:
            return self.at_mm
        form = self.format
        step_x, step_y = form.steps_mm
        if form.trailing_omitted:
            x, y = x and form.padded(x, axis=0), y and form.padded(y, axis=1)
        base_x, base_y = self.at_mm if form.incremental else self.image_offset_mm
        here = (
            self.at_mm[0] if x is None else base_x + int(x) * step_x,
            self.at_mm[1] if y is None else base_y + int(y) * step_y,
        )
        if not -MAX_COORDINATE_MM <= here[0] <= MAX_COORDINATE_MM or not abs(here[1]) <= MAX_COORDINATE_MM:
            raise GerberError(
                f"point ({here[0]:.6g}, {here[1]:.6g}) mm; allowed are {MAX_COORDINATE_MM:g} mm from the origin: "
                "check format and unit (FS, MO)"
            )
        return here

    def centre_offset(self, i: str | None, j: str | None) -> Point:
        """I and J of an operation [mm]; one not given is 0."""
        if i is None and j is None:
            return 0.0, 0.0
        step_x, step_y = self.format.steps_mm
        if self.format.trailing_omitted:
            i, j = i and self.format.padded(i, axis=0), j and self.format.padded(j, axis=1)
        return int(i or 0) * step_x, int(j or 0) * step_y

    def operate(self, operation: int, *, end: Point, offset: Point) -> None:
        """Draw, move or flash to a point; `offset` leads from the current point to the centre of an arc."""
        self.operation = operation
        if operation == DRAW:
            self._draw(self._segment(end, offset=offset))
        else:
            (self._move if operation == MOVE else self._flash)(end)
        self.at_mm = end

    def _draw(self, segment: Segment) -> None:
        if self.region is not None:
            self.contour.append(segment)
            return
        if not self.stroke and self.aperture in self.blocks:
            raise GerberError(f"aperture block D{self.aperture} can only be flashed (D03), not drawn with (D01)")
        if self.shape is None:
            self.shape = self._current_shape()
        self.stroke.append(segment)

    def _segment(self, end: Point, *, offset: Point) -> Segment:
        if self.linear:
            return Line(start_mm=self.at_mm, end_mm=end)
        mode = self.quadrant or "multi"
        segment = arc_segment(start=self.at_mm, end=end, offset=offset, clockwise=self.clockwise, mode=mode)
        if self.quadrant is None:
            self.note("arcs without G74 or G75 before them; read as G75")
        if isinstance(segment, Line):
            self.note("an arc without radius or extent, drawn as a straight line")
        elif radius_mismatch_mm(segment) > RADIUS_MISMATCH_MM:
            self.note("the ends of an arc lie at different distances from its centre; drawn with an even change")
        return segment

    def _move(self, end: Point) -> None:
        if self.region is not None:
            self.end_contour()
        elif end != self.at_mm:
            self.end_stroke()

    def _flash(self, at: Point) -> None:
        if self.region is not None:
            raise GerberError("a flash (D03) inside a region; end the region with G37* first")
        self.end_stroke()
        block = self.blocks.get(self.aperture or 0)
        if block is not None:
            transform = Similarity.shift(by_mm=at).after(self.turn)
            self.frames[-1].extend(block, transforms=[transform], invert=not self.dark)
            return
        if self.shape is None:
            self.shape = self._current_shape()
        self.frames[-1].add(FlashMark(at_mm=at, shape=self.shape, dark=self.dark, names=self.names))

    @property
    def turn(self) -> Similarity:
        """What LM, LR and LS do to an aperture: mirror, then rotate, then scale."""
        sign = -1 if self.mirror in ("X", "XY") else 1
        factor = sign * self.scale * unit_vector(self.rotation_deg)
        return Similarity(factor=factor, mirrored=self.mirror in ("X", "Y"))

    def _current_shape(self) -> Shape:
        number = self.aperture
        if number is None:
            raise GerberError("drawing before an aperture is chosen; add a line such as D10* above")
        plain = self.shapes.get(number)
        if plain is None:
            why = self.unusable.get(number, "")
            raise GerberError(
                why or f"aperture D{number} is used before it is defined; add an %ADD{number}...*% line above"
            )
        turn = self.turn
        if turn == Similarity():
            return plain
        return self.turned.get((number, turn)) or self.turned.setdefault((number, turn), plain.moved(turn))

    def select(self, number: int) -> None:
        """Make an aperture the current one; it need not be defined until it draws."""
        self.end_stroke()
        self.aperture, self.shape = number, None

    def define(self, number: int, *, shape: Shape | None = None, block: Frame | None = None) -> None:
        """Give an aperture number its shape or block; a second definition replaces the first from here on."""
        if number in self.shapes or number in self.blocks:
            self.end_stroke()
            self.note(f"aperture D{number} is defined again; the new shape holds from there on")
        self.shapes.pop(number, None)
        self.blocks.pop(number, None)
        self.turned = {key: turned for key, turned in self.turned.items() if key[0] != number}
        if shape is not None:
            self.shapes[number] = shape
        if block is not None:
            self.blocks[number] = block
        if number == self.aperture:
            self.shape = None

    def end_stroke(self) -> None:
        """Store the segments drawn with one aperture since the last move."""
        if self.stroke and self.shape is not None:
            stroke = StrokeMark(segments=tuple(self.stroke), shape=self.shape, dark=self.dark, names=self.names)
            self.frames[-1].add(stroke)
        self.stroke = []

    def take_attribute(self, text: str) -> None:
        """Apply one attribute statement; what was drawn before it keeps the names it had.

        Raises
        ------
        GerberError
            Where it cannot be read.
        """
        self.attributes.take(text)
        names = self.attributes.object_names()
        if names != self.names:
            self.end_stroke()
            self.names = names

    def change_graphics(self) -> None:
        """Prepare for a change of polarity, mirroring, rotation or scaling."""
        if self.region is not None:
            raise GerberError(
                "polarity, mirroring, rotation or scaling changes inside a region; end it with G37* first"
            )
        self.end_stroke()
        self.shape = None

    def start_region(self) -> None:
        """Begin a region (G36)."""
        if self.region is not None:
            raise GerberError("G36 inside a region; end the first one with G37*")
        self.end_stroke()
        self.region = []

    def end_contour(self) -> None:
        """Close the contour being drawn; a gap between its end and start is closed by a straight line."""
        contour, self.contour = self.contour, []
        if not contour or self.region is None:
            return
        start, end = contour[0].start_mm, contour[-1].end_mm
        if start != end:
            if math.dist(start, end) > OPEN_CONTOUR_MM:
                self.note("a region contour is open; closed by a straight line")
            contour.append(Line(start_mm=end, end_mm=start))
        if len(contour) > 2 or any(isinstance(segment, Arc) for segment in contour):
            self.region.append(tuple(contour))

    def end_region(self) -> None:
        """Store the region (G37)."""
        if self.region is None:
            self.note("G37 without G36 before it; ignored")
            return
        self.end_contour()
        if self.region:
            self.frames[-1].add(RegionMark(contours=tuple(self.region), dark=self.dark, names=self.names))
        self.region = None

    def open_frame(self, frame: Frame) -> None:
        """Begin a step-repeat or an aperture block."""
        if self.region is not None:
            raise GerberError("a step-repeat or aperture block begins inside a region; end it with G37* first")
        if len(self.frames) > MAX_NESTING:
            raise GerberError(f"blocks nested {len(self.frames)} deep; allowed are {MAX_NESTING}")
        self.end_stroke()
        self.frames.append(frame)

    def end_step_repeat(self) -> None:
        """Copy the objects of the step-repeat that ends here; nothing where none is open."""
        self.end_stroke()
        if self.frames[-1].kind != "step-repeat":
            return
        frame = self.frames.pop()
        shifts = [Similarity.shift(by_mm=offset) for offset in frame.offsets_mm]
        self.frames[-1].extend(frame, transforms=shifts)

    def end_block(self) -> None:
        """Make the objects since %ABDnn*% the aperture block Dnn."""
        self.end_step_repeat()
        if self.frames[-1].kind != "block":
            raise GerberError("%AB*% without an aperture block to end; begin one with %ABDnn*%")
        frame = self.frames.pop()
        self.define(frame.aperture, block=frame)

    def finished_objects(self) -> list[Mark]:
        """Objects of the whole image, once the file has ended.

        Raises
        ------
        GerberError
            Where a region, aperture block or step-repeat is still open.
        """
        self.offset = len(self.text.rstrip())
        if self.region is not None:
            raise GerberError(
                "the file ends inside a region (G37* is missing); it was cut short: export or copy it again"
            )
        self.end_stroke()
        if self.frames[-1].kind == "step-repeat" and self.ended:
            self.note("the last step-repeat is not ended by %SR*%; it reaches to the end of the file")
            self.end_step_repeat()
        if len(self.frames) > 1:
            what = self.frames[-1].kind
            raise GerberError(f"the file ends inside a {what} (%SR*% or %AB*% is missing); it was cut short")
        if not self.ended:
            self.note("the file does not end in M02*; its last statement is whole, but objects may be missing")
        return self.frames[0].objects
