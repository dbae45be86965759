"""Plots of the cost section as SVG pictures that are light on dark where the reader's screen is dark."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from html import escape

from paneglow.cost import WAY_WORDS, Group, Statement, Way, sum_groups
from paneglow.report.images import to_data_uri
from paneglow.results import CostResults, OptionResult
from paneglow.units import Estimate

WAY_COLOURS: dict[Way, str] = {"hand": "#c2710c", "mixed": "#2f7f86", "service": "#6b5fb5"}
GROUP_COLOURS: dict[Group, str] = {
    "boards": "#4d7a3a", "parts": "#c2710c", "assembly": "#6b5fb5", "labour": "#2f7f86", "packaging": "#a2557a",
    "once": "#7a7a72", "leftovers": "#d9a441",
}  # fmt: skip
SHOWN_INPUTS = 8
# The ink of report.css, light and dark: a picture does not see the style of the page around it
STYLE = "<style>svg { color: #1c2230 } @media (prefers-color-scheme: dark) { svg { color: #e6e6e0 } }</style>"
WIDTH_PX, FONT_PX, SMALL_PX = 672.0, 12.0, 10.5
LETTER_FRAC = 0.56  # mean width of a letter over the size of its font, of common sans-serif fonts
LABEL_MOST_PX = 300.0  # room for the labels beside bars; longer ones lose their end
INK = "currentColor"
TICKS = 6  # about so many along an axis
NICE = (1.0, 2.0, 5.0, 10.0)
# Marks of versions: corners, none for a disc, and by which share of a step the first is turned from the top
MARKS = ((0, 0.0), (4, 0.5), (3, 0.0), (4, 0.0), (3, 0.5), (6, 0.0), (5, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """One plot, ready to embed, with words for those who cannot see it."""

    title: str
    uri: str
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    """Values along one side of a plot, and where they lie on the picture [px]."""

    low: float
    high: float
    start_px: float
    end_px: float
    log: bool = False

    def at(self, value: float) -> float:
        low, high, place = (math.log(x) if self.log else x for x in (self.low, self.high, value))
        return self.start_px + (place - low) / (high - low) * (self.end_px - self.start_px)

    def ticks(self) -> list[float]:
        """Round numbers: 1, 2 and 5 of every decade, or even steps."""
        if self.log:
            decades = range(math.floor(math.log10(self.low)), math.ceil(math.log10(self.high)) + 1)
            values = (nice * 10.0**decade for decade in decades for nice in NICE[:3])
        else:
            rough = (self.high - self.low) / TICKS
            decade = 10.0 ** math.floor(math.log10(rough))
            step = decade * next(nice for nice in NICE if nice * decade >= rough)
            values = (step * number for number in range(math.ceil(self.low / step), math.floor(self.high / step) + 1))
        return [value for value in values if self.low <= value <= self.high]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """A picture that is being drawn; x to the right, y downward [px]."""

    height_px: float
    parts: list[str] = field(default_factory=list)

    def path(
        self, points: Iterable[tuple[float, float]], *, colour: str = INK, width_px: float = 1.0, more: str = ""
    ) -> None:
        line = "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
        self.parts.append(f'<path d="M{line}" fill="none" stroke="{colour}" stroke-width="{width_px:g}"{more}/>')

    def words(
        self, words: str, *, x: float, y: float, anchor: str = "middle", size_px: float = FONT_PX, turned: bool = False
    ) -> None:
        turn = f' transform="rotate(-90 {x:.1f} {y:.1f})"' if turned else ""
        self.parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" dy="0.35em" text-anchor="{anchor}" font-size="{size_px:g}"{turn}>'
            f"{escape(words)}</text>"
        )

    def bar(self, *, x: tuple[float, float], y: float, height_px: float, colour: str, opacity: float = 1.0) -> None:
        left, right = min(x), max(x)
        self.parts.append(
            f'<rect x="{left:.1f}" y="{y - height_px / 2:.1f}" width="{right - left:.1f}" height="{height_px:.1f}"'
            f' fill="{colour}" fill-opacity="{opacity:g}"/>'
        )

    def mark(self, number: int, *, x: float, y: float, area: float, colour: str, edged: bool = False) -> None:
        """Mark of the version of that number, over so much of the picture [px2]."""
        corners, turn = MARKS[number % len(MARKS)]
        look = f'fill="{colour}" fill-opacity="0.85"' + (f' stroke="{INK}" stroke-width="2"' if edged else "")
        radius = math.sqrt(area / math.pi)
        if not corners:
            self.parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" {look}/>')
            return
        turns = (2 * math.pi * ((step + turn) / corners - 0.25) for step in range(corners))
        ring = "L".join(f"{x + radius * math.cos(turn):.1f} {y + radius * math.sin(turn):.1f}" for turn in turns)
        self.parts.append(f'<path d="M{ring}Z" {look}/>')

    def axes(self, *, across: _Scale, up: _Scale | None, across_words: str, up_words: str = "") -> None:
        """The two sides of a plot with their ticks and words; without a scale upward only the lower one."""
        bottom = self.height_px - 40.0 if up is None else up.start_px
        top = 8.0 if up is None else up.end_px
        self.path([(across.start_px, top), (across.start_px, bottom), (across.end_px, bottom)])
        for value in across.ticks():
            x = across.at(value)
            self.path([(x, bottom), (x, bottom + 4)])
            self.words(f"{value:g}", x=x, y=bottom + 13)
        self.words(across_words, x=(across.start_px + across.end_px) / 2, y=bottom + 31)
        if up is None:
            return
        for value in up.ticks():
            y = up.at(value)
            self.path([(across.start_px - 4, y), (across.start_px, y)])
            self.words(f"{value:g}", x=across.start_px - 8, y=y, anchor="end")
        self.words(up_words, x=across.start_px - 44, y=(top + bottom) / 2, turned=True)

    def key(self, entries: Sequence[tuple[str, str]], *, x: float, y: float) -> None:
        """Words behind squares of their colours, in a row."""
        for words, colour in entries:
            self.bar(x=(x, x + 10), y=y, height_px=10, colour=colour)
            self.words(words, x=x + 14, y=y, anchor="start", size_px=SMALL_PX)
            x += 26 + LETTER_FRAC * SMALL_PX * len(words)

    def finish(self, title: str) -> Plot:
        size = f'width="{WIDTH_PX:g}" height="{self.height_px:g}" viewBox="0 0 {WIDTH_PX:g} {self.height_px:g}"'
        svg = (
            f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="sans-serif" font-size="{FONT_PX:g}"'
            f' fill="{INK}">{STYLE}{"".join(self.parts)}</svg>'
        )
        return Plot(
            title=title,
            uri=to_data_uri(svg.encode(), kind="svg+xml"),
            width_px=round(WIDTH_PX),
            height_px=round(self.height_px),
        )


def plot_curves(results: CostResults) -> Plot:
    """Unit cost of every way against quantity, both axes logarithmic; dashed where leftovers are carried."""
    answer, sheet = results.answer, _Sheet(height_px=346)
    goods = [good for curve in answer.curves for good in curve.good]
    units = [float(unit) for curve in answer.curves for unit in (*curve.unit, *curve.unit_carried) if unit > 0]
    across = _scale(goods, start_px=62, end_px=WIDTH_PX - 10, log=True)
    up = _scale(units, start_px=sheet.height_px - 40, end_px=20, log=True)
    for curve in answer.curves:
        for each, width_px, more in (
            (curve.unit, 2.0, ""), (curve.unit_carried, 1.2, ' stroke-dasharray="5 3"')
        ):  # fmt: skip
            points = [
                (across.at(good), up.at(float(unit))) for good, unit in zip(curve.good, each, strict=True) if unit
            ]
            sheet.path(points, colour=WAY_COLOURS[curve.way], width_px=width_px, more=more)
    for found in (found for found in answer.crossovers if not found.carried):
        x = across.at(found.good)
        sheet.path([(x, up.start_px), (x, up.end_px)], width_px=0.8, more=' stroke-opacity="0.5"')
        sheet.words(str(found.good), x=x, y=up.end_px - 9, size_px=SMALL_PX)
    sheet.axes(
        across=across, up=up, across_words="good pieces of a run", up_words=f"cost of one, {results.currency}"
    )  # fmt: skip
    unquoted = {row.way for row in answer.statements if not row.quoted}
    for number, curve in enumerate(answer.curves):
        words = f"{WAY_WORDS[curve.way]}, fees assumed" if curve.way in unquoted else WAY_WORDS[curve.way]
        sheet.key([(words, WAY_COLOURS[curve.way])], x=WIDTH_PX - 220, y=34 + 18 * number)
    return sheet.finish("Cost of one good piece against the size of the run, for every way to build")


def plot_groups(results: CostResults) -> Plot:
    """What a piece costs by kind of charge, a bar for every way at the first run."""
    statements = _first_run(results)
    sheet = _Sheet(height_px=76 + 44.0 * len(statements))
    shares = {row.way: {group: float(each) for group, (_, each) in sum_groups(row.lines).items()} for row in statements}
    used = [group for group in GROUP_COLOURS if any(share.get(group) for share in shares.values())]
    left_px = _label_px(WAY_WORDS[way] for way in shares)
    totals = [sum(max(each, 0.0) for each in share.values()) for share in shares.values()]
    across = _Scale(low=0.0, high=1.04 * max(totals) or 1.0, start_px=left_px, end_px=WIDTH_PX - 10)
    sheet.key([(group, GROUP_COLOURS[group]) for group in used], x=left_px, y=10)
    for number, (way, share) in enumerate(shares.items()):
        y, reached = 46 + 44.0 * number, 0.0
        sheet.words(WAY_WORDS[way], x=left_px - 8, y=y, anchor="end")
        for group in used:
            ends = across.at(reached), across.at(reached + share.get(group, 0.0))
            sheet.bar(x=ends, y=y, height_px=26, colour=GROUP_COLOURS[group])
            reached += share.get(group, 0.0)
    sheet.axes(across=across, up=None, across_words=f"cost of one, {results.currency}")
    return sheet.finish("Cost of one good piece by kind of charge, for every way to build")


def plot_inputs(results: CostResults, *, way: Way) -> Plot:
    """How far each input alone moves the unit cost of one way over its range, the widest first."""
    rows = [row for row in results.answer.sensitivity if row.way == way and row.swing][:SHOWN_INPUTS]
    stated = float(next(row.stated for row in results.answer.risks if row.way == way))
    sheet = _Sheet(height_px=62 + 27.0 * len(rows))
    left_px = _label_px(row.what for row in rows)
    ends = [stated, *(float(end) for row in rows for end in (row.unit_at_low, row.unit_at_high))]
    across = _scale(ends, start_px=left_px, end_px=WIDTH_PX - 10)
    for number, row in enumerate(rows):
        y = 22 + 27.0 * number
        most = int((left_px - 12) / (LETTER_FRAC * FONT_PX))
        sheet.words(row.what if len(row.what) <= most else f"{row.what[: most - 1]}…", x=left_px - 8, y=y, anchor="end")
        for end, opacity in ((row.unit_at_low, 0.45), (row.unit_at_high, 1.0)):
            ends_px = across.at(stated), across.at(float(end))
            sheet.bar(x=ends_px, y=y, height_px=16, colour=WAY_COLOURS[way], opacity=opacity)
    sheet.path([(across.at(stated), 8), (across.at(stated), sheet.height_px - 40)])
    sheet.axes(across=across, up=None, across_words=f"cost of one, {results.currency} (pale: input at its low end)")
    return sheet.finish(f"What moves the cost of one piece most, {WAY_WORDS[way]}")


def plot_options(results: CostResults) -> Plot:
    """Versions and ways: cost against evenness, or against own minutes where no light is known; rings mark the best."""
    lit = [row for row in results.options if row.light is not None]
    shown: Sequence[OptionResult] = lit or results.options
    names, ways = list(dict.fromkeys(row.name for row in shown)), list(dict.fromkeys(row.way for row in shown))
    sheet = _Sheet(height_px=346)
    heights = (_evenness, _luminance) if lit else (_minutes,)
    key_px = 40 + LETTER_FRAC * SMALL_PX * max(len(words) for words in (*names, *(WAY_WORDS[way] for way in ways)))
    room_px = (WIDTH_PX - min(key_px, LABEL_MOST_PX)) / len(heights)
    for number, height in enumerate(heights):
        spans = [height(row) for row in shown]
        left_px = number * room_px + 62
        across = _scale(
            [float(row.unit) for row in shown], start_px=left_px, end_px=left_px + room_px - 76, margin=0.12
        )
        up = _Scale(
            low=0.0, high=1.12 * max(high for _, _, high in spans) or 1.0, start_px=sheet.height_px - 40, end_px=10
        )  # fmt: skip
        for row, (low, middle, high) in zip(shown, spans, strict=True):
            x, colour = across.at(float(row.unit)), WAY_COLOURS[row.way]
            sheet.path([(x, up.at(low)), (x, up.at(high))], colour=colour, width_px=1.6, more=' stroke-opacity="0.6"')
            area = 64 + 12 * float(row.minutes)
            sheet.mark(names.index(row.name), x=x, y=up.at(middle), area=area, colour=colour, edged=row.best)
        sheet.axes(
            across=across, up=up, across_words=f"cost of one, {results.currency}: cheap to the left",
            up_words=AXIS_WORDS[height.__name__],
        )  # fmt: skip
    x, y = WIDTH_PX - min(key_px, LABEL_MOST_PX) + 12, sheet.height_px / 2 - 9.0 * (len(names) + len(ways))
    for number, name in enumerate(names):
        sheet.mark(number, x=x, y=y + 18 * number, area=64, colour=INK)
        sheet.words(name, x=x + 12, y=y + 18 * number, anchor="start", size_px=SMALL_PX)
    for number, way in enumerate(ways, start=len(names)):
        sheet.mark(0, x=x, y=y + 18 * number, area=64, colour=WAY_COLOURS[way])
        sheet.words(WAY_WORDS[way], x=x + 12, y=y + 18 * number, anchor="start", size_px=SMALL_PX)
    return sheet.finish("Versions and ways to build: what each costs, how it looks, how long it takes")


def _scale(
    values: Sequence[float], *, start_px: float, end_px: float, log: bool = False, margin: float = 0.05
) -> _Scale:
    """A scale that holds all values, with a share of it to spare at both ends."""
    low, high = (math.log(end) if log else end for end in (min(values), max(values)))
    spare = margin * (high - low) or 0.5 * abs(high) or 0.5
    ends = (math.exp(low - spare), math.exp(high + spare)) if log else (low - spare, high + spare)
    return _Scale(low=ends[0], high=ends[1], start_px=start_px, end_px=end_px, log=log)


def _label_px(labels: Iterable[str]) -> float:
    return min(LABEL_MOST_PX, 16 + LETTER_FRAC * FONT_PX * max((len(label) for label in labels), default=0))


Span = tuple[float, float, float]  # low, value, high


def _evenness(row: OptionResult) -> Span:
    return _span(None if row.light is None else row.light.evenness)


def _luminance(row: OptionResult) -> Span:
    return _span(None if row.light is None else row.light.mean_cd_m2)


def _minutes(row: OptionResult) -> Span:
    return (float(row.minutes),) * 3


def _span(estimate: Estimate | None) -> Span:
    return (0.0, 0.0, 0.0) if estimate is None else (estimate.low, estimate.value, estimate.high)


AXIS_WORDS = {
    "_evenness": "mean evenness: good is high",
    "_luminance": "mean luminance, cd/m²",
    "_minutes": "own minutes per piece: fast is low",
}


def _first_run(results: CostResults) -> list[Statement]:
    statements = results.answer.statements
    return [row for row in statements if row.good == statements[0].good]
