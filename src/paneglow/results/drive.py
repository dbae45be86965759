"""The solved, matched and drained circuit to the records of results.json."""

import math
from collections.abc import Iterator
from typing import Literal

import numpy as np

from paneglow.design import CurrentSource
from paneglow.drive import (
    Circuit,
    DriveAnswer,
    KnobKind,
    LifeRange,
    LifeStage,
    LimitUse,
    LitDrive,
    MatchAnswer,
    MatchedWindow,
    OperatingPoint,
    Turned,
)
from paneglow.results.captions import OTHER_PICTURE
from paneglow.results.drive_records import (
    ChangeResult,
    DriveResults,
    DriveValue,
    LedDrive,
    LifeResult,
    LoadResult,
    MatchedWindowResult,
    MatchResult,
    TurnedResult,
    WindowLife,
)
from paneglow.results.evaluation import Evaluation

SHOWN_TIMES = 121  # of the run; days of rest still show as steps
TURNED_UNITS: dict[KnobKind, Literal["ohm", "mA", "1"]] = {"resistor": "ohm", "sink": "mA", "brightness": "1"}


def build_drive_results(evaluation: Evaluation) -> DriveResults | None:
    """What drives the LEDs; None where a design neither wires nor matches anything."""
    lit = evaluation.drive
    if lit is None or (lit.drive is None and lit.match is None):
        return None
    # Where currents stay the design's own, a match without circuits is all there is to tell
    answer = lit.drive if lit.drive is not None else lit.match.drive if lit.match is not None else None
    if answer is None:
        return None
    point = answer.point
    return DriveResults(
        currents=lit.currents,
        supply=answer.circuit.supply.name,
        supply_v=float(point.supply_v.min()),
        supply_ma=point.mean_supply_ma,
        cycle_hz=answer.circuit.cycle_hz,
        leds=tuple(_leds(answer, life=lit.life)),
        loads=tuple(_loads(answer)),
        life=None if lit.life is None else _life(lit, life=lit.life, evaluation=evaluation),
        match=None if lit.match is None else _match(lit.match, evaluation=evaluation, lit=lit),
        origins=tuple(_origins(answer.circuit)),
    )


def led_current_source(evaluation: Evaluation, *, ref: str) -> CurrentSource:
    """Where the current of one LED comes from."""
    lit = evaluation.drive
    return lit.currents if lit is not None and lit.drive is not None and ref in lit.drive.circuit.refs else "design"


def _leds(answer: DriveAnswer, *, life: LifeRange | None) -> Iterator[LedDrive]:
    point, circuit = answer.point, answer.circuit
    half, end = (_stage_ma(life, stage=stage) for stage in ("half", "end"))
    for number, led in enumerate(circuit.leds):
        yield LedDrive(
            ref=led.ref,
            mean_ma=float(point.mean_current_ma[number]),
            mean_max_ma=led.current_max_ma,
            peak_ma=float(point.peak_current_ma[number]),
            peak_max_ma=led.peak_current_max_ma,
            forward_v=float(point.led_voltage_v[:, number].max()),
            reverse_v=float(point.reverse_voltage_v[number]),
            ghost_ma=float(point.ghost_current_ma[number]),
            light_frac=float(point.light_frac[number]),
            weak_light_frac=float(answer.weak_light_frac[number]),
            modulation_frac=float(answer.modulation_frac[number]),
            junction_c=float(point.junction_c[number]),
            half_life_ma=half.get(led.ref),
            end_life_ma=end.get(led.ref),
        )


def _stage_ma(life: LifeRange | None, *, stage: LifeStage) -> dict[str, float]:
    points = () if life is None else (found.point for found in life.nominal.stages if found.stage == stage)
    return {ref: current for point in points for ref, current in _currents(point).items()}


def _currents(point: OperatingPoint) -> dict[str, float]:
    return dict(zip(point.refs, point.mean_current_ma.tolist(), strict=True))


def _loads(answer: DriveAnswer) -> Iterator[LoadResult]:
    yield from (_load(use) for use in answer.uses if use.kind != "led")
    for resistor in answer.resistors:
        yield LoadResult(
            kind="resistor",
            name=resistor.name,
            quantity="power",
            used=resistor.power_mw,
            limit=resistor.limit_mw,
            unit="mW",
        )


def _load(use: LimitUse) -> LoadResult:
    return LoadResult(
        kind=use.kind, name=use.name, quantity=use.quantity, used=use.used, limit=use.limit, unit=use.unit
    )


def _hours(value: float) -> float | None:
    """JSON has no infinity: hours that do not end are null."""
    return value if math.isfinite(value) else None


def _life(lit: LitDrive, *, life: LifeRange, evaluation: Evaluation) -> LifeResult:
    nominal, light = life.nominal, lit.window_light
    kept = np.unique(np.linspace(0, len(nominal.time_h) - 1, SHOWN_TIMES).round().astype(int))
    names, goals = ((), ()) if light is None else (light.names, light.goal_cd_m2.tolist())
    return LifeResult(
        end=nominal.end,
        limiting_window=nominal.limiting_window,
        lit_h=_hours(nominal.lit_h),
        calendar_h=_hours(nominal.calendar_h),
        shortest_h=_hours(life.shortest_h),
        shortest_case=life.shortest_case,
        longest_h=_hours(life.longest_h),
        longest_case=life.longest_case,
        hours_per_day=evaluation.design.drive.hours_per_day,
        time_h=tuple(nominal.time_h[kept].tolist()),
        supply_v=tuple(nominal.supply_v[kept].tolist()),
        windows=tuple(
            WindowLife(
                name=name,
                goal_cd_m2=goal,
                goal_stated=lit.goal_stated[number],
                lit_h=_hours(float(nominal.window_lit_h[number])),
                luminance_cd_m2=tuple(nominal.luminance_cd_m2[kept, number].tolist()),
            )
            for number, (name, goal) in enumerate(zip(names, goals, strict=True))
        ),
    )


def _match(match: MatchAnswer, *, evaluation: Evaluation, lit: LitDrive) -> MatchResult:
    asked = evaluation.design.drive.match
    currents = _currents(match.drive.point)
    return MatchResult(
        applied=lit.currents == "matching",
        series="E24" if asked is None else asked.series,
        asked_cd_m2=match.asked_cd_m2,
        level_cd_m2=match.level_cd_m2,
        bought_level_cd_m2=match.bought_level_cd_m2,
        agreement_frac=match.agreement_frac,
        reasons=match.reasons,
        windows=tuple(_matched(window) for window in match.windows),
        turned=tuple(_turned(turned, mean_ma=currents[turned.refs[0]]) for turned in match.turned),
        other_picture=OTHER_PICTURE,
    )


def _matched(window: MatchedWindow) -> MatchedWindowResult:
    return MatchedWindowResult(
        name=window.name,
        ratio=window.ratio,
        asked_cd_m2=window.asked_cd_m2,
        before_cd_m2=window.before_cd_m2,
        exact_cd_m2=window.exact_cd_m2,
        after_cd_m2=window.after_cd_m2,
        within_reach=window.within_reach,
        short_frac=1.0 - window.exact_cd_m2 / window.asked_cd_m2 if window.asked_cd_m2 > 0.0 else 0.0,
        departure_frac=window.departure_frac,
        changes=tuple(
            ChangeResult(
                kind=change.kind,
                words=change.words,
                luminance_cd_m2=change.luminance_cd_m2,
                reaches=change.reaches,
            )
            for change in window.changes
        ),
    )


def _turned(turned: Turned, *, mean_ma: float) -> TurnedResult:
    return TurnedResult(
        refs=turned.refs,
        kind=turned.kind,
        unit=TURNED_UNITS[turned.kind],
        before=turned.before,
        exact=turned.exact,
        chosen=turned.chosen,
        pair_ohm=turned.pair_ohm,
        mean_ma=mean_ma,
    )


def _origins(circuit: Circuit) -> Iterator[DriveValue]:
    items = [(circuit.supply.name, circuit.supply.origins)]
    if circuit.chip is not None:
        items.append((circuit.chip.name, circuit.chip.origins))
    for item, origins in items:
        yield from (DriveValue(item=item, words=words, origin=origin) for words, origin in origins)
