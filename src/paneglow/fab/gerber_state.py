"""The graphics state of a Gerber file while it is read: a part for each thing that statements set."""

import math
import re
from dataclasses import dataclass, field
from itertools import product
from typing import Literal

from paneglow.errors import GerberError
from paneglow.fab.curves import Contour, Similarity, arc_radius_mm, arc_sweep_rad, unit_vector
from paneglow.fab.drawing import FlashMark, Mark, ObjectNames, RegionMark, Shape, StrokeMark, moved_mark
from paneglow.fab.gerber_text import CoordinateFormat, line_number
from paneglow.fab.macro import Macro
from paneglow.fab.records import Arc, Line, Point, Segment
from paneglow.fab.work import Budget, corner_count

MAX_COORDINATE_MM = 5_000.0  # distance from the origin; drawing sheets place boards a metre away, not five
MAX_ARC_OFFSET_MM = 1e6  # from the start of an arc to its centre: straighter than any board is long
MAX_NESTING = 20  # aperture blocks inside each other; the wild has 2
RADIUS_MISMATCH_MM = 0.02  # arcs whose ends differ more in radius are noted (assumed, 0.005 to 0.05)
MISFIT_FRAC, MISFIT_MM = 0.25, 0.05  # radii of one arc that differ by more are an error, not rounding (assumed)
QUARTER_SLACK_RAD = 0.02  # rounded ends of a quarter arc may reach this far past 90 degrees (assumed, 0.005 to 0.05)
NOT_CONNECTED = "N/C"  # format specification, .N: the pad of a pin that is connected to nothing
OPEN_CONTOUR_MM = 0.001  # contours are noted as open from this gap on: the last digit of most formats

DRAW, MOVE, FLASH = 1, 2, 3

_ATTRIBUTE = re.compile(r"T([FAOD])(\.?[A-Za-z_$][\w.$+-]*)?(?:,(.*))?", re.DOTALL)
_ESCAPE = re.compile(r"\\u([0-9A-Fa-f]{4})|\\U([0-9A-Fa-f]{8})")


@dataclass(slots=True, kw_only=True)
class Journal:
    """Where in the text the reader is, and what was odd, by its words."""

    text: str
    offset: int = 0
    notes: dict[str, str] = field(default_factory=dict)

    @property
    def line(self) -> int:
        """Line of the statement being read."""
        return line_number(self.text, offset=self.offset)

    def note(self, message: str) -> None:
        """Keep a remark with the line of its first occurrence."""
        if message not in self.notes:
            self.notes[message] = f"line {self.line}: {message}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Interpolation:
    """How an operation leads to its end: straight, or along an arc in one of two quadrant modes."""

    linear: bool = True
    clockwise: bool = False
    quadrant: Literal["single", "multi"] | None = None  # None where the file has not said which


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """What LP, LM, LR and LS do to objects: polarity; mirror, then rotate, then scale."""

    dark: bool = True
    mirror: str = "N"
    rotation_deg: float = 0.0
    scale: float = 1.0

    @property
    def turn(self) -> Similarity:
        """The change of shape."""
        sign = -1 if self.mirror in ("X", "XY") else 1
        factor = sign * self.scale * unit_vector(self.rotation_deg)
        return Similarity(factor=factor, mirrored=self.mirror in ("X", "Y"))


@dataclass(slots=True, kw_only=True)
class Frame:
    """One level of collecting: the image, a step-repeat or an aperture block."""

    kind: Literal["image", "step-repeat", "block"]
    offsets_mm: tuple[Point, ...] = ()  # where a step-repeat puts its copies
    aperture: int = 0  # the D number that an aperture block will have
    objects: list[Mark] = field(default_factory=list)
    corners: int = 0
    segments: int = 0


@dataclass(slots=True, kw_only=True)
class Apertures:
    """Macros, shapes and blocks by number, and the one that is chosen."""

    macros: dict[str, Macro] = field(default_factory=dict)
    shapes: dict[int, Shape] = field(default_factory=dict)
    blocks: dict[int, Frame] = field(default_factory=dict)
    unusable: dict[int, str] = field(default_factory=dict)
    turned: dict[tuple[int, Similarity], Shape] = field(default_factory=dict)
    chosen: int | None = None

    def shape(self, turn: Similarity) -> Shape:
        """Shape of the chosen aperture, mirrored, rotated and scaled.

        Raises
        ------
        GerberError
            Where none is chosen, or the chosen one has no shape.
        """
        number = self.chosen
        if number is None:
            raise GerberError("drawing before an aperture is chosen; add a line such as D10* above")
        plain = self.shapes.get(number)
        if plain is None:
            why = self.unusable.get(number, "")
            raise GerberError(
                why or f"aperture D{number} is used before it is defined; add an %ADD{number}...*% line above"
            )
        if turn == Similarity():
            return plain
        return self.turned.get((number, turn)) or self.turned.setdefault((number, turn), plain.moved(turn))

    def define(self, number: int, *, made: Shape | Frame) -> None:
        """Give a number its shape or block; a second definition replaces the first from here on."""
        self.shapes.pop(number, None)
        self.blocks.pop(number, None)
        self.turned = {key: turned for key, turned in self.turned.items() if key[0] != number}
        if isinstance(made, Shape):
            self.shapes[number] = made
        else:
            self.blocks[number] = made


@dataclass(slots=True, kw_only=True)
class Attributes:
    """X2 attributes of file, apertures and objects, and the names that they give to what is drawn from here on."""

    of_file: dict[str, tuple[str, ...]] = field(default_factory=dict)
    of_aperture: dict[str, tuple[str, ...]] = field(default_factory=dict)
    of_object: dict[str, tuple[str, ...]] = field(default_factory=dict)
    names: ObjectNames | None = None

    def take(self, text: str) -> None:
        """Apply one TF, TA, TO or TD statement.

        Raises
        ------
        GerberError
            Where it cannot be read.
        """
        match = _ATTRIBUTE.fullmatch(text.strip())
        if match is None or (match[2] is None and (match[1] != "D" or match[3] is not None)):
            raise GerberError(
                f"cannot read attribute {text[:40]!r}; needed is for example %TF.FileFunction,Copper,L1,Top*%"
            )
        kind, name = match[1], (match[2] or "").removeprefix(".")
        if kind == "D":  # one aperture or object attribute is deleted, or all of them; file attributes stay for good
            for attributes in (self.of_aperture, self.of_object):
                for key in [name] if name else list(attributes):
                    attributes.pop(key, None)
        else:
            fields = tuple(unescaped(part.strip()) for part in match[3].split(",")) if match[3] is not None else ()
            {"F": self.of_file, "A": self.of_aperture, "O": self.of_object}[kind][name] = fields
        ref, pin, function = (*self.of_object.get("P", ()), "", "", "")[:3]
        net, component = (next(iter(self.of_object.get(key, ())), "") for key in "NC")
        names = ObjectNames(net="" if net == NOT_CONNECTED else net, ref=ref or component, pin=pin, function=function)
        self.names = None if names == ObjectNames() else names


@dataclass(slots=True, kw_only=True)
class OpenPath:
    """What is being drawn: segments since the last move with one shape, or the contours of a region."""

    stroke: list[Segment] = field(default_factory=list)
    names: ObjectNames | None = None  # of the stroke
    region: list[Contour] | None = None
    contour: list[Segment] = field(default_factory=list)


@dataclass(slots=True, kw_only=True)
class GerberState:
    """What the statements read so far have set and drawn; changes with each, so not a record."""

    journal: Journal
    format: CoordinateFormat = field(default_factory=CoordinateFormat)
    interpolation: Interpolation = field(default_factory=Interpolation)
    placing: Placing = field(default_factory=Placing)
    apertures: Apertures = field(default_factory=Apertures)
    attributes: Attributes = field(default_factory=Attributes)
    path: OpenPath = field(default_factory=OpenPath)
    frames: list[Frame] = field(default_factory=lambda: [Frame(kind="image")])
    budget: Budget = field(default_factory=Budget)
    shape: Shape | None = None  # of the chosen aperture as it is placed now; None until asked for
    at_mm: Point = (0.0, 0.0)
    image_offset_mm: Point = (0.0, 0.0)
    operation: int = 0  # the last one, which holds on where a statement names none
    negative: bool = False
    ended: bool = False

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

    def operate(self, operation: int, *, end: Point, i: str | None, j: str | None) -> None:
        """Draw, move or flash to a point; I and J lead from the current point to the centre of an arc."""
        self.operation = operation
        if operation == DRAW:
            self._draw(Line(start_mm=self.at_mm, end_mm=end) if self.interpolation.linear else self._arc(end, i, j))
        elif operation == FLASH:
            self._flash(end)
        elif self.path.region is not None:
            self.end_contour()
        elif end != self.at_mm:
            self.end_stroke()
        self.at_mm = end

    def _draw(self, segment: Segment) -> None:
        if self.path.region is not None:
            self.path.contour.append(segment)
            return
        if not self.path.stroke and self.apertures.chosen in self.apertures.blocks:
            raise GerberError(
                f"aperture block D{self.apertures.chosen} can only be flashed (D03), not drawn with (D01)"
            )
        if self.shape is None:
            self.shape = self.apertures.shape(self.placing.turn)
        if not self.path.stroke:
            self.path.names = self.attributes.names
        self.path.stroke.append(segment)

    def _arc(self, end: Point, i: str | None, j: str | None) -> Segment:
        offset = (0.0, 0.0)
        if i is not None or j is not None:
            form = self.format
            step_x, step_y = form.steps_mm
            if form.trailing_omitted:
                i, j = i and form.padded(i, axis=0), j and form.padded(j, axis=1)
            offset = (int(i or 0) * step_x, int(j or 0) * step_y)
        if max(map(abs, offset)) > MAX_ARC_OFFSET_MM:
            raise GerberError(
                f"the centre of an arc is over {MAX_ARC_OFFSET_MM / 1e6:g} km away; check I and J, and FS"
            )
        mode = self.interpolation.quadrant
        segment = arc_segment(self.at_mm, end=end, offset=offset, interpolation=self.interpolation)
        if mode is None:
            self.journal.note("arcs without G74 or G75 before them; read as G75")
        if isinstance(segment, Line):
            self.journal.note("an arc without radius or extent, drawn as a straight line")
        elif radius_mismatch_mm(segment) > RADIUS_MISMATCH_MM:
            self.journal.note(
                "the ends of an arc lie at different distances from its centre; drawn with an even change"
            )
        return segment

    def _flash(self, at: Point) -> None:
        if self.path.region is not None:
            raise GerberError("a flash (D03) inside a region; end the region with G37* first")
        self.end_stroke()
        block = self.apertures.blocks.get(self.apertures.chosen or 0)
        if block is not None:
            transform = Similarity.shift(by_mm=at).after(self.placing.turn)
            self._copy(block, transforms=[transform], invert=not self.placing.dark)
            return
        if self.shape is None:
            self.shape = self.apertures.shape(self.placing.turn)
        self._add(
            FlashMark(at_mm=at, shape=self.shape, dark=self.placing.dark, names=self.attributes.names),
            corners=self.shape.corners,
            segments=1,
        )

    def _add(self, mark: Mark, *, corners: int, segments: int) -> None:
        self.budget.spend(corners=corners, segments=segments)
        frame = self.frames[-1]
        frame.objects.append(mark)
        frame.corners += corners
        frame.segments += segments

    def _copy(self, block: Frame, *, transforms: list[Similarity], invert: bool = False) -> None:
        """Take copies of another frame's objects, copy by copy, checking the budget before any is made."""
        corners, segments = block.corners * len(transforms), block.segments * len(transforms)
        self.budget.spend(corners=corners, segments=segments)
        frame = self.frames[-1]
        frame.corners += corners
        frame.segments += segments
        shapes: dict[tuple[int, Similarity], Shape] = {}
        for transform in transforms:
            frame.objects.extend(
                moved_mark(m, transform=transform, shapes=shapes, invert=invert) for m in block.objects
            )

    def select(self, number: int) -> None:
        """Make an aperture the current one; it need not be defined until it draws."""
        self.end_stroke()
        self.apertures.chosen, self.shape = number, None

    def define(self, number: int, *, made: Shape | Frame) -> None:
        """Give an aperture number its shape or block; what was drawn before keeps the shape it had."""
        if number in self.apertures.shapes or number in self.apertures.blocks:
            self.end_stroke()
            self.journal.note(f"aperture D{number} is defined again; the new shape holds from there on")
        self.apertures.define(number, made=made)
        if number == self.apertures.chosen:
            self.shape = None

    def end_stroke(self) -> None:
        """Store the segments drawn with one aperture since the last move."""
        drawn, self.path.stroke = self.path.stroke, []
        shape = self.shape
        if not drawn or shape is None:
            return
        corners, around = corner_count(drawn), shape.corners
        # A disc is drawn along the path with a disc at each end; any other shape is swept along every chord
        corners = corners + 2 * around if shape.disc_mm is not None else corners * around
        mark = StrokeMark(segments=tuple(drawn), shape=shape, dark=self.placing.dark, names=self.path.names)
        self._add(mark, corners=corners, segments=len(drawn))

    def take_attribute(self, text: str) -> None:
        """Apply one attribute statement; what was drawn before it keeps the names it had.

        Raises
        ------
        GerberError
            Where it cannot be read.
        """
        before = self.attributes.names
        self.attributes.take(text)
        if self.attributes.names != before:
            self.end_stroke()

    def place_objects(self, placing: Placing) -> None:
        """Change polarity, mirroring, rotation or scaling from here on.

        Raises
        ------
        GerberError
            Inside a region.
        """
        if self.path.region is not None:
            raise GerberError(
                "polarity, mirroring, rotation or scaling changes inside a region; end it with G37* first"
            )
        self.end_stroke()
        self.placing, self.shape = placing, None

    def start_region(self) -> None:
        """Begin a region (G36)."""
        if self.path.region is not None:
            raise GerberError("G36 inside a region; end the first one with G37*")
        self.end_stroke()
        self.path.region = []

    def end_contour(self) -> None:
        """Close the contour being drawn; a gap between its end and start is closed by a straight line."""
        contour, self.path.contour = self.path.contour, []
        if not contour or self.path.region is None:
            return
        start, end = contour[0].start_mm, contour[-1].end_mm
        if start != end:
            if math.dist(start, end) > OPEN_CONTOUR_MM:
                self.journal.note("a region contour is open; closed by a straight line")
            contour.append(Line(start_mm=end, end_mm=start))
        if len(contour) > 2 or any(isinstance(segment, Arc) for segment in contour):
            self.path.region.append(tuple(contour))

    def end_region(self) -> None:
        """Store the region (G37)."""
        if self.path.region is None:
            self.journal.note("G37 without G36 before it; ignored")
            return
        self.end_contour()
        contours, self.path.region = tuple(self.path.region), None
        if contours:
            mark = RegionMark(contours=contours, dark=self.placing.dark, names=self.attributes.names)
            self._add(mark, corners=sum(map(corner_count, contours)), segments=sum(map(len, contours)))

    def open_frame(self, frame: Frame) -> None:
        """Begin a step-repeat or an aperture block."""
        if self.path.region is not None:
            raise GerberError("a step-repeat or aperture block begins inside a region; end it with G37* first")
        if len(self.frames) > MAX_NESTING:
            raise GerberError(f"blocks nested {len(self.frames)} deep; allowed are {MAX_NESTING}")
        self.end_stroke()
        self.frames.append(frame)

    def end_step_repeat(self) -> None:
        """Copy the objects of the step-repeat that ends here; nothing where none is open."""
        self.end_stroke()
        if self.frames[-1].kind == "step-repeat":
            frame = self.frames.pop()
            self._copy(frame, transforms=[Similarity.shift(by_mm=offset) for offset in frame.offsets_mm])

    def end_block(self) -> None:
        """Make the objects since %ABDnn*% the aperture block Dnn."""
        self.end_step_repeat()
        if self.frames[-1].kind != "block":
            raise GerberError("%AB*% without an aperture block to end; begin one with %ABDnn*%")
        frame = self.frames.pop()
        self.define(frame.aperture, made=frame)

    def finished_objects(self) -> list[Mark]:
        """Objects of the whole image, once the file has ended.

        Raises
        ------
        GerberError
            Where a region, aperture block or step-repeat is still open.
        """
        self.journal.offset = len(self.journal.text.rstrip())
        if self.path.region is not None:
            raise GerberError(
                "the file ends inside a region (G37* is missing); it was cut short: export or copy it again"
            )
        self.end_stroke()
        if self.frames[-1].kind == "step-repeat" and self.ended:
            self.journal.note("the last step-repeat is not ended by %SR*%; it reaches to the end of the file")
            self.end_step_repeat()
        if len(self.frames) > 1:
            what = self.frames[-1].kind
            raise GerberError(f"the file ends inside a {what} (%SR*% or %AB*% is missing); it was cut short")
        if not self.ended:
            self.journal.note("the file does not end in M02*; its last statement is whole, but objects may be missing")
        return self.frames[0].objects


def arc_segment(start: Point, *, end: Point, offset: Point, interpolation: Interpolation) -> Segment:
    """Arc of one G02 or G03 operation; all lengths in mm.

    In single-quadrant mode (G74) the signs of I and J are not given: the centre is the one of four that makes an arc of
    at most a quarter turn with the best agreeing radii. An arc without radius is the straight line to its end.

    Raises
    ------
    GerberError
        Where the points do not lie on a common circle about the centre, or no quarter arc fits.
    """
    is_single = interpolation.quadrant == "single"
    if offset == (0.0, 0.0) or (is_single and start == end):
        return Line(start_mm=start, end_mm=end)  # G74 has no full circles: an arc to its own start goes nowhere
    signs = product((1, -1), repeat=2) if is_single else ((1, 1),)
    i, j = map(abs, offset) if is_single else offset
    arcs = [
        Arc(
            start_mm=start,
            end_mm=end,
            centre_mm=(start[0] + sign_x * i, start[1] + sign_y * j),
            clockwise=interpolation.clockwise,
        )
        for sign_x, sign_y in signs
    ]
    fitting = [arc for arc in arcs if radius_mismatch_mm(arc) <= MISFIT_MM + MISFIT_FRAC * arc_radius_mm(arc)]
    if is_single:
        fitting = [arc for arc in fitting if abs(arc_sweep_rad(arc)) <= math.pi / 2 + QUARTER_SLACK_RAD]
        if not fitting:
            raise GerberError(
                "no arc of a quarter turn or less joins these points in G74 mode; check I and J, or use G75"
            )
    if not fitting:
        raise GerberError("start and end of an arc lie on different circles about its centre; check I and J, G74, G75")
    return min(fitting, key=radius_mismatch_mm)


def radius_mismatch_mm(arc: Arc) -> float:
    """Difference of the distances of start and end from the centre [mm]."""
    return abs(math.dist(arc.start_mm, arc.centre_mm) - math.dist(arc.end_mm, arc.centre_mm))


def unescaped(text: str) -> str:
    r"""Text with its \uXXXX escapes turned into characters; an escape that is no character stays as it is."""

    def character(match: re.Match[str]) -> str:
        code = int(match[1] or match[2], 16)
        return match[0] if code > 0x10FFFF or 0xD800 <= code <= 0xDFFF else chr(code)

    return _ESCAPE.sub(character, text)
