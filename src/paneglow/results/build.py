"""An evaluation to the record that is saved, printed and shown."""

import json

import numpy as np
import numpy.typing as npt
from pydantic import JsonValue

from paneglow.assembly import Assembled
from paneglow.board import Board, PlacedLed, Window, WindowSurvey
from paneglow.design import CurrentSource
from paneglow.drive import DriveResults
from paneglow.errors import to_plain_text
from paneglow.judge import Finding, Improvement
from paneglow.results.captions import PICTURES
from paneglow.results.evaluation import Evaluation
from paneglow.results.quantities import build_quantities
from paneglow.results.records import (
    CheckResults,
    EmittedFlux,
    FateShares,
    LedResult,
    Results,
    SlabResult,
    SurveyResults,
    WindowResult,
)
from paneglow.results.statements import build_assumptions, build_how_to_narrow, build_summary, stated_light
from paneglow.scene import Emitter, Scene
from paneglow.transport import LedLight
from paneglow.units import Estimate, Record

SIGNIFICANT_DIGITS = 7


def _window(window: Window) -> WindowResult:
    return WindowResult(
        name=window.name,
        area_mm2=window.area_mm2,
        bbox_mm=window.bbox_mm,
        centre_mm=window.centre_mm,
        width_mm=window.width_mm,
        exposure=window.exposure,
        front=window.front,
        back=window.back,
        shadows=window.shadows,
        decision=window.decision,
        use=window.use,
    )


def build_survey_results(survey: WindowSurvey) -> SurveyResults:
    """Turn a survey of a board's openings into its record.

    Returns
    -------
    SurveyResults
        What `paneglow windows --json` prints and what stands under "board" in results.json.
    """
    return SurveyResults(
        outline_area_mm2=survey.outline_area_mm2,
        copper_layers=survey.copper_layers,
        pieces=survey.pieces,
        windows=tuple(_window(window) for window in survey.windows),
        others=survey.others,
        totals=survey.totals,
        notes=survey.notes,
    )


def build_check_results(
    board: Board,
    *,
    assembled: Assembled,
    drive: DriveResults | None,
    findings: tuple[Finding, ...],
    changes: tuple[Improvement, ...],
    provisional: tuple[str, ...] = (),
) -> CheckResults:
    """Turn a board, what was found on it, how its LEDs lie, what drives them and how it is built into a record."""
    return CheckResults(
        name=board.name,
        leds=len(board.soldered.leds),
        windows=len(board.survey.windows),
        findings=findings,
        changes=changes,
        notes=(*board.survey.notes, *board.notes),
        polarity=assembled.polarity,
        drive=drive,
        building=assembled.building,
        provisional=provisional,
    )


def _share(values: npt.NDArray[np.float64], errors: npt.NDArray[np.float64]) -> Estimate:
    low, high = int(values.argmin()), int(values.argmax())
    return Estimate(
        value=float(values[0]),
        se=float(errors[0]),
        low=float(values[low]),
        high=float(values[high]),
        low_se=float(errors[low]),
        high_se=float(errors[high]),
    )


def _fates(light: LedLight) -> FateShares:
    fields = FateShares.model_fields
    return FateShares(**{name: _share(getattr(light.fates, name), getattr(light.fates_se, name)) for name in fields})


def _flux(led: PlacedLed, emitter: Emitter) -> EmittedFlux:
    stated = stated_light(led.part)
    return EmittedFlux(
        value_lm=emitter.flux_lm,
        low_lm=emitter.flux_lm_low,
        high_lm=emitter.flux_lm_high,
        origin=stated.origin,
        source=stated.source,
    )


def _led(led: PlacedLed, emitter: Emitter, light: LedLight, *, current_from: CurrentSource) -> LedResult:
    return LedResult(
        ref=led.ref,
        part=led.part.code,
        mounting=led.mounting,
        side=led.side,
        at_mm=led.at_mm,
        rotation_deg=led.rotation_deg,
        window=led.window,
        current_ma=led.current_ma,
        current_from=current_from,
        flux=_flux(led, emitter),
        fates=_fates(light),
    )


def _leds(evaluation: Evaluation) -> tuple[LedResult, ...]:
    emitters = {emitter.ref: emitter for emitter in evaluation.scene.emitters}
    lights = {light.ref: light for light in evaluation.tally.leds}
    drive = evaluation.drive
    sources = {} if drive is None else {led.ref: drive.currents for led in drive.leds}
    return tuple(
        _led(led, emitters[led.ref], lights[led.ref], current_from=sources.get(led.ref, "design"))
        for led in evaluation.board.leds
    )


def _slabs(scene: Scene) -> tuple[SlabResult, ...]:
    axis = tuple(float(value) for value in scene.wavelength_nm)
    return tuple(
        SlabResult(
            name=slab.name,
            scatter_per_mm=slab.scatter_per_mm,
            wavelength_nm=axis,
            absorb_per_mm=tuple(float(value) for value in slab.absorb_per_mm),
        )
        for slab in scene.slabs
    )


def build_results(evaluation: Evaluation) -> Results:
    """Turn an evaluation into the record of results.json.

    Parameters
    ----------
    evaluation : Evaluation
        One run of the chain.

    Returns
    -------
    Results
        Numbers, sentences and origins; pictures by file name only.
    """
    design, board, catalog = evaluation.design, evaluation.board, evaluation.catalog
    return Results(
        name=design.name,
        summary=build_summary(evaluation.verdict, provisional=bool(evaluation.provisional)),
        design=design,
        board=build_survey_results(board.survey),
        leds=_leds(evaluation),
        placement_notes=board.notes,
        windows=evaluation.look.windows,
        verdict=evaluation.verdict,
        polarity=evaluation.assembled.polarity,
        building=evaluation.assembled.building,
        slabs=_slabs(evaluation.scene),
        assumed=evaluation.look.assumed,
        assumptions=build_assumptions(design=design, board=board, catalog=catalog),
        how_to_narrow=build_how_to_narrow(design=design, board=board, catalog=catalog),
        quantities=build_quantities(design=design, board=board, catalog=catalog, scene=evaluation.scene),
        pictures=PICTURES,
        false_colour_scale_cd_m2=evaluation.pictures.false_colour_scale_cd_m2,
        cost=evaluation.cost,
        provisional=evaluation.provisional,
        provenance=evaluation.provenance,
        drive=evaluation.drive,
    )


def to_json(record: Record) -> str:
    """Write a record as the JSON text that is saved and printed: two-space indent, one final line break.

    Numbers carry seven significant digits, far finer than anything measured or computed here. Characters that do not
    show are written out.
    """
    return json.dumps(_plain(record.model_dump(mode="json")), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _plain(value: JsonValue) -> JsonValue:
    if isinstance(value, float):
        return float(f"{value:.{SIGNIFICANT_DIGITS}g}")
    if isinstance(value, str):
        return to_plain_text(value, keep="\n\t")
    if isinstance(value, list):
        return [_plain(item) for item in value]
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return value
