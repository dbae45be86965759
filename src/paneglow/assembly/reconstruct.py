"""Rows of a placement file put on the board a second way: bodies turned in space, copper as pixels.

Shares no geometry with `paneglow.board.rotation` and `paneglow.assembly.seating`, on purpose: two ways that differ
cannot hide the same slip. Here a part is a body with points in space. It is laid on the bench as the file's rule says
it lies at zero, turned over where its style asks for it, turned in the plane, and put on the board, which is itself
turned over by half a turn in space. Copper is a picture of pixels whose connected areas are joined at plated holes.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.assembly.circuit import Levels
from paneglow.assembly.polarity_records import Misread, PolarityState, RowCheck
from paneglow.board import Board, CopperNets, FaceMaps, PlacedLed
from paneglow.catalog import Part, Terminal
from paneglow.design import Design, Mounting, Side
from paneglow.fab import BOTTOM_WORDS, TURN_WORDS, ZERO_WORDS, PlacementRow, PlacementRule

Vectors = npt.NDArray[np.float64]  # [3] or [3, n], mm in space: x right, y up, z off the face a part lies on
Labels = npt.NDArray[np.int32]  # [y, x], 0 where there is no copper

HALF_ABOUT_X = np.diag([1.0, -1.0, -1.0])
HALF_ABOUT_Y = np.diag([-1.0, 1.0, -1.0])
COPPER_FROM = 0.5  # coverage from which a pixel is copper
CONVENTION_WORDS: Mapping[str, Mapping[str, str]] = {"bottom": BOTTOM_WORDS, "zero": ZERO_WORDS, "turn": TURN_WORDS}
LEAST_MISREAD = 2  # rows that must lie wrong before another reading is tried: a single one was turned by itself
MISREAD_SHARE = 0.5  # of the rows that can be told; fewer wrong ones are faults of rows, not of the file
PROBES = 7  # points along and across a terminal
BESIDE_STEPS_MM = (0.4, 0.8, 1.2)  # lands of legs and lifted ends begin this far beyond a terminal


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One row with what the design says of its part."""

    row: PlacementRow
    part: Part
    mounting: Mounting
    side: Side
    further_deg: float  # the design turns it so much further, seen from the front


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Copper:
    """Nets as pixels: labels of bare copper of each face, and the level of each label."""

    maps: FaceMaps
    bare: Mapping[Side, Labels]
    levels: Mapping[int, Vectors]

    def label_at(self, points: Vectors, *, side: Side) -> int:
        """Most frequent label of bare copper under points; 0 where less than a tenth of them lie on copper."""
        grid, labels = self.maps.grid, self.bare[side]
        column = np.floor((points[0] - grid.x_min_mm) / grid.pitch_mm).astype(int)
        row = np.floor((points[1] - grid.y_min_mm) / grid.pitch_mm).astype(int)
        inside = (column >= 0) & (column < grid.n_x) & (row >= 0) & (row < grid.n_y)
        met = labels[row[inside], column[inside]]
        counts = np.bincount(met[met > 0], minlength=1)
        return int(counts.argmax()) if counts.max(initial=0) >= 0.1 * points.shape[1] else 0


def check_file(design: Design, *, board: Board, levels: Levels) -> tuple[tuple[RowCheck, ...], tuple[Misread, ...]]:
    """Every LED of the placement file, reconstructed from copper, pads and terminals, and faults of the whole file.

    Parameters
    ----------
    design : Design
    board : Board
        Its placement is read again here, row by row; where LEDs were placed otherwise is not used.
    levels : Levels
        Voltage order of nets.

    Returns
    -------
    rows : tuple of RowCheck
        In the order of the design; none where it names no placement file.
    misread : tuple of Misread
        Rows that lie wrong, where one other convention, or one further turn of a part, sets all of them right.
    """
    if board.placement is None or board.nets is None:
        return (), ()
    further = {ref: group.rotation_deg for group in design.led for ref in group.refs}
    leds = [led for led in board.leds if led.ref in further]
    wanted = _wanted(board.placement.rows, leds=leds, further_deg=further)
    copper = _build_copper(board.maps, nets=board.nets, levels=levels)
    rows = tuple(_check_row(one, rule=board.placement.rule, copper=copper) for one in wanted)
    return rows, tuple(_misread(wanted, rows=rows, rule=board.placement.rule, copper=copper))


def _misread(
    wanted: Sequence[_Row], *, rows: Sequence[RowCheck], rule: PlacementRule, copper: _Copper
) -> Iterator[Misread]:
    """One reading that sets the whole file right, else one further turn for every part that needs it."""
    told = [
        (one, row) for one, row in zip(wanted, rows, strict=True) if row.state not in ("not told", "not on this board")
    ]
    wrong = [one for one, row in told if row.state != "correct"]
    if len(wrong) < LEAST_MISREAD:
        return
    if len(wrong) >= MISREAD_SHARE * len(told):
        for changes in _other_readings(wanted, rule=rule):
            other = replace(rule, **changes)  # type: ignore[arg-type]  # words of the rules themselves
            if all(_check_row(one, rule=other, copper=copper).state == "correct" for one, _ in told):
                yield Misread(
                    refs=tuple(one.row.ref for one in wrong),
                    part="",
                    right_if=" and ".join(CONVENTION_WORDS[name][word] for name, word in changes.items()),
                    write=" and ".join(f'placement_{name} = "{word}"' for name, word in changes.items()),
                )
                return
    by_part: dict[str, list[_Row]] = {}
    for one, _ in told:
        by_part.setdefault(one.part.code, []).append(one)
    for code, alike in by_part.items():
        if len(alike) < LEAST_MISREAD or not all(one in wrong for one in alike):
            continue
        for turn_deg in (180.0, 90.0, 270.0):
            turned = [replace(one, further_deg=one.further_deg + turn_deg) for one in alike]
            if all(_check_row(one, rule=rule, copper=copper).state == "correct" for one in turned):
                (further_deg,) = {one.further_deg % 360.0 for one in turned} or {turn_deg}
                yield Misread(
                    refs=tuple(one.row.ref for one in alike),
                    part=code,
                    right_if=f"the drawing of {code} has its zero {turn_deg:g} deg elsewhere than those of other parts",
                    write=f"rotation_deg = {further_deg:g}",
                )
                break


def _other_readings(wanted: Sequence[_Row], *, rule: PlacementRule) -> Iterator[dict[str, str]]:
    """Changes of the convention, single ones first; as-taped only where every part says how it lies in its tape."""
    taped = all(one.part.tape is not None and one.part.terminals is not None for one in wanted)
    choices = {
        name: [word for word in words if word != getattr(rule, name) and (taped or word != "as-taped")]
        for name, words in CONVENTION_WORDS.items()
    }
    for count in (1, 2):
        for names in combinations(choices, count):
            for words in product(*(choices[name] for name in names)):
                yield dict(zip(names, words, strict=True))


def check_placement(
    rows: Sequence[PlacementRow],
    *,
    rule: PlacementRule,
    leds: Sequence[PlacedLed],
    board: Board,
    levels: Levels,
) -> tuple[RowCheck, ...]:
    """LEDs of any placement file for this board, such as one just written, under its own rule.

    Parameters
    ----------
    rows : sequence of PlacementRow
        As read from the file.
    rule : PlacementRule
        What its rotations mean.
    leds : sequence of PlacedLed
        Only their designators, parts and styles are used, and the face where a row names none.
    board : Board
    levels : Levels
        Voltage order of nets.
    """
    if board.nets is None:
        return ()
    copper = _build_copper(board.maps, nets=board.nets, levels=levels)
    wanted = _wanted(rows, leds=leds, further_deg={})
    return tuple(_check_row(one, rule=rule, copper=copper) for one in wanted)


def _wanted(rows: Sequence[PlacementRow], *, leds: Sequence[PlacedLed], further_deg: Mapping[str, float]) -> list[_Row]:
    by_ref = {row.ref: row for row in rows}
    return [
        _Row(
            row=by_ref[led.ref],
            part=led.part,
            mounting=led.mounting,
            side=by_ref[led.ref].side or led.side,
            further_deg=further_deg.get(led.ref, 0.0),
        )
        for led in leds
        if led.ref in by_ref
    ]


def is_proven(part: Part) -> bool:
    """Whether more than an assumption says which terminal of a part is which."""
    return part.terminals is not None and (part.terminals.origin != "assumed" or part.mark_verified)


def _check_row(one: _Row, *, rule: PlacementRule, copper: _Copper) -> RowCheck:
    terminals = one.part.terminals
    if terminals is None or one.mounting == "carrier":
        state: PolarityState = "not on this board" if one.mounting == "carrier" else "not told"
        return RowCheck(
            ref=one.row.ref,
            part=one.part.code,
            state=state,
            proven=is_proven(one.part),
            rotation_deg=one.row.rotation_deg,
            anode_mm=None,
        )
    attitude = _attitude(one, rule=rule)
    met = {pad.name: _label_under(pad, attitude=attitude, one=one, copper=copper) for pad in terminals.pads}
    positive = [pad for pad in terminals.pads if pad.role in ("anode", "supply")]
    negative = [pad for pad in terminals.pads if pad.role in ("cathode", "ground")]
    pairs = [
        (met[anode.name], met[cathode.name])
        for anode in positive
        for cathode in negative
        if not (anode.chips or cathode.chips) or set(anode.chips) & set(cathode.chips)
    ]
    place = _on_board(np.array([[*positive[0].at_mm, 0.0]]).T, attitude=attitude, one=one)
    return RowCheck(
        ref=one.row.ref,
        part=one.part.code,
        state=_state(pairs, copper=copper),
        proven=is_proven(one.part),
        rotation_deg=one.row.rotation_deg,
        anode_mm=(round(float(place[0, 0]), 4), round(float(place[1, 0]), 4)),
    )


def _state(pairs: Sequence[tuple[int, int]], *, copper: _Copper) -> PolarityState:
    if any(0 in pair for pair in pairs):
        return "off its pads"
    if any(anode == cathode for anode, cathode in pairs):
        return "both on one net"
    apart = [
        copper.levels[anode] - copper.levels[cathode]
        for anode, cathode in pairs
        if anode in copper.levels and cathode in copper.levels
    ]
    if any((gap < 0).all() for gap in apart):
        return "reversed"
    return "correct" if len(apart) == len(pairs) and all((gap > 0).all() for gap in apart) else "not told"


def _attitude(one: _Row, *, rule: PlacementRule) -> Vectors:
    """Turn in space that takes a part from its own frame to the board as seen from the front, shape (3, 3)."""
    lying = _lying_at_zero(one, rule=rule)
    turned = _about_z(one.row.rotation_deg)
    if one.side == "front":
        return _about_z(one.further_deg) @ turned @ lying
    board_turned = {
        "turned-left-right": HALF_ABOUT_Y @ turned,
        "turned-top-bottom": HALF_ABOUT_X @ turned,
        "through-front-mirrored": turned @ HALF_ABOUT_Y,
        "through-front": turned @ HALF_ABOUT_X,
    }[rule.bottom]
    attitude: Vectors = _about_z(one.further_deg) @ board_turned @ lying
    return attitude


def _lying_at_zero(one: _Row, *, rule: PlacementRule) -> Vectors:
    """How a part lies before the bench's viewer at rotation zero, shape (3, 3)."""
    flips = one.mounting == "lens_down" or (
        one.part.kind == "through_hole" and one.mounting in ("through_hole", "cutout")
    )
    heading, wanted_deg = _HEADINGS[rule.zero](one)
    # A pocket that holds the part solder side up shows it turned over, and its heading with it
    lies_over = rule.zero == "as-taped" and one.part.tape is not None and one.part.tape.face == "solder-up"
    seen = HALF_ABOUT_X @ heading if lies_over else heading
    start = _about_z(wanted_deg - math.degrees(math.atan2(seen[1], seen[0])))
    if not flips:
        return start
    over = HALF_ABOUT_Y if rule.turn == "short-axis" and not lies_over else HALF_ABOUT_X
    laid: Vectors = start @ over
    return laid


def _to_anode(one: _Row) -> Vectors:
    terminals = one.part.terminals
    if terminals is None or len([pad for pad in terminals.pads if pad.role != "none"]) > 2:
        return np.array([1.0, 0.0, 0.0])
    ends = {role: np.mean([pad.at_mm for pad in terminals.of_role(role)], axis=0) for role in ("anode", "cathode")}
    return np.array([*(ends["anode"] - ends["cathode"]), 0.0])


def _shining_or_to_anode(one: _Row) -> tuple[Vectors, float]:
    return (np.array([0.0, 1.0, 0.0]) if one.mounting == "side_view" else _to_anode(one)), 0.0


def _taped(one: _Row) -> tuple[Vectors, float]:
    """The stated terminal, and the direction of its quadrants from the middle of the pocket."""
    tape, terminals = one.part.tape, one.part.terminals
    assert tape is not None
    assert terminals is not None
    terminal = terminals.named(tape.terminal)
    assert terminal is not None
    heading = np.array([*terminal.at_mm, 0.0])
    corners = {1: (-1.0, 1.0), 2: (1.0, 1.0), 3: (-1.0, -1.0), 4: (1.0, -1.0)}
    x, y = np.sum([corners[quadrant] for quadrant in tape.quadrants], axis=0)
    towards_deg = math.degrees(math.atan2(y, x))
    if len(tape.quadrants) == 2:
        return heading, towards_deg
    # A terminal at a corner: the pocket is square to the body, so only whole quarter turns of it fit
    seen = HALF_ABOUT_X @ heading if tape.face == "solder-up" else heading
    own_deg = math.degrees(math.atan2(seen[1], seen[0]))
    quarter = next(turn for turn in (0, 90, 180, 270) if abs((own_deg + turn - towards_deg + 180) % 360 - 180) < 45)
    return heading, own_deg + quarter


_HEADINGS: Mapping[str, Callable[[_Row], tuple[Vectors, float]]] = {
    "axis": _shining_or_to_anode,
    "cathode-left": lambda one: (_to_anode(one), 0.0),
    "anode-left": lambda one: (_to_anode(one), 180.0),
    "as-taped": _taped,
}


def _about_z(angle_deg: float) -> Vectors:
    cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])


def _on_board(points: Vectors, *, attitude: Vectors, one: _Row) -> Vectors:
    """Points of the part on the board, seen from the front, shape (2, n)."""
    placed: Vectors = (attitude @ points)[:2] + np.array([[one.row.x_mm], [one.row.y_mm]])
    return placed


def _label_under(pad: Terminal, *, attitude: Vectors, one: _Row, copper: _Copper) -> int:
    """Label of the land under a terminal, else of the one that begins just beyond its end."""
    half = np.linspace(-0.5, 0.5, PROBES)
    x, y = np.meshgrid(pad.at_mm[0] + half * pad.length_mm, pad.at_mm[1] + half * pad.width_mm)
    metal = np.stack([x.ravel(), y.ravel(), np.zeros(x.size)])
    label = copper.label_at(_on_board(metal, attitude=attitude, one=one), side=one.side)
    outward = np.array([*pad.at_mm, 0.0])
    size = float(np.linalg.norm(outward))
    for step_mm in BESIDE_STEPS_MM:
        if label or size == 0.0:
            break
        moved = metal + (outward / size * step_mm)[:, None]
        label = copper.label_at(_on_board(moved, attitude=attitude, one=one), side=one.side)
    return label


def _build_copper(maps: FaceMaps, *, nets: CopperNets, levels: Levels) -> _Copper:
    layers = [maps.copper_front, *maps.copper_inner, maps.copper_back]
    labels, count = [], 0
    for layer in layers:
        found, more = scipy.ndimage.label(layer > COPPER_FROM)
        labels.append(np.where(found > 0, found + count, 0).astype(np.int32))
        count += more
    joined = _joined_at_holes(labels, holes=maps.plated_holes, count=count)
    merged = {"front": joined[labels[0]], "back": joined[labels[-1]]}
    masks = {"front": maps.mask_front, "back": maps.mask_back}
    bare: dict[Side, Labels] = {
        side: np.where(masks[side] < COPPER_FROM, merged[side], 0).astype(np.int32) for side in ("front", "back")
    }
    told: dict[int, Vectors] = {}
    for land in nets.lands:
        if land.net in levels.of_net:
            point = land.polygon.representative_point()
            column = int((point.x - maps.grid.x_min_mm) / maps.grid.pitch_mm)
            row = int((point.y - maps.grid.y_min_mm) / maps.grid.pitch_mm)
            label = int(merged[land.side][row, column])
            if label:
                told[label] = levels.of_net[land.net]
    return _Copper(maps=maps, bare=bare, levels=told)


def _joined_at_holes(labels: Sequence[Labels], *, holes: npt.NDArray[np.float32], count: int) -> Labels:
    """New label of every label: areas that meet at one plated hole share one; 0 stays 0."""
    rings, n_rings = scipy.ndimage.label(scipy.ndimage.binary_dilation(holes > 0.0))
    pairs = []
    for layer in labels:
        met = (rings > 0) & (layer > 0)
        pairs.append(np.unique(np.stack([count + rings[met], layer[met]]), axis=1))
    first, second = np.concatenate(pairs, axis=1) if pairs else np.zeros((2, 0), dtype=int)
    size = count + n_rings + 1
    graph = scipy.sparse.coo_array((np.ones(first.size), (first, second)), shape=(size, size))
    groups = scipy.sparse.csgraph.connected_components(graph, directed=False)[1]
    joined: Labels = np.where(np.arange(size) == 0, 0, groups + 1).astype(np.int32)
    return joined[: count + 1]
