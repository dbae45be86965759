"""Plots of the cost section as SVG pictures that are light on dark where the reader's screen is dark."""

import io
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from paneglow.cost import WAY_WORDS, Group, Statement, Way, sum_groups
from paneglow.report.images import to_data_uri
from paneglow.results import CostResults, OptionResult
from paneglow.units import Estimate

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INK = "#010203"  # stands for the ink in what the plotting library writes
WAY_COLOURS: dict[Way, str] = {"hand": "#c2710c", "mixed": "#2f7f86", "service": "#6b5fb5"}
GROUP_COLOURS: dict[Group, str] = {
    "boards": "#4d7a3a", "parts": "#c2710c", "assembly": "#6b5fb5", "labour": "#2f7f86", "packaging": "#a2557a",
    "once": "#7a7a72", "leftovers": "#d9a441",
}  # fmt: skip
MARKERS = ("o", "s", "^", "D", "v", "P", "X")
SHOWN_INPUTS = 8
# The ink of report.css, light and dark: a picture does not see the style of the page around it
STYLE = "<style>svg { color: #1c2230 } @media (prefers-color-scheme: dark) { svg { color: #e6e6e0 } }</style>"
WIDTH_PX, PX_PER_IN = 672, 96


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """One plot, ready to embed, with words for those who cannot see it."""

    title: str
    uri: str
    width_px: int
    height_px: int


Finish = Callable[[str], Plot]  # title to picture


@contextmanager
def _axes(
    *, height_in: float, salt: str, panels: int = 1
) -> Iterator[tuple[tuple["Axes", ...], Callable[[str], Plot]]]:
    """Axes beside each other, 7 inches in all, and a function that makes a picture of them."""
    import matplotlib as mpl  # noqa: PLC0415  slow to import
    from matplotlib.figure import Figure  # noqa: PLC0415

    style: Any = {
        "svg.fonttype": "none", "text.parse_math": False, "svg.hashsalt": salt, "font.size": 9,
        "font.family": "sans-serif",
        "text.color": INK, "axes.edgecolor": INK, "axes.labelcolor": INK, "xtick.color": INK, "ytick.color": INK,
        "axes.spines.top": False, "axes.spines.right": False, "figure.facecolor": "none", "axes.facecolor": "none",
        "legend.frameon": False,
    }  # fmt: skip
    with mpl.rc_context(style):
        figure = Figure(figsize=(WIDTH_PX / PX_PER_IN, height_in), layout="constrained")
        axes = tuple(figure.subplots(1, panels, squeeze=False)[0])

        def finish(title: str) -> Plot:
            buffer = io.StringIO()
            figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None}, transparent=True)
            svg = buffer.getvalue().replace(INK, "currentColor")
            inside = svg.index(">", svg.index("<svg")) + 1
            return Plot(
                title=title,
                uri=to_data_uri(f"{svg[:inside]}{STYLE}{svg[inside:]}".encode(), kind="svg+xml"),
                width_px=WIDTH_PX,
                height_px=round(height_in * PX_PER_IN),
            )

        yield axes, finish


def plot_curves(results: CostResults) -> Plot:
    """Unit cost of every way against quantity, both axes logarithmic; dashed where leftovers are carried."""
    answer = results.answer
    with _axes(height_in=3.6, salt="curves") as ((axes,), finish):
        unquoted = {row.way for row in answer.statements if not row.quoted}
        for curve in answer.curves:
            colour = WAY_COLOURS[curve.way]
            label = f"{WAY_WORDS[curve.way]}, fees assumed" if curve.way in unquoted else WAY_WORDS[curve.way]
            axes.plot(curve.good, _floats(curve.unit), color=colour, label=label)
            axes.plot(curve.good, _floats(curve.unit_carried), color=colour, linewidth=0.9, linestyle=(0, (4, 2)))
        for found in (found for found in answer.crossovers if not found.carried):
            axes.axvline(found.good, color=INK, linewidth=0.6, alpha=0.5)
            axes.annotate(
                str(found.good), (found.good, 1), xycoords=("data", "axes fraction"),
                ha="center", va="bottom", fontsize=8,
            )  # fmt: skip
        axes.set_xscale("log")
        axes.set_yscale("log")
        _plain_ticks(axes, which="both")
        axes.set_xlabel("good pieces of a run")
        axes.set_ylabel(f"cost of one, {results.currency}")
        axes.legend()
        return finish("Cost of one good piece against the size of the run, for every way to build")


def plot_groups(results: CostResults) -> Plot:
    """What a piece costs by kind of charge, a bar for every way at the first run."""
    statements = _first_run(results)
    with _axes(height_in=0.6 + 0.5 * len(statements), salt="groups") as ((axes,), finish):
        shares = {
            row.way: {group: float(each) for group, (_, each) in sum_groups(row.lines).items()} for row in statements
        }
        reached = dict.fromkeys(shares, 0.0)
        for group, colour in GROUP_COLOURS.items():
            widths = [shares[way].get(group, 0.0) for way in shares]
            if any(widths):
                left = list(reached.values())
                axes.barh([WAY_WORDS[way] for way in shares], widths, left=left, color=colour, label=group, height=0.6)
            reached = {way: reached[way] + width for way, width in zip(shares, widths, strict=True)}
        axes.invert_yaxis()
        axes.set_xlabel(f"cost of one, {results.currency}")
        axes.legend(
            ncols=len(GROUP_COLOURS), loc="lower center", bbox_to_anchor=(0.45, 1.0), fontsize=8, handlelength=1
        )
        return finish("Cost of one good piece by kind of charge, for every way to build")


def plot_inputs(results: CostResults, *, way: Way) -> Plot:
    """How far each input alone moves the unit cost of one way over its range, the widest first."""
    rows = [row for row in results.answer.sensitivity if row.way == way and row.swing][:SHOWN_INPUTS]
    stated = next(row.stated for row in results.answer.risks if row.way == way)
    with _axes(height_in=0.9 + 0.28 * len(rows), salt="inputs") as ((axes,), finish):
        for row in rows:
            for end, hatched in ((row.unit_at_low, True), (row.unit_at_high, False)):
                axes.barh(
                    row.what, float(end - stated), left=float(stated), height=0.6,
                    color=WAY_COLOURS[way], alpha=0.45 if hatched else 1.0,
                )  # fmt: skip
        axes.axvline(float(stated), color=INK, linewidth=0.8)
        axes.invert_yaxis()
        axes.set_xlabel(f"cost of one, {results.currency} (pale: input at its low end)")
        return finish(f"What moves the cost of one piece most, {WAY_WORDS[way]}")


def plot_options(results: CostResults) -> Plot:
    """Versions and ways: cost against evenness, or against own minutes where no light is known; rings mark the best."""
    lit = [row for row in results.options if row.light is not None]
    shown: Sequence[OptionResult] = lit or results.options
    names = list(dict.fromkeys(row.name for row in shown))
    with _axes(height_in=3.6, salt="options", panels=2 if lit else 1) as (panels, finish):
        heights = (_evenness, _luminance) if lit else (_minutes,)
        for axes, height in zip(panels, heights, strict=True):
            for row in shown:
                low, middle, high = height(row)
                axes.vlines(float(row.unit), low, high, color=WAY_COLOURS[row.way], linewidth=1.2, alpha=0.6)
                axes.scatter(
                    float(row.unit), middle, s=36 + 7 * float(row.minutes),
                    marker=MARKERS[names.index(row.name) % len(MARKERS)], color=WAY_COLOURS[row.way], alpha=0.85,
                    edgecolors=INK if row.best else "none", linewidths=1.6, zorder=3,
                )  # fmt: skip
            axes.margins(0.12)
            axes.set_ylim(bottom=0)
            axes.set_xlabel(f"cost of one, {results.currency}: cheap to the left")
            axes.set_ylabel(AXIS_WORDS[height.__name__])
        for index, name in enumerate(names):
            panels[-1].scatter([], [], color=INK, alpha=0.6, marker=MARKERS[index % len(MARKERS)], label=name)
        for way in dict.fromkeys(row.way for row in shown):
            panels[-1].scatter([], [], color=WAY_COLOURS[way], label=WAY_WORDS[way])
        panels[-1].legend(fontsize=8, loc="center left", bbox_to_anchor=(1.0, 0.5))
        return finish("Versions and ways to build: what each costs, how it looks, how long it takes")


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


def _plain_ticks(axes: "Axes", *, which: str) -> None:
    """Plain numbers on logarithmic axes, at 1, 2 and 5 of every decade."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter  # noqa: PLC0415  slow to import

    for name, axis in (("x", axes.xaxis), ("y", axes.yaxis)):
        if which in ("both", name):
            axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0), numticks=20))
            axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
            axis.set_minor_formatter(NullFormatter())


def _first_run(results: CostResults) -> list[Statement]:
    statements = results.answer.statements
    return [row for row in statements if row.good == statements[0].good]


def _floats(numbers: Sequence[Decimal]) -> list[float]:
    return [float(number) for number in numbers]
