"""The drive section of the page: what flows, how long it lasts, and the match, ready to print."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from paneglow.look import WindowLook
from paneglow.report.life_chart import LifeChart, LifeLine, build_life_chart
from paneglow.report.numbers import DASH, to_digits
from paneglow.report.swatch import to_swatch_hex
from paneglow.results import ChangeResult, DriveResults, LedDrive, LifeResult, LoadResult, MatchResult, TurnedResult

DAY_H = 24.0
DAYS_FROM_H = 96.0  # longer lives are told in days
CURRENT_FLOOR_MA = 0.0001
CURRENT_WORDS = {"design": "from the design", "circuit": "from the circuit", "matching": "from matching"}
END_WORDS = {
    "window below goal": "until {window} drops below its goal",
    "supply cut off": "until the supply or the chip switches off",
    "supply empty": "until the supply is empty, every window above its goal",
    "not reached": "without end: the supply does not run down, or lasts ten years",
    "never met": "not at all: {window} misses its goal on a fresh supply",
}
TURNED_WORDS = {"resistor": "resistor", "sink": "sink", "brightness": "PWM"}


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
    changes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnedRow:
    """One value to set, ready to print."""

    refs: str
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
    windows: tuple[MatchRow, ...]
    turned: tuple[TurnedRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrivePart:
    """All of the drive section."""

    lead: str
    leds: tuple[LedDriveRow, ...]
    loads: tuple[LoadRow, ...]
    life: str
    life_range: str
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
        leds=tuple(_led_row(led) for led in drive.leds),
        loads=tuple(_load_row(load) for load in drive.loads),
        life="" if life is None else _life_words(life),
        life_range="" if life is None else _range_words(life),
        chart=None if life is None else _chart(life, windows={window.name: window for window in windows}),
        lasting=() if life is None else tuple(_lasting(life)),
        match=None if drive.match is None else _match_part(drive.match),
    )


def life_sentence(drive: DriveResults) -> str:
    """One sentence on how long the supply lasts, with its range; empty where nothing is known."""
    return "" if drive.life is None else f"{_life_words(drive.life)} {_range_words(drive.life)}".strip()


def match_sentence(match: MatchResult) -> str:
    """One sentence on what the match reached."""
    done = "Windows are matched" if match.applied else f"Proposed {match.series} values would match the windows"
    level = f"at {to_digits(match.bought_level_cd_m2)} cd/m²"
    asked = "" if match.level_cd_m2 >= 0.98 * match.asked_cd_m2 else f" ({to_digits(match.asked_cd_m2)} were asked)"
    away = sum(not window.within_reach for window in match.windows)
    rest = f"; {away} of {len(match.windows)} {'is' if away == 1 else 'are'} out of reach" if away else ""
    return f"{done} {level}{asked} within {100 * match.agreement_frac:.1f} %{rest}."


def to_hours_text(hours: float | None) -> str:
    """Hours, or days from four of them on.

    Examples
    --------
    >>> to_hours_text(5.25), to_hours_text(240.0), to_hours_text(None)
    ('5.2 h', '10 days', 'no end')
    """
    if hours is None:
        return "no end"
    return f"{to_digits(hours)} h" if hours < DAYS_FROM_H else f"{to_digits(hours / DAY_H)} days"


def supply_sentence(drive: DriveResults) -> str:
    """Where currents come from, the supply, and what it gives when fresh."""
    rate = "" if drive.cycle_hz is None else f", lit in turn or dimmed at {drive.cycle_hz:g} Hz"
    at = "" if drive.supply_v is None else f" at {drive.supply_v:.2f} V"
    drawn = "" if drive.supply_ma is None else f" Fresh, it gives {to_digits(drive.supply_ma)} mA{at}{rate}."
    return f"Currents come {CURRENT_WORDS[drive.currents]}. Supply: {drive.supply}.{drawn}"


def _ma(value: float) -> str:
    return to_digits(value, floor=CURRENT_FLOOR_MA)


def _led_row(led: LedDrive) -> LedDriveRow:
    stages = (led.mean_ma, led.half_life_ma, led.end_life_ma)
    known = [_ma(value) for value in stages if value is not None]
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


def _load_row(load: LoadResult) -> LoadRow:
    return LoadRow(
        subject=load.kind if load.kind in ("supply", "chip") else f"{load.kind} {load.name}",
        quantity=load.quantity,
        used=f"{_ma(load.used)} {load.unit}",
        limit=f"{load.limit:g} {load.unit}",
        percent=min(100.0, round(100 * load.used / load.limit, 1)),
        over=load.used > load.limit,
    )


def _life_words(life: LifeResult) -> str:
    ending = END_WORDS[life.end].format(window=life.limiting_window or "a window")
    if life.end in ("not reached", "never met"):
        return f"It shines {ending}."
    daily = "" if life.hours_per_day >= DAY_H else f", at {life.hours_per_day:g} h a day"
    return f"It shines for {to_hours_text(life.lit_h)}{daily}, {ending}."


def _range_words(life: LifeResult) -> str:
    if life.shortest_h == life.longest_h:
        return ""
    return (
        f"Over the ranges of supply and forward voltage: {to_hours_text(life.shortest_h)} ({life.shortest_case}) to"
        f" {to_hours_text(life.longest_h)} ({life.longest_case})."
    )


def _chart(life: LifeResult, *, windows: Mapping[str, WindowLook]) -> LifeChart | None:
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


def _lasting(life: LifeResult) -> Iterator[WindowLifeRow]:
    for window in sorted(life.windows, key=lambda row: float("inf") if row.lit_h is None else row.lit_h):
        yield WindowLifeRow(
            name=window.name,
            goal=f"{to_digits(window.goal_cd_m2)} cd/m²{'' if window.goal_stated else ', half of fresh'}",
            lasts="never met" if window.lit_h == 0.0 else to_hours_text(window.lit_h),
        )


def _match_part(match: MatchResult) -> MatchPart:
    return MatchPart(
        lead=match_sentence(match),
        reasons=tuple(reason.replace("cd/m2", "cd/m²") for reason in match.reasons),
        windows=tuple(
            MatchRow(
                name=window.name if window.ratio == 1.0 else f"{window.name} (x {window.ratio:g})",
                before=to_digits(window.before_cd_m2),
                asked=to_digits(window.asked_cd_m2),
                after=to_digits(window.after_cd_m2),
                departure=f"{100 * window.departure_frac:+.1f} %".replace("-", "\N{MINUS SIGN}"),
                short=f"{100 * window.short_frac:.0f} % short" if window.short_frac > 0.02 else "",
                changes=tuple(_change_words(change) for change in window.changes),
            )
            for window in match.windows
        ),
        turned=tuple(_turned_row(turned) for turned in match.turned),
    )


def _change_words(change: ChangeResult) -> str:
    shown = f"{to_digits(change.luminance_cd_m2)} cd/m²"
    if change.kind == "windows":
        return f"{change.words}: the others could all stand at {shown}"
    return f"{change.words}: {shown}, {'enough' if change.reaches else 'still short'}"


def _turned_row(turned: TurnedResult) -> TurnedRow:
    return TurnedRow(
        refs=DASH.join(turned.refs),
        what=TURNED_WORDS[turned.kind],
        before="none" if turned.before is None else to_value_text(turned.before, unit=turned.unit),
        exact=to_value_text(turned.exact, unit=turned.unit),
        chosen=to_value_text(turned.chosen, unit=turned.unit),
        pair=" + ".join(to_value_text(ohm, unit="ohm") for ohm in turned.pair_ohm or ()),
        current=f"{_ma(turned.mean_ma)} mA",
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
