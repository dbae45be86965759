"""Where light can cross, and how the faces are covered there: coverage maps, and shares of a region."""

from dataclasses import dataclass

import numpy as np

from paneglow.board.opening import OpenRegion, over_squares
from paneglow.board.records import CoverageMap, Exposure, FaceCover, FaceMaps, FaceState

# Copper hatching with gaps as wide as its lines, or narrower, is meant as copper. Gaps of several pixels fall to the
# least window width; those of up to two pixels are closed here, before any threshold.
HATCH_SPAN_PX = 3
CLEAR_MAJORITY = 0.9  # chosen: one state that holds less of a face than this is called mixed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crossing:
    """Share of each pixel that is laminate with no copper on any layer, by where the mask is open; all 0 to 1, [y, x].

    Shares of one pixel are combined by their least, which is exact where at most one edge runs through the pixel and
    where edges of several layers coincide. Each map is made when asked for: a large board would hold five at once.
    """

    free: CoverageMap  # Laminate without copper
    hatched: CoverageMap  # Copper hatching so fine that it counts as copper
    mask_front: CoverageMap  # Front mask
    mask_back: CoverageMap  # Back mask

    @property
    def front_open(self) -> CoverageMap:
        """Mask open on the front, whatever the back wears."""
        found: CoverageMap = np.minimum(self.free, 1.0 - self.mask_front)
        return found

    @property
    def back_open_only(self) -> CoverageMap:
        """Mask open on the back and closed on the front."""
        found: CoverageMap = np.minimum(np.minimum(self.free, self.mask_front), 1.0 - self.mask_back)
        return found

    @property
    def both_open(self) -> CoverageMap:
        """Mask open on both faces."""
        found: CoverageMap = np.minimum(self.front_open, 1.0 - self.mask_back)
        return found

    @property
    def one_open(self) -> CoverageMap:
        """Mask open on just one face."""
        found: CoverageMap = np.maximum(np.minimum(self.front_open, self.mask_back), self.back_open_only)
        return found

    @property
    def masked(self) -> CoverageMap:
        """Mask closed on both faces."""
        found: CoverageMap = np.minimum(np.minimum(self.free, self.mask_front), self.mask_back)
        return found


def build_crossing(maps: FaceMaps) -> Crossing:
    """Coverage of the ways light can cross."""
    free = maps.inside.copy()
    hatched = np.zeros_like(free)
    for copper in (maps.copper_front, *maps.copper_inner, maps.copper_back):
        np.minimum(free, 1.0 - copper, out=free)
        spread = over_squares(copper, side=HATCH_SPAN_PX, combine=np.maximum, mode="edge")
        np.maximum(hatched, over_squares(spread, side=HATCH_SPAN_PX, combine=np.minimum, mode="edge"), out=hatched)
    return Crossing(free=free, hatched=hatched, mask_front=maps.mask_front, mask_back=maps.mask_back)


def build_face_cover(region: OpenRegion, *, mask: CoverageMap, legend: CoverageMap) -> FaceCover:
    """Shares of one face of a region that are bare, under mask, and under legend ink (over mask or not)."""
    weight = region.weight
    total = region.area_px
    masked = np.clip(mask[region.window], 0.0, 1.0)
    inked = np.clip(legend[region.window], 0.0, 1.0)
    inked_frac = float((weight * inked).sum(dtype=np.float64) / total)
    masked_frac = float((weight * (1.0 - inked) * masked).sum(dtype=np.float64) / total)
    bare_frac = max(0.0, 1.0 - inked_frac - masked_frac)
    states: dict[FaceState, float] = {"bare": bare_frac, "masked": masked_frac, "inked": inked_frac}
    state, share = max(states.items(), key=lambda item: item[1])
    return FaceCover(
        state=state if share >= CLEAR_MAJORITY else "mixed",
        bare_frac=bare_frac,
        masked_frac=masked_frac,
        inked_frac=inked_frac,
    )


def exposure_of(region: OpenRegion, *, maps: FaceMaps) -> Exposure:
    """How most of a region is exposed: mask open on both faces, on one, on none."""
    total = region.area_px
    front = float((region.weight * maps.mask_front[region.window]).sum(dtype=np.float64)) / total
    back = float((region.weight * maps.mask_back[region.window]).sum(dtype=np.float64)) / total
    masked_faces = (front > 0.5) + (back > 0.5)
    exposures: tuple[Exposure, ...] = ("bare both faces", "bare one face", "masked both faces")
    return exposures[masked_faces]
