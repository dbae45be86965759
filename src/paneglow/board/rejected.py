"""Openings that are no windows, and why: fiducial clearances, mask rings, slits, specks, areas under mask."""

from dataclasses import dataclass, replace

import numpy as np

from paneglow.board.opening import OpenRegion
from paneglow.board.records import CoverageMap, FaceMaps, OtherKind, OtherOpening
from paneglow.board.shape import hole_weight, roundness

# Fiducials: a 1 to 3 mm copper dot in a clearance of two to three times its size (common practice, no source)
FIDUCIAL_MAX_MM = 6.0
FIDUCIAL_DOT_SHARE = (0.08, 0.5)  # area of the dot over the area of the clearance: (1/3)^2 to (1/2)^2, with a margin
ROUND_ENOUGH = 0.93  # a square reaches 0.79; circles of 1 mm drawn on 0.05 mm pixels reach 0.97 and more
RING_WIDTH_MM = 1.5  # chosen: mask clearances of mounting holes and pads are narrower
RING_CORE_SHARE = 0.5  # hole and pad together take at least this much of what the ring encloses
RING_HOLE_SHARE = 0.1  # and the hole alone this much: an island of copper without a hole is part of a picture
SENTENCES: dict[OtherKind, str] = {
    "fiducial": "round clearance {width:.2f} mm wide about a round copper dot: a fiducial mark",
    "mask ring": "ring {width:.2f} mm wide where the mask stays clear of a hole or pad",
    "narrow": "nowhere {least_width:g} mm wide for sure (widest {width:.2f} mm, give or take half a pixel)",
    "masked both faces": "no copper, but mask covers both faces; a window only if the design says masked_windows",
    "small": "{area:.2f} mm2 is less than the {least_area:g} mm2 of the smallest window",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowRule:
    """Least size of a window."""

    least_width_mm: float
    least_area_mm2: float


def kind_of(region: OpenRegion, *, maps: FaceMaps, rule: WindowRule) -> OtherKind | None:
    """What a region is instead of a window; None where it is one."""
    if _is_ring(region, maps=maps):
        return "mask ring"
    if _is_fiducial(region, maps=maps):
        return "fiducial"
    if region.area_px * maps.grid.pixel_area_mm2 <= rule.least_area_mm2:
        return "small"
    return None


def narrow_kind_of(region: OpenRegion, *, maps: FaceMaps) -> OtherKind:
    """What an opening narrower than any window is."""
    return "mask ring" if _is_ring(region, maps=maps, bare_pads=True) else "narrow"


def build_other(region: OpenRegion, *, kind: OtherKind, maps: FaceMaps, rule: WindowRule) -> OtherOpening:
    """The record of an opening that is no window, with its reason in one sentence."""
    grid = maps.grid
    row, column = region.centre_px
    area = region.area_px * grid.pixel_area_mm2
    return OtherOpening(
        kind=kind,
        area_mm2=area,
        at_mm=(grid.x_min_mm + column * grid.pitch_mm, grid.y_min_mm + row * grid.pitch_mm),
        reason=SENTENCES[kind].format(
            width=region.width_px * grid.pitch_mm,
            area=area,
            least_width=rule.least_width_mm,
            least_area=rule.least_area_mm2,
        ),
    )


def _is_fiducial(region: OpenRegion, *, maps: FaceMaps) -> bool:
    """A round clearance with one round copper dot in the middle."""
    if max(region.extent_px) * maps.grid.pitch_mm > FIDUCIAL_MAX_MM or roundness(region) < ROUND_ENOUGH:
        return False
    core = hole_weight(region)
    core_px = float(core.sum(dtype=np.float64))
    low, high = FIDUCIAL_DOT_SHARE
    if not low <= core_px / (core_px + region.area_px) <= high:
        return False
    dot = replace(region, weight=core, area_px=core_px)
    return roundness(dot) >= ROUND_ENOUGH - 0.05 and _share(core, region, layers=_copper(maps)) > RING_CORE_SHARE


def _is_ring(region: OpenRegion, *, maps: FaceMaps, bare_pads: bool = False) -> bool:
    """A narrow ring about a drilled hole or a pad with a hole in it; about any pad only on request."""
    if region.width_px * maps.grid.pitch_mm > RING_WIDTH_MM:
        return False
    core = hole_weight(region)
    if core.sum() <= 0:
        return False
    holes, copper = (_share(core, region, layers=layers) for layers in ((maps.holes,), _copper(maps)))
    return holes + copper > RING_CORE_SHARE and (bare_pads or holes > RING_HOLE_SHARE)


def _copper(maps: FaceMaps) -> tuple[CoverageMap, ...]:
    return (maps.copper_front, maps.copper_back)


def _share(core: CoverageMap, region: OpenRegion, *, layers: tuple[CoverageMap, ...]) -> float:
    found = np.maximum.reduce([layer[region.window] for layer in layers])
    return float((core * found).sum(dtype=np.float64) / core.sum(dtype=np.float64))
