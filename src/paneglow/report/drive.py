"""The drive section of the page: what flows, how long it lasts, and the match, ready to print."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from paneglow.drive import AdjustedValue, BrightnessMatch, Change, DriveResults, LedDrive, Load, SupplyLife
from paneglow.look import WindowLook
from paneglow.report.life_chart import LifeChart, LifeLine, build_life_chart
from paneglow.report.numbers import DASH, to_digits
from paneglow.report.swatch import to_swatch_hex

DAY_H = 24.0
CURRENT_FLOOR_MA = 0.0001
CURRENT_WORDS = {"design": "from the design", "circuit": "from the circuit", "matching": "from matching"}
KIND_WORDS = {"resistor": "resistor", "sink": "sink", "brightness": "PWM"}


@dataclass(frozen=True, slots=True, kw_only=True)
class LedDriveRow:
    """One wired LED, ready to print."""

    ref: str
    mean: str
    peak: str
    life: str
    voltage: str
    junction: str
    weak: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRow:
    """One load against its limit, ready to print."""

    subject: str
    quantity: str
    used: str
    limit: str
    percent: float
    over: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowLifeRow:
    """How long one window lasts, ready to print."""

    name: str
    goal: str
    lasts: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchRow:
    """One matched window, ready to print."""

    name: str
    before: str
    asked: str
    after: str
    departure: str
    short: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AdjustedRow:
    """One value to set, ready to print."""

    name: str
    what: str
    before: str
    exact: str
    chosen: str
    pair: str
    current: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchPart:
    """The match, ready to print."""

    lead: str
    reasons: tuple[str, ...]
    changes: tuple[str, ...]
    windows: tuple[MatchRow, ...]
    adjusted: tuple[AdjustedRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrivePart:
    """All of the drive section."""

    lead: str
    leds: tuple[LedDriveRow, ...]
    loads: tuple[LoadRow, ...]
    life: tuple[str, ...]
    chart: LifeChart | None
    lasting: tuple[WindowLifeRow, ...]
    match: MatchPart | None


def build_drive_part(drive: DriveResults, *, windows: tuple[WindowLook, ...]) -> DrivePart:
    """Gather what the section prints.

    Parameters
    ----------
    drive : DriveResults
    windows : tuple of WindowLook
        For the colours of the chart's lines.
    """
    life = drive.life
    return DrivePart(
        lead=supply_sentence(drive),
        leds=tuple(_led_row(led, number=number, life=life) for number, led in enumerate(drive.leds)),
        loads=tuple(build_load_row(load) for load in drive.loads),
        life=() if life is None else life_sentences(life),
        chart=None if life is None else _chart(life, windows={window.name: window for window in windows}),
        lasting=() if life is None else tuple(_lasting(life)),
        match=None if drive.match is None else _match_part(drive.match),
    )


def life_sentences(life: SupplyLife) -> tuple[str, ...]:
    """How long the supply lasts, over which windows, and between which ends."""
    unmet = [window for window in life.windows if not window.met_when_fresh]
    by_goal = any(window.goal_stated for window in life.windows)
    sentences = [_end_sentence(life, by_goal=by_goal)]
    if unmet and by_goal:
        names, one = ", ".join(window.name for window in unmet), len(unmet) == 1
        misses = "misses its goal" if one else "miss their goals"
        sentences.append(f"{names} {misses} from the start and {'is' if one else 'are'} not counted.")
    elif unmet:
        sentences.append("No window meets its goal when fresh, so each is followed to half of its fresh brightness.")
    if life.shortest_h != life.longest_h:
        sentences.append(
            f"Over the ranges of supply and forward voltage: {to_hours_text(life.shortest_h)} ({life.shortest_case}) to"
            f" {to_hours_text(life.longest_h)} ({life.longest_case})."
        )
    return tuple(sentences)


def _end_sentence(life: SupplyLife, *, by_goal: bool) -> str:
    window, after = life.limiting_window, f"After {to_use_text(life.lit_h, life=life)}"
    if life.end == "not reached":
        return "The light has no end to name: the supply does not run down, or lasts ten years."
    if life.end == "never met":
        return f"{window} misses its goal on a fresh supply."
    if life.end == "supply cut off":
        return f"{after} the supply or the chip switches off."
    if life.end == "supply empty":
        return f"{after} the supply is empty, with every window counted still at its goal."
    if by_goal:
        return f"{after} {window} drops below its goal, first of the windows that meet it when fresh."
    return f"{after} {window} has fallen to half of its fresh brightness."


def to_use_text(hours: float | None, *, life: SupplyLife) -> str:
    """Hours of light, and how many evenings or days and nights they are."""
    if hours is None:
        return "no end"
    if life.hours_per_day >= DAY_H:
        return f"{to_hours_text(hours)} of light, day and night"
    evenings = int(hours / life.hours_per_day)
    named = f"{evenings} evening" if evenings == 1 else f"{evenings} evenings"
    return f"{to_hours_text(hours)} of light ({named} of {life.hours_per_day:g} h)"


def match_sentence(match: BrightnessMatch) -> str:
    """One sentence on what the match reached."""
    done = "Windows are matched" if match.applied else f"Proposed {match.series} values would match the windows"
    level = f"at {to_digits(match.bought_level_cd_m2)} cd/m²"
    asked = "" if match.level_cd_m2 >= 0.98 * match.asked_cd_m2 else f" ({to_digits(match.asked_cd_m2)} were asked)"
    away = sum(not window.within_reach for window in match.windows)
    rest = f"; {away} of {len(match.windows)} {'is' if away == 1 else 'are'} out of reach" if away else ""
    return f"{done} {level}{asked} within {100 * match.agreement_frac:.1f} %{rest}."


def to_hours_text(hours: float | None) -> str:
    """Hours of light.

    Examples
    --------
    >>> to_hours_text(5.25), to_hours_text(240.0), to_hours_text(None)
    ('5.2 h', '240 h', 'no end')
    """
    return "no end" if hours is None else f"{to_digits(hours)} h"


def supply_sentence(drive: DriveResults) -> str:
    """Where currents come from, the supply, and what it gives when fresh."""
    rate = "" if drive.cycle_hz is None else f", lit in turn or dimmed at {drive.cycle_hz:g} Hz"
    drawn = f"Fresh, it gives {to_digits(drive.supply_ma)} mA at {drive.supply_v:.2f} V{rate}."
    return f"Currents come {CURRENT_WORDS[drive.currents]}. Supply: {drive.supply}. {drawn}"


def _ma(value: float) -> str:
    return to_digits(value, floor=CURRENT_FLOOR_MA)


def _led_row(led: LedDrive, *, number: int, life: SupplyLife | None) -> LedDriveRow:
    known = [] if life is None else [_ma(stage.led_ma[number]) for stage in life.stages]
    reverse = f", {to_digits(led.reverse_v)} V reverse" if led.reverse_v > 0.0 else ""
    return LedDriveRow(
        ref=led.ref,
        mean=f"{_ma(led.mean_ma)} of {led.mean_max_ma:g} mA",
        peak=f"{_ma(led.peak_ma)} of {led.peak_max_ma:g} mA",
        life=", ".join(known) if len(known) > 1 else DASH,
        voltage=f"{led.forward_v:.2f} V{reverse}",
        junction=f"{led.junction_c:.0f} °C",
        weak=f"{100 * led.weak_light_frac:.0f} %",
    )


def build_load_row(load: Load) -> LoadRow:
    """One load against its limit, ready to print."""
    subjects = {"supply": "supply", "chip": "chip", "resistor": load.name}
    return LoadRow(
        subject=subjects.get(load.kind, f"{load.kind} {load.name}"),
        quantity=load.quantity,
        used=f"{_ma(load.used)} {load.unit}",
        limit=f"{load.limit:g} {load.unit}",
        percent=min(100.0, round(100 * load.used / load.limit, 1)),
        over=load.used > load.limit,
    )


def _chart(life: SupplyLife, *, windows: Mapping[str, WindowLook]) -> LifeChart | None:
    lines = [
        LifeLine(
            name=line.name,
            luminance_cd_m2=line.luminance_cd_m2,
            goal_cd_m2=line.goal_cd_m2,
            swatch_hex=to_swatch_hex(windows[line.name].chromaticity_x, windows[line.name].chromaticity_y),
        )
        for line in life.windows
    ]
    return build_life_chart(life.time_h, lines=lines, limiting=life.limiting_window, end_h=life.calendar_h)


def _lasting(life: SupplyLife) -> Iterator[WindowLifeRow]:
    for window in sorted(life.windows, key=lambda row: float("inf") if row.lit_h is None else row.lit_h):
        yield WindowLifeRow(
            name=window.name,
            goal=f"{to_digits(window.goal_cd_m2)} cd/m²{'' if window.goal_stated else ', half of fresh'}",
            lasts=f"missed from the start: {to_digits(window.fresh_cd_m2)} cd/m²"
            if window.goal_stated and not window.met_when_fresh
            else to_hours_text(window.lit_h),
        )


def _match_part(match: BrightnessMatch) -> MatchPart:
    return MatchPart(
        lead=match_sentence(match),
        reasons=match.reasons,
        changes=tuple(_change_words(change) for change in match.changes),
        windows=tuple(
            MatchRow(
                name=window.name if window.ratio == 1.0 else f"{window.name} (x {window.ratio:g})",
                before=to_digits(window.before_cd_m2),
                asked=to_digits(window.asked_cd_m2),
                after=to_digits(window.after_cd_m2),
                departure=f"{100 * window.departure_frac:+.1f} %".replace("-", "\N{MINUS SIGN}"),
                short=f"{100 * window.short_frac:.0f} % short" if window.short_frac > 0.02 else "",
            )
            for window in match.windows
        ),
        adjusted=tuple(_adjusted_row(adjusted) for adjusted in match.adjusted),
    )


def _change_words(change: Change) -> str:
    shown = f"{to_digits(change.luminance_cd_m2)} cd/m²"
    if change.kind == "windows":
        return f"{change.words}: the others could all stand at {shown}"
    whose = change.windows[0] if len(change.windows) == 1 else f"all {len(change.windows)} windows that fall short"
    return f"{change.words}: {whose} at {shown}, {'enough' if change.reaches else 'still short'}"


def _adjusted_row(adjusted: AdjustedValue) -> AdjustedRow:
    refs, plain = DASH.join(adjusted.refs), "-".join(adjusted.refs)
    return AdjustedRow(
        name=refs if adjusted.name in (plain, f"the resistor of {plain}") else f"{adjusted.name} ({refs})",
        what=KIND_WORDS[adjusted.kind],
        before="none" if adjusted.before is None else to_value_text(adjusted.before, unit=adjusted.unit),
        exact=to_value_text(adjusted.exact, unit=adjusted.unit),
        chosen=to_value_text(adjusted.chosen, unit=adjusted.unit),
        pair=" + ".join(to_value_text(ohm, unit="ohm") for ohm in adjusted.pair_ohm or ()),
        current=f"{_ma(adjusted.mean_ma)} mA",
    )


def to_value_text(value: float, *, unit: str) -> str:
    """A resistance with its prefix, a current, or a share.

    Examples
    --------
    >>> to_value_text(470.0, unit="ohm"), to_value_text(9100.0, unit="ohm"), to_value_text(0.5, unit="1")
    ('470 Ω', '9.1 kΩ', '50 %')
    """
    if unit == "ohm":
        scale, prefix = (1e6, "M") if value >= 1e6 else (1e3, "k") if value >= 1e3 else (1.0, "")
        return f"{value / scale:.3g} {prefix}Ω"
    return f"{value:.3g} mA" if unit == "mA" else f"{100 * value:.3g} %"
