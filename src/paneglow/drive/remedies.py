"""Changes that would bring a window to the luminance asked: another part, supply, fewer windows, the diffuser."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from paneglow.board import PlacedLed
from paneglow.catalog import Catalog, Part, part_flux_lm
from paneglow.design import Design, Supply
from paneglow.drive.board_circuit import wire_board
from paneglow.drive.match_board import ExactMatch, MatchTask, match_exactly
from paneglow.drive.matching import greatest_level_without
from paneglow.drive.supplies import read_supplies
from paneglow.errors import RangeError

FloatArray = npt.NDArray[np.float64]

REACHED_FRAC = 0.99  # of the luminance asked; what a rounding can still take away is more
PARTS_TRIED = 6  # of the brightest per current; each needs the whole board solved anew
GAIN_LEAST = 1.05  # a change that gives less is not worth telling
CLEAR_FRAC = 0.98  # a diffuser that lets through more than this is not what is missing


ChangeKind = Literal["part", "supply", "windows", "diffuser"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change, what the window (or, were it left out, the others) would show, and whether that is what was asked."""

    kind: ChangeKind  # What would be changed
    words: str  # What to change
    luminance_cd_m2: float  # What the window would then show; of a window left out, what the others would
    reaches: bool  # Whether that is what was asked


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Workbench:
    """Where changes are tried: the design, its LEDs and parts, the match as it is, what their diffusers let through."""

    design: Design
    leds: tuple[PlacedLed, ...]
    catalog: Catalog
    task: MatchTask
    exact: ExactMatch
    passed_frac: Mapping[str, float]
    by_supply: dict[str, FloatArray] = field(default_factory=dict)  # luminance by code: one trial serves all windows


def changes_for(bench: Workbench, *, window: int, asked_cd_m2: float) -> tuple[Change, ...]:
    """Changes that bring one window nearer to what is asked, those that reach it first.

    Notes
    -----
    Every part and supply named was put in and the whole board matched again with it.
    """
    tried = (
        *_other_supply(bench, window=window, asked_cd_m2=asked_cd_m2),
        *_other_part(bench, window=window, asked_cd_m2=asked_cd_m2),
        *_no_diffuser(bench, window=window, asked_cd_m2=asked_cd_m2),
        *_dimming_diffuser(bench, window=window),
        *_fewer_windows(bench, window=window, asked_cd_m2=asked_cd_m2),
    )
    return tuple(sorted(tried, key=lambda change: not change.reaches))


def _rematched_cd_m2(task: MatchTask, *, window: int) -> float:
    return float(_rematched_all_cd_m2(task)[window])


def _rematched_all_cd_m2(task: MatchTask) -> FloatArray:
    """What the windows show once the board is matched anew; 0 where nothing keeps the limits."""
    try:
        return match_exactly(task).luminance_cd_m2
    except RangeError:
        return np.zeros(len(task.windows))


def _other_supply(bench: Workbench, *, window: int, asked_cd_m2: float) -> Iterator[Change]:
    """The smallest supply of the catalogue that reaches it, else the one that comes nearest."""
    now = bench.design.supply
    if now is None:
        return
    best: Change | None = None
    for code, record in read_supplies().items():
        if code not in bench.by_supply:
            supply = Supply(kind=now.kind, cell=code, child_reach=now.child_reach, flash_hz=now.flash_hz)
            design = bench.design.model_copy(update={"supply": supply})
            bench.by_supply[code] = _rematched_all_cd_m2(replace(bench.task, wire=wire_board(design, leds=bench.leds)))
        reached = float(bench.by_supply[code][window])
        reaches = reached >= REACHED_FRAC * asked_cd_m2
        change = Change(kind="supply", words=f"{record.words} ({code})", luminance_cd_m2=reached, reaches=reaches)
        best = change if best is None or reached > best.luminance_cd_m2 else best
        if reaches:
            best = change
            break
    if best is not None and (best.reaches or _gains(best.luminance_cd_m2, bench=bench, window=window)):
        yield best


def _other_part(bench: Workbench, *, window: int, asked_cd_m2: float) -> Iterator[Change]:
    """A brighter or more willing part of the same kind and colour, in every LED of the window."""
    name = bench.task.windows[window]
    own = [led for led in bench.leds if led.window == name]
    if not own:
        return
    present = own[0].part
    alike = [
        part
        for part in bench.catalog.parts.values()
        if part.kind == present.kind and part.colour == present.colour and part.code != present.code
    ]
    best: Change | None = None
    for part in sorted(alike, key=_lumens_per_ma, reverse=True)[:PARTS_TRIED]:
        reached = _rematched_cd_m2(_with_part(bench, part=part, refs={led.ref for led in own}), window=window)
        reaches = reached >= REACHED_FRAC * asked_cd_m2
        if best is None or reached > best.luminance_cd_m2:
            words = f"{part.code} instead of {present.code}"
            best = Change(kind="part", words=words, luminance_cd_m2=reached, reaches=reaches)
        if reaches:
            break
    if best is not None and (best.reaches or _gains(best.luminance_cd_m2, bench=bench, window=window)):
        yield best


def _gains(luminance_cd_m2: float, *, bench: Workbench, window: int) -> bool:
    return luminance_cd_m2 > GAIN_LEAST * float(bench.exact.luminance_cd_m2[window])


def _lumens_per_ma(part: Part) -> float:
    return part_flux_lm(part).value / part.test_current_ma


def _with_part(bench: Workbench, *, part: Part, refs: set[str]) -> MatchTask:
    leds = tuple(replace(led, part=part) if led.ref in refs else led for led in bench.leds)
    old = {led.ref: part_flux_lm(led.part).value for led in bench.leds}
    new = part_flux_lm(part).value
    factors = np.array([new / old[ref] if ref in refs else 1.0 for ref in bench.exact.circuit.refs])
    return replace(bench.task, wire=wire_board(bench.design, leds=leds), light=bench.task.light * factors)


def _no_diffuser(bench: Workbench, *, window: int, asked_cd_m2: float) -> Iterator[Change]:
    name = bench.task.windows[window]
    veiled = [led for led in bench.leds if led.window == name and bench.passed_frac.get(led.ref, 1.0) < CLEAR_FRAC]
    if not veiled:
        return
    gain = {led.ref: 1.0 / bench.passed_frac[led.ref] for led in veiled}
    factors = np.array([gain.get(ref, 1.0) for ref in bench.exact.circuit.refs])
    reached = _rematched_cd_m2(replace(bench.task, light=bench.task.light * factors), window=window)
    yield Change(
        kind="diffuser",
        words=f"no {veiled[0].diffuser} over {', '.join(sorted(gain))}",
        luminance_cd_m2=reached,
        reaches=reached >= REACHED_FRAC * asked_cd_m2,
    )


def _dimming_diffuser(bench: Workbench, *, window: int) -> Iterator[Change]:
    """A diffuser over a window that is too bright, since its LEDs cannot be turned without another window's."""
    name, exact = bench.task.windows[window], bench.exact
    asked = exact.matched.level_cd_m2 * exact.problem.ratio[window]
    shared = any(name in knob.windows and len(knob.windows) > 1 for knob in exact.knobs)
    if not shared or exact.luminance_cd_m2[window] <= GAIN_LEAST * asked:
        return
    passed = asked / exact.luminance_cd_m2[window]
    yield Change(
        kind="diffuser",
        words=f"a diffuser over its LEDs that lets {100 * passed:.0f} % through",
        luminance_cd_m2=asked,
        reaches=True,
    )


def _fewer_windows(bench: Workbench, *, window: int, asked_cd_m2: float) -> Iterator[Change]:
    """Leave this window out of the match, where the others can then stand clearly higher."""
    free = replace(bench.exact.problem, level_cd_m2=None)
    without = greatest_level_without(free, window=window) if len(free.ratio) > 1 else 0.0
    if without > GAIN_LEAST * bench.exact.matched.level_cd_m2 and bench.exact.matched.within_reach[window]:
        yield Change(
            kind="windows",
            words=f"leave {bench.task.windows[window]} out of the match",
            luminance_cd_m2=without,
            reaches=without >= REACHED_FRAC * asked_cd_m2 / float(free.ratio[window]),
        )
