"""Seeded boards for proofs of polarity: strings of LEDs between two planes, and placement files by a rule of any kind.

The rotation that is right under a rule is worked out here a third way, as a table of plane angles, so that neither of
the two ways under test makes its own examination. Every part has its terminals along x.
"""

import datetime
import math
import random
from dataclasses import dataclass, replace
from pathlib import Path

from shapely import affinity
from shapely.geometry import MultiPolygon, box

from paneglow.board import Board, PlacementRead, build_face_maps, build_nets, survey_windows
from paneglow.board.leds import Ground, place_leds
from paneglow.catalog import Catalog, Evidence, Part, PolarityMark, TapeOrientation, read_catalog
from paneglow.design import BoardDesign, Design, LedGroup, Rail
from paneglow.fab import (
    Fabrication,
    Flash,
    Hole,
    PlacementRow,
    PlacementRule,
    RectangleAperture,
    RoundAperture,
    Stroke,
    build_path,
    parse_gerber,
    to_placement_text,
)
from paneglow.fab.placement import parse_placement
from paneglow.fab.placement_rule import parse_rule
from paneglow.fab.write_gerber import to_gerber_text

OWN = read_catalog()
EVIDENCE = Evidence(kind="meter-test", date=datetime.date(2026, 11, 2), who="invented for this test")
# Code of our own catalogue, styles it is mounted in, half distance of its lands, their length and width
KINDS = (
    ("tv-1206-amber", ("lens_down", "top_view"), 1.85, 1.3, 1.7),
    ("tv-0805-green", ("lens_down", "top_view"), 1.2, 1.1, 1.3),
    ("rv-1206-red", ("reverse",), 1.8, 1.0, 1.6),
    ("sv-1204-blue", ("side_view",), 1.75, 1.1, 1.2),
)
BOTTOMS = ("through-front", "through-front-mirrored", "turned-left-right", "turned-top-bottom")
ZEROS = ("axis", "cathode-left", "anode-left", "as-taped")
TURNS = ("long-axis", "short-axis")
PITCH_MM = 9.0  # between elements of a string
CELL_MM = (36.0, 36.0)
TRACE_MM, VIA_MM, PLANE_CLEAR_MM = 0.4, 0.3, 1.2


@dataclass(frozen=True, kw_only=True)
class Truth:
    """One LED as it must be: where, on which face, and the direction from its cathode to its anode on the board."""

    ref: str
    part: Part
    mounting: str
    side: str
    at_mm: tuple[float, float]
    anode_deg: float


@dataclass(frozen=True, kw_only=True)
class Case:
    """A board with its truth and the design that goes with it."""

    fabrication: Fabrication
    design: Design
    catalog: Catalog
    truths: tuple[Truth, ...]
    resistors: tuple[PlacementRow, ...]


def make_part(code: str, *, cathode_at: int, marked: str, taped: str, quadrants: tuple[int, ...], face: str) -> Part:
    """A part of our own catalogue whose frame, mark and tape are as asked: siblings differ in nothing else."""
    plain = OWN.parts[code]
    names = {pad.role: pad.name for pad in plain.terminals.pads}
    outer = max(abs(pad.at_mm[0]) for pad in plain.terminals.pads)
    x = {"cathode": cathode_at * outer, "anode": -cathode_at * outer}
    pads = tuple(pad.model_copy(update={"at_mm": (x[pad.role], 0.0)}) for pad in plain.terminals.pads)
    return Part.model_validate(
        plain.model_dump()
        | {
            "terminals": plain.terminals.model_copy(update={"pads": pads}),
            "mark": PolarityMark(
                shape="dot", face="top", at_mm=(x[marked], 0.0), terminal=names[marked], evidence=EVIDENCE
            ),
            "tape": TapeOrientation(face=face, terminal=names[taped], quadrants=quadrants, evidence=EVIDENCE),
        }
    )


def random_part(rng: random.Random, code: str) -> Part:
    return make_part(
        code,
        cathode_at=rng.choice((-1, 1)),
        marked=rng.choice(("anode", "cathode")),
        taped=rng.choice(("anode", "cathode")),
        quadrants=rng.choice(((1, 2), (3, 4), (1, 3), (2, 4))),
        face=rng.choice(("solder-down", "solder-up")),
    )


class _Drawing:
    """Objects of every layer while a board is drawn."""

    def __init__(self, *, turn_deg: float, mirrored: bool) -> None:
        self.turn_deg = turn_deg
        self.mirrored = mirrored
        self.layers = {role: [] for role in ("copper_front", "copper_back", "copper_inner_1", "copper_inner_2")}
        self.layers |= {"mask_front": [], "mask_back": [], "legend_front": [], "legend_back": []}
        self.holes: list[Hole] = []

    def turned(self, point):
        return turned((-point[0] if self.mirrored else point[0], point[1]), self.turn_deg)

    def direction(self, deg):
        return ((180.0 - deg if self.mirrored else deg) + self.turn_deg) % 360

    def pad(self, at, *, side, deg, length, width):
        turn = math.radians(self.direction(deg))
        for role, grow in ((f"copper_{side}", 0.0), (f"mask_{side}", 0.1)):
            shape = RectangleAperture(width_mm=length + grow, height_mm=width + grow, rotation_rad=turn)
            self.layers[role].append(Flash(at_mm=self.turned(at), aperture=shape, function="SMDPad,CuDef"))

    def line(self, role, *corners, pen=TRACE_MM):
        self.layers[role].append(Stroke(path=build_path([self.turned(corner) for corner in corners]), pen_mm=pen))

    def via(self, at, *, away_from):
        """A plated hole to one plane, which the other plane keeps clear of."""
        at = self.turned(at)
        self.holes.append(Hole(start_mm=at, end_mm=at, diameter_mm=VIA_MM, plated=True))
        clear = Flash(at_mm=at, aperture=RoundAperture(diameter_mm=PLANE_CLEAR_MM), dark=False)
        self.layers[away_from].append(clear)
        for role in ("copper_front", "copper_back"):
            self.layers[role].append(Flash(at_mm=at, aperture=RoundAperture(diameter_mm=0.6), function="ViaPad"))


def turned(point, deg):
    cos, sin = math.cos(math.radians(deg)), math.sin(math.radians(deg))
    return point[0] * cos - point[1] * sin, point[0] * sin + point[1] * cos


def _along(start, deg, distance):
    step = turned((distance, 0.0), deg)
    return start[0] + step[0], start[1] + step[1]


PLANES = {"negative": "copper_inner_1", "positive": "copper_inner_2"}
OTHER_PLANE = {"negative": "copper_inner_2", "positive": "copper_inner_1"}


def make_case(seed: int, *, turn_deg: float = 0.0, mirrored: bool = False, legend_wrong: bool = False) -> Case:
    """A board of two strings, each of one or two LEDs and perhaps a resistor; all of it mirrored, then turned."""
    rng = random.Random(seed)
    drawing = _Drawing(turn_deg=turn_deg, mirrored=mirrored)
    width, height = 2 * CELL_MM[0], CELL_MM[1]
    for role in PLANES.values():
        outline = ((1.0, height / 2), (width - 1.0, height / 2))
        drawing.line(role, *outline, pen=height - 2.0)
    truths: list[Truth] = []
    resistors: list[PlacementRow] = []
    parts: dict[str, Part] = {}
    for cell in range(2):
        middle = ((cell + 0.5) * CELL_MM[0], height / 2)
        side = rng.choice(("back", "back", "back", "front"))
        _draw_string(
            rng, drawing, middle=middle, side=side, truths=truths, resistors=resistors, parts=parts, wrong=legend_wrong
        )
    rails = []
    for number, polarity in enumerate(PLANES):
        at = (2.5 + 3.0 * number, 2.5)
        drawing.pad(at, side="back", deg=0.0, length=1.5, width=1.5)
        drawing.via(at, away_from=OTHER_PLANE[polarity])
        rails.append(Rail(polarity=polarity, at_mm=_rounded(drawing.turned(at)), side="back"))
    drawings = {
        role: parse_gerber(to_gerber_text(tuple(objects), attributes=()), path=role)
        for role, objects in drawing.layers.items()
    }
    fabrication = Fabrication(
        source=Path("case"),
        files=(),
        drawings=drawings,
        holes=tuple(drawing.holes),
        outline=MultiPolygon(
            [
                affinity.rotate(
                    box(-width if mirrored else 0, 0, 0 if mirrored else width, height), turn_deg, origin=(0, 0)
                )
            ]
        ),
        copper_layers=4,
    )
    design = Design(
        name="case",
        board=BoardDesign(fabrication="fab", placement="placement.csv", pitch_mm=0.1),
        led=tuple(
            LedGroup(refs=(truth.ref,), part=truth.part.code, mounting=truth.mounting, current_ma=1.0)
            for truth in truths
        ),
        rail=tuple(rails),
    )
    return Case(
        fabrication=fabrication,
        design=design,
        catalog=OWN.model_copy(update={"parts": parts}),
        truths=tuple(truths),
        resistors=tuple(resistors),
    )


def _draw_string(rng, drawing, *, middle, side, truths, resistors, parts, wrong):
    """LEDs in series along one direction, cathode first, then perhaps a resistor, between the planes."""
    deg = rng.choice((0.0, 90.0, 180.0, 270.0, rng.uniform(0.0, 360.0)))
    n_leds, has_resistor = rng.choice((1, 1, 2)), rng.random() < 0.5
    count = n_leds + has_resistor
    start = _along(middle, deg, -PITCH_MM * (count - 1) / 2)
    ends = None
    for number in range(count):
        at = _along(start, deg, PITCH_MM * number)
        if number < n_leds:
            half, length, pad_width = _add_led(rng, drawing, at=at, deg=deg, side=side, truths=truths, parts=parts)
            _mark_end(drawing, at=at, deg=deg, half=-half if not wrong else half, length=length, side=side)
        else:
            half, length, pad_width = 0.8, 0.8, 0.9
            resistors.append(_resistor(drawing, at=at, deg=deg, side=side, number=len(resistors) + 1))
        for sign in (-1, 1):
            drawing.pad(_along(at, deg, sign * half), side=side, deg=deg, length=length, width=pad_width)
        if ends is not None:
            drawing.line(f"copper_{side}", ends, _along(at, deg, -half))
        else:
            _to_plane(drawing, start=_along(at, deg, -half), deg=deg + 180, side=side, polarity="negative")
        ends = _along(at, deg, half)
    _to_plane(drawing, start=ends, deg=deg, side=side, polarity="positive")


def _add_led(rng, drawing, *, at, deg, side, truths, parts):
    code, mountings, half, length, width = rng.choice(KINDS)
    ref = f"D{len(truths) + 1}"
    part = random_part(rng, code).model_copy(update={"code": f"{code}-{ref.lower()}"})
    parts[part.code] = part
    truths.append(
        Truth(
            ref=ref,
            part=part,
            mounting=rng.choice(mountings),
            side=side,
            at_mm=_rounded(drawing.turned(at)),
            anode_deg=drawing.direction(deg),
        )
    )
    return half, length, width


def _resistor(drawing, *, at, deg, side, number):
    x, y = _rounded(drawing.turned(at))
    return PlacementRow(
        ref=f"R{number}",
        x_mm=x,
        y_mm=y,
        rotation_deg=round(drawing.direction(deg), 4),
        side=side,
        value="",
        package="",
        line=0,
    )


def _mark_end(drawing, *, at, deg, half, length, side):
    """A bar of legend ink beyond one land."""
    beyond = math.copysign(abs(half) + length / 2 + 0.35, half)
    middle = _along(at, deg, beyond)
    drawing.line(f"legend_{side}", _along(middle, deg + 90, -0.6), _along(middle, deg + 90, 0.6), pen=0.2)


def _to_plane(drawing, *, start, deg, side, polarity):
    end = _along(start, deg, 2.2)
    drawing.line(f"copper_{side}", start, end)
    drawing.via(end, away_from=OTHER_PLANE[polarity])


def _rounded(point):
    return round(point[0], 6), round(point[1], 6)


def right_file_deg(truth: Truth, rule: PlacementRule) -> float:
    """Rotation that puts an LED the right way round under a rule, by a table of plane angles."""
    terminals = {pad.role: pad for pad in truth.part.terminals.pads}
    cathode_left = terminals["cathode"].at_mm[0] < 0
    tape = truth.part.tape
    towards = {(1, 2): 90.0, (3, 4): 270.0, (1, 3): 180.0, (2, 4): 0.0}[tape.quadrants]
    taped = towards if tape.terminal == terminals["anode"].name else towards + 180.0
    # Looked at from above, the part's x is a quarter turn clockwise of where a side-view part shines
    shining = -90.0 if cathode_left else 90.0
    at_zero = {
        "axis": shining if truth.mounting == "side_view" else 0.0,
        "cathode-left": 0.0,
        "anode-left": 180.0,
        "as-taped": taped,
    }[rule.zero]
    lies_so = rule.zero == "as-taped" and tape.face == "solder-up"
    if truth.mounting == "lens_down" and rule.turn == "short-axis" and not lies_so:
        at_zero += 180.0
    if truth.side == "front":
        return (truth.anode_deg - at_zero) % 360
    return {
        "through-front": truth.anode_deg + at_zero,
        "through-front-mirrored": truth.anode_deg + at_zero - 180.0,
        "turned-left-right": 180.0 - truth.anode_deg - at_zero,
        "turned-top-bottom": -truth.anode_deg - at_zero,
    }[rule.bottom] % 360


def right_rows(case: Case, rule: PlacementRule) -> tuple[PlacementRow, ...]:
    """A placement file's rows that put every LED the right way round."""
    rows = [
        PlacementRow(
            ref=truth.ref,
            x_mm=truth.at_mm[0],
            y_mm=truth.at_mm[1],
            rotation_deg=round(right_file_deg(truth, rule), 4),
            side=truth.side,
            value=truth.part.code,
            package="",
            line=0,
        )
        for truth in case.truths
    ]
    return (*rows, *case.resistors)


def through_file(rows, *, dialect, rule):
    """Rows as they come back from a file of a dialect."""
    text, path = to_placement_text(rows, dialect=dialect, rule=rule), Path("placement.csv")
    return PlacementRead(rows=parse_placement(text, path=path), rule=parse_rule(text.splitlines(), path=path))


class Made:
    """A case with its copper read once, for many placement files."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.maps = build_face_maps(case.fabrication, pitch_mm=case.design.board.pitch_mm)
        self.nets = build_nets(case.fabrication)
        self.survey = survey_windows(self.maps)

    def board(self, placement: PlacementRead, *, catalog: Catalog | None = None) -> Board:
        """The board with LEDs as a placement file puts them."""
        ground = Ground(maps=self.maps, survey=self.survey, placement=placement)
        leds, notes = place_leds(self.case.design, ground=ground, catalog=catalog or self.case.catalog)
        return Board(
            name="case",
            thickness_mm=1.6,
            maps=self.maps,
            survey=self.survey,
            leds=leds,
            notes=notes,
            nets=self.nets,
            placement=placement,
        )


def with_row(placement: PlacementRead, ref: str, **changes: object) -> PlacementRead:
    """A placement with one row changed."""
    rows = tuple(replace(row, **changes) if row.ref == ref else row for row in placement.rows)
    return replace(placement, rows=rows)
