"""How the faces of a region are covered, in shares of its area."""

import numpy as np

from paneglow.board.opening import Region
from paneglow.board.records import CoverageMap, Exposure, FaceCover, FaceMaps, FaceState

CLEAR_MAJORITY = 0.9  # chosen: one state that holds less of a face than this is called mixed


def build_face_cover(region: Region, *, mask: CoverageMap, legend: CoverageMap) -> FaceCover:
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


def exposure_of(region: Region, *, maps: FaceMaps) -> Exposure:
    """How most of a region is exposed: mask open on both faces, on one, on none."""
    total = region.area_px
    front = float((region.weight * maps.mask_front[region.window]).sum(dtype=np.float64)) / total
    back = float((region.weight * maps.mask_back[region.window]).sum(dtype=np.float64)) / total
    masked_faces = (front > 0.5) + (back > 0.5)
    exposures: tuple[Exposure, ...] = ("bare both faces", "bare one face", "masked both faces")
    return exposures[masked_faces]
