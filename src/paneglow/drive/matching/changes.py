"""Changes that would bring windows to the luminance asked: another supply or part, no diffuser, fewer windows."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from pydantic import Field

from paneglow.board import PlacedLed
from paneglow.catalog import Catalog, part_flux_lm
from paneglow.design import Design, Supply
from paneglow.drive.circuit import build_supply, read_supplies, supply_source, wire_board
from paneglow.drive.matching.exact import ExactMatch, MatchTask, match_exactly
from paneglow.drive.matching.level import FloatArray, greatest_level_cd_m2
from paneglow.errors import RangeError
from paneglow.units import NonNegativeFloat, Record

REACHED_FRAC = 0.99  # of the luminance asked; what a rounding can still take away is more
SHORT_FRAC = 0.02  # of the luminance asked; less than this is rounding, not a window that falls short
PARTS_TRIED = 6  # of the brightest per current; each needs the whole board solved anew
WINDOWS_TRIED = 3  # of those whose absence might raise the others most; our choice
GAIN_LEAST = 1.05  # a change that gives less is not worth proposing
CLEAR_FRAC = 0.98  # a diffuser that lets through more than this is not what is missing


class Change(Record):
    """One change that was tried, and what it gives."""

    kind: Literal["part", "supply", "windows", "diffuser"]  # What would be changed
    words: str = Field(description="What to change.")
    windows: tuple[str, ...] = Field(description="Windows that it helps.")
    luminance_cd_m2: NonNegativeFloat = Field(
        description="What they then show; the least of them over its ratio, where they are several [cd/m2]."
    )
    reaches: bool = Field(description="Whether they then show what is asked.")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Workbench:
    """Where changes are tried: the design, its LEDs and parts, the match as it is, what their diffusers let through."""

    design: Design
    leds: tuple[PlacedLed, ...]
    catalog: Catalog
    task: MatchTask
    exact: ExactMatch
    passed_frac: Mapping[str, float]
    asked_cd_m2: FloatArray  # [window]


def useful_changes(bench: Workbench) -> tuple[Change, ...]:
    """Changes that bring windows nearer to what is asked, each once, those that reach it first.

    Parameters
    ----------
    bench : Workbench

    Notes
    -----
    Every part and supply named was put in and the whole board matched again with it. A part or a diffuser is proposed
    for a window that stands otherwise than the level that all others share; what all are short of, the supply or fewer
    windows must bring.
    """
    exact, ratio = bench.exact, bench.exact.problem.ratio
    short = np.flatnonzero(exact.luminance_cd_m2 < (1.0 - SHORT_FRAC) * bench.asked_cd_m2).tolist()
    apart = (
        np.flatnonzero(np.abs(exact.luminance_cd_m2 / (exact.matched.level_cd_m2 * ratio) - 1.0) > SHORT_FRAC).tolist()
        if exact.matched.level_cd_m2 > 0.0
        else short
    )
    tried = [*_other_supply(bench, short=short), *_fewer_windows(bench, short=short)]
    for window in apart:
        tried += [*_other_part(bench, window=window), *_other_diffuser(bench, window=window)]
    return tuple(sorted(tried, key=lambda change: not change.reaches))


def _rematched_cd_m2(task: MatchTask) -> FloatArray:
    """What the windows show once the board is matched anew; 0 where nothing keeps the limits."""
    try:
        return match_exactly(task).luminance_cd_m2
    except RangeError:
        return np.zeros(len(task.windows))


def _first_or_best(
    tries: Iterator[tuple[str, FloatArray]], *, kind: Literal["part", "supply"], bench: Workbench, windows: list[int]
) -> Iterator[Change]:
    """The first of several tries at which windows show what is asked, else the one that comes nearest, if better."""
    ratio, asked = bench.exact.problem.ratio[windows], bench.asked_cd_m2[windows]
    best, best_frac = None, GAIN_LEAST * float(np.min(bench.exact.luminance_cd_m2[windows] / asked))
    for words, shown_cd_m2 in tries:
        frac = float(np.min(shown_cd_m2[windows] / asked))
        reaches = frac >= REACHED_FRAC
        if reaches or frac > best_frac:
            best_frac = frac
            best = Change(
                kind=kind,
                words=words,
                windows=tuple(bench.task.windows[window] for window in windows),
                luminance_cd_m2=float(np.min(shown_cd_m2[windows] / (ratio if len(windows) > 1 else 1.0))),
                reaches=reaches,
            )
        if reaches:
            break
    if best is not None:
        yield best


def _other_supply(bench: Workbench, *, short: list[int]) -> Iterator[Change]:
    """The smallest supply of the catalogue that reaches it, else the one that comes nearest."""
    now, present = bench.design.supply, bench.exact.circuit.supply
    if now is None or not short:
        return
    present_v = supply_source(present, depth_frac=bench.task.depth_frac).voltage_v

    def tries() -> Iterator[tuple[str, FloatArray]]:
        for code, record in read_supplies().items():
            other = build_supply(code)
            higher = supply_source(other, depth_frac=bench.task.depth_frac).voltage_v > present_v
            if not higher and other.continuous_max_ma <= present.continuous_max_ma:
                continue
            supply = Supply(kind=record.kind, cell=code, child_reach=now.child_reach, flash_hz=now.flash_hz)
            design = bench.design.model_copy(update={"supply": supply})
            rewired = replace(bench.task, wire=wire_board(design, leds=bench.leds))
            yield f"{record.words} ({code})", _rematched_cd_m2(rewired)

    yield from _first_or_best(tries(), kind="supply", bench=bench, windows=short)


def _other_part(bench: Workbench, *, window: int) -> Iterator[Change]:
    """A brighter part, or one of less forward voltage, of the same kind and colour, in every LED of the window."""
    own = [led for led in bench.leds if led.window == bench.task.windows[window]]
    if not own or bench.exact.luminance_cd_m2[window] >= bench.asked_cd_m2[window]:
        return
    present = own[0].part
    alike = [
        part
        for part in bench.catalog.parts.values()
        if part.kind == present.kind and part.colour == present.colour and part.code != present.code
    ]
    alike.sort(key=lambda part: part_flux_lm(part).value / part.test_current_ma, reverse=True)
    refs = {led.ref for led in own}
    was = {led.ref: part_flux_lm(led.part).value for led in bench.leds}

    def tries() -> Iterator[tuple[str, FloatArray]]:
        for part in alike[:PARTS_TRIED]:
            leds = tuple(replace(led, part=part) if led.ref in refs else led for led in bench.leds)
            flux_lm = part_flux_lm(part).value
            factors = np.array([flux_lm / was[ref] if ref in refs else 1.0 for ref in bench.exact.circuit.refs])
            changed = replace(bench.task, wire=wire_board(bench.design, leds=leds), light=bench.task.light * factors)
            yield f"{part.code} instead of {present.code}", _rematched_cd_m2(changed)

    yield from _first_or_best(tries(), kind="part", bench=bench, windows=[window])


def _other_diffuser(bench: Workbench, *, window: int) -> Iterator[Change]:
    """No diffuser over a window that is too dark; one over a window too bright that shares its drive with another."""
    name, exact = bench.task.windows[window], bench.exact
    shown, asked = float(exact.luminance_cd_m2[window]), float(bench.asked_cd_m2[window])
    veiled = [led for led in bench.leds if led.window == name and bench.passed_frac.get(led.ref, 1.0) < CLEAR_FRAC]
    if veiled and shown < asked:
        gain = {led.ref: 1.0 / bench.passed_frac[led.ref] for led in veiled}
        factors = np.array([gain.get(ref, 1.0) for ref in exact.circuit.refs])
        bare = float(_rematched_cd_m2(replace(bench.task, light=bench.task.light * factors))[window])
        words = f"no {veiled[0].diffuser} over {', '.join(sorted(gain))}"
        yield _change("diffuser", words, name, bare, reaches=bare >= REACHED_FRAC * asked)
    level = float(exact.matched.level_cd_m2 * exact.problem.ratio[window])
    shared = any(name in variable.windows and len(variable.windows) > 1 for variable in exact.variables)
    if shared and shown > GAIN_LEAST * level > 0.0:
        words = f"a diffuser over the LEDs of {name} that lets {100 * level / shown:.0f} % through"
        yield _change("diffuser", words, name, level, reaches=True)


def _fewer_windows(bench: Workbench, *, short: list[int]) -> Iterator[Change]:
    """Leave out the window without which the others can stand highest, where that is clearly higher than now.

    Its LEDs then keep the drive they have, so what they take from the supply stays taken.
    """
    exact, task = bench.exact, bench.task
    if not short or len(task.windows) < 2:
        return
    free = replace(exact.problem, level_cd_m2=None)
    bounds = {  # could its LEDs be dimmed at will; those that hold nothing back are not worth a try
        window: greatest_level_cd_m2(free, without=window) for window in np.flatnonzero(exact.matched.held).tolist()
    }
    best, left_out = GAIN_LEAST * exact.matched.level_cd_m2, None
    for window, bound in sorted(bounds.items(), key=lambda item: -item[1])[:WINDOWS_TRIED]:
        if bound <= best:
            break
        others = np.delete(np.arange(len(task.windows)), window)
        fewer = replace(
            task,
            windows=tuple(task.windows[number] for number in others),
            light=task.light[others],
            beside_cd_m2=task.beside_cd_m2[others],
            ratio=task.ratio[others],
        )
        level = float(np.min(_rematched_cd_m2(fewer) / fewer.ratio))
        if level > best:
            best, left_out = level, window
    if left_out is not None:
        yield Change(
            kind="windows",
            words=f"leave {task.windows[left_out]} out of the match",
            windows=tuple(name for number, name in enumerate(task.windows) if number != left_out),
            luminance_cd_m2=best,
            reaches=best >= REACHED_FRAC * float(np.max(bench.asked_cd_m2 / task.ratio)),
        )


def _change(kind: Literal["diffuser"], words: str, window: str, luminance_cd_m2: float, *, reaches: bool) -> Change:
    return Change(kind=kind, words=words, windows=(window,), luminance_cd_m2=luminance_cd_m2, reaches=reaches)
