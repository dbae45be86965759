"""What an eye, a camera and a lit room make of the light."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from paneglow.grid import Grid
from paneglow.units import Estimate, FiniteFloat, Record

FloatMap = npt.NDArray[np.float64]


class AngleLuminance(Record):
    """Mean luminance of a window seen from the directions between two polar angles."""

    from_deg: FiniteFloat  # Least angle off the front normal
    to_deg: FiniteFloat  # Greatest angle off the front normal
    mean_cd_m2: FiniteFloat  # Mean over the window and those directions
    se_cd_m2: FiniteFloat  # Its standard error


class WindowLook(Record):
    """One window as seen."""

    name: str  # Name of the window
    area_mm2: FiniteFloat  # Area seen from the front
    leds: tuple[str, ...]  # meant for this window
    mean_cd_m2: Estimate  # Mean luminance over the window
    peak_cd_m2: Estimate  # 98th percentile after the eye's blur
    evenness: Estimate  # 2nd over 98th percentile after the eye's blur, corrected for noise
    evenness_stops: Estimate  # log2 of 98th over 2nd percentile
    evenness_nine_point: Estimate  # display-trade figure: least over greatest of 9 points
    bleed: Estimate  # share of the mean luminance from LEDs meant for other windows
    contrast: Estimate  # (window + room) over (surround + room) luminance in the lit room
    chromaticity_x: FiniteFloat | None  # None where the window is dark
    chromaticity_y: FiniteFloat | None  # CIE 1931 y of its mean light
    dominant_wavelength_nm: FiniteFloat | None  # None for purples and near-white
    purity: FiniteFloat | None  # Excitation purity: 0 at the white point, 1 on the spectral locus
    colour_word: str  # plain name of the chromaticity, e.g. "amber"
    by_angle: tuple[AngleLuminance, ...] = ()  # from straight on to grazing, room light left out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Glow:
    """Light that a picture is drawn from; its windows need not be known. See `Look`."""

    grid: Grid  # map pixels
    xyz: FloatMap  # light of the LEDs [3, y, x]
    luminance_se_cd_m2: FloatMap  # its standard error [y, x]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Look:
    """The lit board along the viewing direction.

    All maps are [y, x] on `grid`, y upward; `xyz` is [3, y, x] [cd/m2]. `low` and `high` are the luminance maps of the
    dimmest and brightest version. `lit_room_xyz` adds the room light returned by the board;
    `room_stack_xyz_per_lx[stack, 3]` is what each stack of laminate, copper, mask and legend returns per lux of it
    (`look/room.py`) [cd/m2 per lx], so that pictures can draw it finer than `grid`; empty where it is not known.
    """

    grid: Grid  # The grid that the maps beside it stand on
    xyz: FloatMap  # CIE 1931 tristimulus maps of the LEDs' light, [3, y, x]; the second is luminance [cd/m2]
    luminance_cd_m2: FloatMap  # Luminance map, [y, x]
    luminance_se_cd_m2: FloatMap  # Standard error of the luminance map, [y, x]
    low_cd_m2: FloatMap  # Luminance map of the dimmest slab version, [y, x]
    high_cd_m2: FloatMap  # Luminance map of the brightest slab version, [y, x]
    lit_room_xyz: FloatMap  # The same with the room light that the board returns, [3, y, x] [cd/m2]
    windows: tuple[WindowLook, ...]  # Every window, as seen
    assumed: bool  # whether any range stands on an assumed input
    room_stack_xyz_per_lx: FloatMap = field(default_factory=lambda: np.zeros((0, 3)))
    """What each stack of laminate, copper, mask and legend returns of one lux, [stack, 3]."""

    @property
    def glow(self) -> Glow:
        """Light that its pictures are drawn from."""
        return Glow(grid=self.grid, xyz=self.xyz, luminance_se_cd_m2=self.luminance_se_cd_m2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pictures:
    """Four pictures of the area of `grid`, each uint8 [y, x, 3], top row first, ready to save."""

    grid: Grid  # The grid that the maps beside it stand on
    dark_adapted: npt.NDArray[np.uint8]  # As a dark-adapted eye sees it
    camera: npt.NDArray[np.uint8]  # As a phone camera overexposes it
    lit_room: npt.NDArray[np.uint8]  # As seen in the lit room
    false_colour: npt.NDArray[np.uint8]  # Luminance as colours
    false_colour_scale_cd_m2: tuple[float, float]  # Least and greatest luminance of that scale
