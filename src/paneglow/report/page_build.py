"""An evaluation to the page: chooses digits, orders rows, embeds pictures; computes nothing about light."""

import math
import re
from collections.abc import Mapping, Sequence
from itertools import groupby

from paneglow.judge import GoalResult
from paneglow.look import WindowLook, false_colour_ramp, render_window_range
from paneglow.report.board_map import build_board_map
from paneglow.report.drive import CURRENT_WORDS, build_drive_part
from paneglow.report.images import (
    enlarge,
    list_ticks,
    round_length_mm,
    to_data_uri,
    to_jpeg,
    to_png,
    window_bounds_mm,
)
from paneglow.report.numbers import (
    to_cause_text,
    to_digits,
    to_percent_text,
    to_range_text,
    to_span_text,
    to_subjects_text,
)
from paneglow.report.page import (
    ChangeRow,
    FateBar,
    Figure,
    GoalRow,
    Item,
    LedRow,
    Page,
    Scale,
    ScaleTick,
    ValueRow,
    WindowRow,
)
from paneglow.report.selection import split_windows
from paneglow.report.swatch import is_beyond_screen, to_swatch_hex
from paneglow.results import GOAL_WORDS, Evaluation, FateShares, LedResult, Results, UsedValue, WindowResult
from paneglow.units import Estimate

LUMINANCE_FLOOR_CD_M2 = 0.001  # below anything a dark-adapted eye tells from black (our choice)
EVENNESS_FLOOR = 0.01  # below it a window is uneven beyond any use (our choice)
UNIT_WORDS = {"1": "", "1/mm": "per mm"}
FATE_WORDS = {
    "front": "out of the front",
    "through": "out through a hole",
    "back": "back out",
    "edge": "out of the edge",
    "hole": "out of holes at the back",
    "absorbed": "absorbed",
    "missed": "missed the board",
}
CLAUSE_END = re.compile(r"[.;] ")
GOAL_SENSE = {"min": "at least", "max": "at most"}


def _place(at_mm: tuple[float, float] | None) -> str:
    return "whole board" if at_mm is None else f"at {at_mm[0]:.1f}, {at_mm[1]:.1f} mm"


def _figures(evaluation: Evaluation, results: Results, pictures: Mapping[str, bytes]) -> dict[str, Figure]:
    height_px, width_px = evaluation.pictures.dark_adapted.shape[:2]
    return {
        picture.name: Figure(
            title=picture.title,
            caption=picture.caption,
            uri=to_data_uri(pictures[picture.name]),
            width_px=width_px,
            height_px=height_px,
        )
        for picture in results.pictures
    }


def _compared(evaluation: Evaluation, results: Results) -> tuple[Figure, Figure] | None:
    """The board before and after matching, as a dark-adapted eye sees it; None where nothing is matched."""
    other, match = evaluation.other_picture, None if results.drive is None else results.drive.match
    if other is None or match is None:
        return None
    shown, compared = (
        Figure(title=title, caption="", uri=to_data_uri(to_jpeg(pixels), kind="jpeg"),
               width_px=pixels.shape[1], height_px=pixels.shape[0])
        for title, pixels in zip(
            ("After matching", "Before") if match.applied else ("Before", "After matching, as proposed"),
            (evaluation.pictures.dark_adapted, other),
            strict=True,
        )
    )  # fmt: skip
    return (compared, shown) if match.applied else (shown, compared)


def _range_pictures(evaluation: Evaluation, window: WindowResult) -> tuple[Figure, ...]:
    low, nominal, high = render_window_range(evaluation.look, bounds_mm=window_bounds_mm(window))
    shown = {"as expected": nominal}
    if evaluation.look.assumed:
        shown = {"at its dimmest": low, "as expected": nominal, "at its brightest": high}
    figures = []
    for title, small in shown.items():
        pixels = enlarge(small)
        height_px, width_px = pixels.shape[:2]
        uri = to_data_uri(to_jpeg(pixels), kind="jpeg")
        figures.append(Figure(title=title, caption="", uri=uri, width_px=width_px, height_px=height_px))
    return tuple(figures)


def _scale(low_cd_m2: float, high_cd_m2: float) -> Scale:
    span = math.log(high_cd_m2 / low_cd_m2)
    places = {value: 100 * math.log(value / low_cd_m2) / span for value in list_ticks(low_cd_m2, high_cd_m2)}
    return Scale(
        uri=to_data_uri(to_png(false_colour_ramp()[None])),
        low=to_digits(low_cd_m2),
        high=to_digits(high_cd_m2),
        ticks=tuple(ScaleTick(percent=percent, text=to_digits(value)) for value, percent in places.items()),
    )


def _unit_after(goal: str, text: str) -> str:
    unit = " %" if goal == "bleed_max" else " cd/m²" if goal.endswith("cd_m2") else ""
    return f"{text}{unit}"


def _to_goal_text(goal: str, estimate: Estimate) -> str:
    if goal == "bleed_max":
        return to_percent_text(estimate)
    return _unit_after(goal, to_range_text(estimate, floor=LUMINANCE_FLOOR_CD_M2))


def _stated(goal: str, value: float) -> str:
    return _unit_after(goal, f"{100 * value if goal == 'bleed_max' else value:g}")


def _margin(goal: str, value: float) -> str:
    scaled = 100 * value if goal == "bleed_max" else value
    sign = "+" if value > 0 else "\N{MINUS SIGN}" if value < 0 else ""
    return _unit_after(goal, sign + to_digits(abs(scaled)))


def _goal_row(goal: GoalResult) -> GoalRow:
    sense = "max" if "_max" in goal.goal else "min"
    return GoalRow(
        goal=GOAL_WORDS.get(goal.goal, goal.goal.replace("_", " ")),
        window=goal.window,
        required=f"{GOAL_SENSE[sense]} {_stated(goal.goal, goal.required)}",
        found=_to_goal_text(goal.goal, goal.found),
        margin=_margin(goal.goal, goal.margin),
        outcome=goal.outcome,
        sentence=goal.sentence,
    )


def _covers(window: WindowResult) -> str:
    shadows = len(window.shadows)
    crossed = "" if shadows == 0 else f", {shadows} {'shadow' if shadows == 1 else 'shadows'}"
    return f"front {window.front.state}, back {window.back.state}{crossed}"


def _window_row(
    look: WindowLook, window: WindowResult, *, pictures: tuple[Figure, ...], goals: Sequence[GoalRow]
) -> WindowRow:
    dominant = look.dominant_wavelength_nm
    left, _, right, _ = window_bounds_mm(window)
    bar_mm = round_length_mm(right - left)
    return WindowRow(
        name=look.name,
        range_pictures=pictures,
        scale_bar=f"{bar_mm:g} mm",
        scale_bar_percent=100 * bar_mm / (right - left),
        swatch=to_swatch_hex(look.chromaticity_x, look.chromaticity_y),
        colour=look.colour_word,
        wavelength="" if dominant is None else f"{dominant:.0f} nm",
        beyond_screen=is_beyond_screen(look.chromaticity_x, look.chromaticity_y),
        luminance_cause=to_cause_text(look.mean_cd_m2, floor=LUMINANCE_FLOOR_CD_M2),
        evenness_cause=to_cause_text(look.evenness, floor=EVENNESS_FLOOR),
        bleed_cause=to_cause_text(look.bleed, percent=True, floor=0.1),
        contrast_cause=to_cause_text(look.contrast),
        luminance=f"{to_range_text(look.mean_cd_m2, floor=LUMINANCE_FLOOR_CD_M2)} cd/m²",
        evenness=to_range_text(look.evenness, floor=EVENNESS_FLOOR),
        stops=to_range_text(look.evenness_stops, floor=0.1),
        bleed=to_percent_text(look.bleed),
        contrast=to_range_text(look.contrast),
        area=f"{to_digits(window.area_mm2)} mm²",
        covers=_covers(window),
        leds=", ".join(look.leds) or "none",
        goals=tuple(goals),
    )


def _window_rows(evaluation: Evaluation, results: Results, goals: Sequence[GoalRow]) -> tuple[WindowRow, ...]:
    facts = {window.name: window for window in results.board.windows}
    return tuple(
        _window_row(
            look,
            facts[look.name],
            pictures=_range_pictures(evaluation, facts[look.name]),
            goals=[goal for goal in goals if goal.window == look.name],
        )
        for look in split_windows(results)[0]
    )


def _other_rows(results: Results) -> tuple[WindowRow, ...]:
    facts = {window.name: window for window in results.board.windows}
    return tuple(_window_row(look, facts[look.name], pictures=(), goals=()) for look in split_windows(results)[1])


def _fate_bar(fates: FateShares) -> tuple[FateBar, ...]:
    return tuple(
        FateBar(key=name, words=words, percent=round(100 * getattr(fates, name).value, 2))
        for name, words in FATE_WORDS.items()
    )


def _led_row(led: LedResult) -> LedRow:
    flux = Estimate(value=led.flux.value_lm, se=0.0, low=led.flux.low_lm, high=led.flux.high_lm)
    fates = led.fates
    return LedRow(
        ref=led.ref,
        part=led.part,
        mounting=led.mounting.replace("_", " "),
        place=_place(led.at_mm).removeprefix("at "),
        window=led.window or "none",
        current=f"{led.current_ma:.3g} mA",
        current_from=CURRENT_WORDS[led.current_from],
        flux=f"{to_range_text(flux, floor=0.0001)} lm",
        front=to_percent_text(fates.front),
        through=to_percent_text(fates.through),
        back=to_percent_text(fates.back),
        edge=to_percent_text(fates.edge),
        absorbed=to_percent_text(fates.absorbed),
        missed=to_percent_text(fates.missed),
        bar=_fate_bar(fates),
    )


def _value_text(value: UsedValue) -> str:
    place = "" if value.at_nm is None else f" at {value.at_nm:g} nm"
    return to_span_text(value.value, low=value.low, high=value.high) + place


def _value_row(values: Sequence[UsedValue]) -> ValueRow:
    first = values[0]
    unit = UNIT_WORDS.get(first.unit, first.unit)
    texts = (_value_text(value) for value in values)
    return ValueRow(
        quantity=first.quantity, value="; ".join(texts), unit=unit, origin=first.origin, source=first.source
    )


def _items(quantities: Sequence[UsedValue]) -> tuple[Item, ...]:
    items: list[Item] = []
    for name, values in groupby(quantities, key=lambda value: value.item):
        kinds = groupby(values, key=lambda value: (value.quantity, value.origin, value.source))
        items.append(Item(name=name, rows=tuple(_value_row(list(rows)) for _, rows in kinds)))
    return tuple(items)


def _change_rows(results: Results) -> tuple[ChangeRow, ...]:
    rows = []
    for number, change in enumerate(results.verdict.changes, start=1):
        findings = (results.verdict.findings[index] for index in change.findings)
        first, *rest = CLAUSE_END.split(change.do, maxsplit=1)
        rows.append(
            ChangeRow(
                number=number,
                improvement=change,
                subjects=to_subjects_text(change.subjects),
                first_words=f"{first}." if rest else change.do,
                findings=tuple((finding, _place(finding.at_mm)) for finding in findings),
            )
        )
    return tuple(rows)


def _noise(results: Results) -> str:
    """Words that stand on the pictures where their grain is noise of the trace."""
    if results.provenance.quality == "draft":
        return "Draft: grain is noise"
    return "Grain is noise" if any(one.code == "result-noisy" for one in results.verdict.findings) else ""


def build_page(evaluation: Evaluation, *, results: Results, pictures: Mapping[str, bytes]) -> Page:
    """Gather what the template prints.

    Parameters
    ----------
    evaluation : Evaluation
        For its pictures and shapes.
    results : Results
        The record of the same evaluation; every number on the page comes from it.
    pictures : mapping of str to bytes
        The four pictures by name, encoded as PNG.

    Returns
    -------
    Page
    """
    verdict = results.verdict
    changes = _change_rows(results)
    goals = tuple(_goal_row(goal) for goal in results.verdict.goals)
    compared = _compared(evaluation, results)
    return Page(
        results=results,
        state="not-settled" if verdict.state == "ready" and results.provisional else verdict.state.replace(" ", "-"),
        figures=_figures(evaluation, results, pictures),
        scale=_scale(*results.false_colour_scale_cd_m2),
        windows=_window_rows(evaluation, results, goals),
        other_windows=_other_rows(results),
        changes=changes,
        noise=_noise(results),
        board_map=build_board_map(
            evaluation.board,
            findings=[(row.number, finding) for row in changes for finding, _ in row.findings],
            picture_mm=evaluation.pictures.grid.bounds_mm,
        ),
        goals=goals,
        leds=tuple(_led_row(led) for led in results.leds),
        fates=tuple(FATE_WORDS.items()),
        items=_items(results.quantities),
        drive=None if results.drive is None else build_drive_part(results.drive, windows=results.windows),
        before=None if compared is None else compared[0],
        after=None if compared is None else compared[1],
    )
