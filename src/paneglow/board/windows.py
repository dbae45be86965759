"""Where light can get through: windows with their names, and the openings that are none."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple, Protocol

import numpy as np
import numpy.typing as npt
from shapely.geometry import Point, Polygon

from paneglow.board.exposure import Crossing, build_crossing, build_face_cover, exposure_of
from paneglow.board.opening import Opened, OpenRegion, open_regions
from paneglow.board.records import (
    CoverageMap,
    Exposure,
    ExposureTotal,
    FaceMaps,
    Shadow,
    Window,
    WindowSurvey,
)
from paneglow.board.rejected import WindowRule, build_other, kind_of, narrow_kind_of
from paneglow.board.shadows import find_shadows
from paneglow.board.shape import EDGE_LEVEL, build_polygon
from paneglow.errors import DesignError

# Measured on 16 published boards: without a least width, a keyboard with no window shows 656 mm2 of mask rings
RULE = WindowRule(least_width_mm=0.4, least_area_mm2=0.5)
# Edges are known to a fraction of a pixel and a width is a largest value: what passes is 0.4 mm wide for sure
SURE_PX = 1.0
GIANT_SHARE = 0.6  # chosen: a window that takes more of the board than this is remarked upon
_OPENED: dict[Exposure, str] = {
    "bare both faces": "mask open on both faces",
    "bare one face": "mask open on one face",
    "masked both faces": "under mask on both faces, a window on the design's word",
}


class NamedPoint(Protocol):
    """A window as the design names it."""

    @property
    def name(self) -> str:
        """Name of the window."""

    @property
    def at_mm(self) -> tuple[float, float]:
        """Any point inside it [mm]."""


class Placed(NamedTuple):
    """What naming needs of one window."""

    polygon: Polygon
    centre_mm: tuple[float, float]


def reading_order(placed: Sequence[Placed]) -> list[int]:
    """Indices in reading order: rows from the top, each from the left.

    A row holds the windows whose centre lies within the height of its highest one.
    """
    waiting = sorted(range(len(placed)), key=lambda index: -placed[index].centre_mm[1])
    order: list[int] = []
    while waiting:
        lower = placed[waiting[0]].polygon.bounds[1]
        row = [index for index in waiting if placed[index].centre_mm[1] >= lower]
        order += sorted(row, key=lambda index: placed[index].centre_mm[0])
        waiting = [index for index in waiting if index not in set(row)]
    return order


def name_windows(placed: Sequence[Placed], *, named: Sequence[NamedPoint], maps: FaceMaps) -> list[str]:
    """Names of windows that stand in reading order.

    Parameters
    ----------
    placed : sequence of Placed
        Windows in reading order.
    named : sequence of NamedPoint
        Names of the design, each with a point inside its window.
    maps : FaceMaps
        Of the board; a point within one pixel of an outline still counts as inside.

    Raises
    ------
    DesignError
        A point outside all windows, two names for one window, one name twice.
    """
    given: dict[int, NamedPoint] = {}
    for wish in named:
        index = _window_at(placed, wish, maps=maps)
        if index in given:
            raise DesignError(
                f"windows {given[index].name!r} and {wish.name!r} are one opening about "
                f"{_place(placed[index].centre_mm)}; keep one name or move one at_mm"
            )
        if any(wish.name == other.name for other in given.values()):
            raise DesignError(f"window name {wish.name!r} is given twice; every window needs its own name")
        given[index] = wish
    free = _free_names({wish.name for wish in named})
    return [given[index].name if index in given else next(free) for index in range(len(placed))]


def _free_names(taken: set[str]) -> Iterator[str]:
    number = 0
    while True:
        number += 1
        if (name := f"w{number}") not in taken:
            yield name


def _window_at(placed: Sequence[Placed], wish: NamedPoint, *, maps: FaceMaps) -> int:
    point = Point(wish.at_mm)
    if not placed:
        raise DesignError(
            f"window {wish.name!r} at {_place(wish.at_mm)}: {_cover_words(wish.at_mm, maps=maps)}; the board has no "
            "window at all"
        )
    distances = [window.polygon.distance(point) for window in placed]
    nearest = min(range(len(placed)), key=distances.__getitem__)
    if distances[nearest] > maps.grid.pitch_mm:
        raise DesignError(
            f"window {wish.name!r}: light cannot cross at its at_mm {_place(wish.at_mm)}, since "
            f"{_cover_words(wish.at_mm, maps=maps)}; the nearest window is {distances[nearest]:.2f} mm away, about "
            f"{_place(placed[nearest].centre_mm)}"
        )
    return nearest


def _cover_words(at_mm: tuple[float, float], *, maps: FaceMaps) -> str:
    """What keeps light from crossing the board at a point."""
    pixel = maps.grid.pixel_at(x_mm=at_mm[0], y_mm=at_mm[1])
    if pixel is None or maps.outline_inside[pixel] <= EDGE_LEVEL:
        return "that is off the board or in a cut-out"
    if maps.holes[pixel] > EDGE_LEVEL:
        return "a hole is there"
    layers = {"front": maps.copper_front, "back": maps.copper_back}
    layers |= {f"inner {number}": layer for number, layer in enumerate(maps.copper_inner, start=1)}
    covering = [name for name, copper in layers.items() if copper[pixel] > EDGE_LEVEL]
    if covering:
        return f"{' and '.join(covering)} copper lies over it"
    if maps.mask_front[pixel] > EDGE_LEVEL and maps.mask_back[pixel] > EDGE_LEVEL:
        return "mask covers both faces there (masked_windows in [board] takes such places too)"
    return "the opening there is too narrow or too small"


def _place(at_mm: tuple[float, float]) -> str:
    return f"({at_mm[0]:.2f}, {at_mm[1]:.2f})"


def survey_windows(maps: FaceMaps, *, named: Sequence[NamedPoint] = (), masked_windows: bool = False) -> WindowSurvey:
    """All openings of a board that light can cross, with names, covers and shadows.

    A window is a connected area of laminate without copper on any layer, with the mask opened on at least one face,
    at least 0.4 mm wide throughout and larger than 0.5 mm2. Areas that differ in whether the mask is open on the
    *front* are different windows, since they look different; what the back wears is a share of one window.

    Parameters
    ----------
    maps : FaceMaps
        Coverage maps of one board.
    named : sequence of NamedPoint, optional
        Windows of the design: a name and a point inside.
    masked_windows : bool, optional
        Also take copper-free areas under mask on both faces as windows.

    Returns
    -------
    WindowSurvey
        Windows in reading order, and apart from them what is no window and why.

    Raises
    ------
    DesignError
        A named point outside all windows, two names for one window.
    """
    crossing = build_crossing(maps)
    names = ("front_open", "back_open_only", "masked")[: 3 if masked_windows else 2]
    opened = [_opened(getattr(crossing, name), hatched=crossing.hatched, maps=maps) for name in names]
    regions = [region for result in opened for region in result.wide]
    kinds = [kind_of(region, maps=maps, rule=RULE) for region in regions]
    kept = [region for region, kind in zip(regions, kinds, strict=True) if kind is None]
    apart = [(region, kind) for region, kind in zip(regions, kinds, strict=True) if kind is not None]
    apart += [(region, narrow_kind_of(region, maps=maps)) for result in opened for region in result.narrow]
    totals, masked = _totals(crossing, maps=maps)
    if not masked_windows:
        apart += [(region, "masked both faces") for region in masked]
    windows, labels = _build_windows(kept, maps=maps, named=named)
    return WindowSurvey(
        outline_area_mm2=float(maps.outline.area),
        copper_layers=maps.copper_layers,
        pieces=len(maps.outline.geoms),
        windows=windows,
        others=tuple(build_other(region, kind=kind, maps=maps, rule=RULE) for region, kind in apart),
        totals=totals,
        labels=labels,
        notes=(*maps.notes, *_remarks(windows, maps=maps)),
    )


def _opened(source: CoverageMap, *, hatched: CoverageMap, maps: FaceMaps, with_narrow: bool = True) -> Opened:
    pitch = maps.grid.pitch_mm
    least_narrow_px = RULE.least_area_mm2 / maps.grid.pixel_area_mm2
    return open_regions(
        np.minimum(source, 1.0 - hatched),
        weight=source,
        disc_px=RULE.least_width_mm / pitch + SURE_PX,
        least_narrow_px=least_narrow_px if with_narrow else np.inf,
    )


def _totals(crossing: Crossing, *, maps: FaceMaps) -> tuple[tuple[ExposureTotal, ...], list[OpenRegion]]:
    """Totals per exposure, and the large regions under mask on both faces."""
    sources: dict[Exposure, str] = {
        "bare both faces": "both_open",
        "bare one face": "one_open",
        "masked both faces": "masked",
    }
    totals: list[ExposureTotal] = []
    masked: list[OpenRegion] = []
    for exposure, name in sources.items():
        masked = list(_opened(getattr(crossing, name), hatched=crossing.hatched, maps=maps, with_narrow=False).wide)
        areas = [region.swept_px * maps.grid.pixel_area_mm2 for region in masked]
        regions = sum(area > RULE.least_area_mm2 for area in areas)
        totals.append(ExposureTotal(exposure=exposure, area_mm2=sum(areas), regions=regions))
    return tuple(totals), [region for region, area in zip(masked, areas, strict=True) if area > RULE.least_area_mm2]


def _build_windows(
    regions: list[OpenRegion], *, maps: FaceMaps, named: Sequence[NamedPoint]
) -> tuple[tuple[Window, ...], npt.NDArray[np.int32]]:
    grid = maps.grid
    placed = [Placed(build_polygon(region, grid=grid), _centre_mm(region, maps=maps)) for region in regions]
    order = reading_order(placed)
    names = name_windows([placed[index] for index in order], named=named, maps=maps)
    labels = np.zeros(grid.shape, dtype=np.int32)
    for number, index in enumerate(order, start=1):
        region = regions[index]
        view = labels[region.window]
        view[(region.weight > EDGE_LEVEL) & (view == 0)] = number
    shadows = find_shadows(labels, maps=maps)
    windows = tuple(
        _build_window(regions[index], name=name, placed=placed[index], shadows=tuple(shadows[number]), maps=maps)
        for number, (index, name) in enumerate(zip(order, names, strict=True), start=1)
    )
    return windows, labels


def _build_window(
    region: OpenRegion, *, name: str, placed: Placed, shadows: tuple[Shadow, ...], maps: FaceMaps
) -> Window:
    area_mm2 = region.area_px * maps.grid.pixel_area_mm2
    width_mm = region.width_px * maps.grid.pitch_mm
    front = build_face_cover(region, mask=maps.mask_front, legend=maps.legend_front)
    back = build_face_cover(region, mask=maps.mask_back, legend=maps.legend_back)
    exposure = exposure_of(region, maps=maps)
    return Window(
        name=name,
        area_mm2=area_mm2,
        bbox_mm=_box_mm(region, maps=maps),
        centre_mm=placed.centre_mm,
        width_mm=width_mm,
        polygon=placed.polygon,
        exposure=exposure,
        front=front,
        back=back,
        shadows=shadows,
        decision=(
            f"{area_mm2:.2f} mm2 without copper on {maps.copper_layers} layers, up to {width_mm:.2f} mm wide, "
            f"{_OPENED[exposure]} (front {front.state}, back {back.state})"
        ),
    )


def _centre_mm(region: OpenRegion, *, maps: FaceMaps) -> tuple[float, float]:
    row, column = region.centre_px
    grid = maps.grid
    return grid.x_min_mm + column * grid.pitch_mm, grid.y_min_mm + row * grid.pitch_mm


def _box_mm(region: OpenRegion, *, maps: FaceMaps) -> tuple[float, float, float, float]:
    """Box around a region; its border pixels count with their coverage."""
    grid = maps.grid
    columns = region.weight.max(axis=0)
    rows = region.weight.max(axis=1)
    low, left = region.window[0].start, region.window[1].start
    return (
        grid.x_min_mm + (left + 1 - float(columns[0])) * grid.pitch_mm,
        grid.y_min_mm + (low + 1 - float(rows[0])) * grid.pitch_mm,
        grid.x_min_mm + (left + len(columns) - 1 + float(columns[-1])) * grid.pitch_mm,
        grid.y_min_mm + (low + len(rows) - 1 + float(rows[-1])) * grid.pitch_mm,
    )


def _remarks(windows: tuple[Window, ...], *, maps: FaceMaps) -> list[str]:
    outline_mm2 = float(maps.outline.area)
    return [
        f"window {window.name} takes {window.area_mm2 / outline_mm2:.0%} of the board: check that no copper or mask "
        f"layer is missing from the set"
        for window in windows
        if window.area_mm2 > GIANT_SHARE * outline_mm2
    ]
