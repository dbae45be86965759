"""What stands round the laminate: covers, films, glue, light walls, and copper inside it.

Measures that the design does not state are assumed, with their range (`ASSUMED_SURROUNDINGS`).
"""

import math

import numpy as np
import numpy.typing as npt

from paneglow.board import FaceMaps, PlacedLed
from paneglow.catalog import Film, Surface, film_reflectance, film_transmittance, surface_reflectance
from paneglow.design import BackCover, BoardDesign, FrontFilm
from paneglow.scene.coats import COVERED
from paneglow.scene.pose import Pose
from paneglow.scene.records import Dome, InnerLayer, LightWall, Sheet
from paneglow.units import Quantity

FloatArray = npt.NDArray[np.float64]

INNER_DEPTH = Quantity(
    value=0.2,
    low=0.1,
    high=0.4,
    origin="assumed",
    source="resin between an outer and the next inner copper layer; common practice, no source",
)
GLUE_INDEX = Quantity(
    value=1.5, low=1.49, high=1.51, origin="assumed", source="hot-melt adhesive and clear casting resin, from memory"
)
GLUE_OVERLAP = Quantity(
    value=1.0, low=0.5, high=2.0, origin="assumed", source="glue beyond the emitter, to every side; no source"
)
LENS_INDEX = Quantity(
    value=1.5,
    low=1.41,
    high=1.54,
    origin="assumed",
    source="LED siloxanes 1.494 to 1.505: Steinbrueck et al., RSC Adv. 2019, doi 10.1039/C8RA09801H; ends from memory",
)
# What each item stands on, and when it is used, by the word that names it in a result
ASSUMED_SURROUNDINGS: dict[str, tuple[str, Quantity]] = {
    "inner copper": ("depth_below_its_face_mm", INNER_DEPTH),
    "hot glue": ("refractive_index", GLUE_INDEX),
    "hot glue dome": ("overlap_mm", GLUE_OVERLAP),
    "lens in contact": ("refractive_index", LENS_INDEX),
}
CONTACT_LENS_HEIGHT_MM = 0.3  # the emitter's window lies this deep in a lens that touches the board; it only spreads


def build_back_sheet(cover: BackCover | None, *, n_wavelengths: int) -> Sheet | None:
    """The cover behind the board, of one reflectance at all wavelengths.

    Parameters
    ----------
    cover : BackCover or None
        As the design states it.
    n_wavelengths : int
        Nodes of the scene's axis.
    """
    if cover is None:
        return None
    reflect = np.full(n_wavelengths, cover.reflectance)
    return Sheet(distance_mm=cover.distance_mm, reflect=reflect, transmit=np.zeros(n_wavelengths), haze=0.0)


def build_front_sheet(film: Film | None, *, front: FrontFilm | None, wavelength_nm: FloatArray) -> Sheet | None:
    """A diffusing film before the board, where the design has one.

    Parameters
    ----------
    film : Film or None
        Its catalogue entry.
    front : FrontFilm or None
        Its distance, as the design states it.
    wavelength_nm : ndarray, shape (w,)
        Wavelengths [nm].
    """
    if film is None or front is None:
        return None
    return Sheet(
        distance_mm=front.distance_mm,
        reflect=film_reflectance(film, wavelength_nm=wavelength_nm),
        transmit=film_transmittance(film, wavelength_nm=wavelength_nm),
        haze=film.haze.value,
    )


def build_inner_layers(
    maps: FaceMaps, *, board: BoardDesign, foil: Surface, wavelength_nm: FloatArray
) -> tuple[InnerLayer, ...]:
    """Inner copper at its depth; layers lie evenly between the first and the last, counted from the front.

    Parameters
    ----------
    maps : FaceMaps
        Coverage of every inner layer, 0 to 1.
    board : BoardDesign
        Thickness and depth [mm].
    foil : Surface
        What light inside the laminate meets.
    wavelength_nm : ndarray, shape (w,)
        Wavelengths [nm].
    """
    n_layers = len(maps.copper_inner)
    if n_layers == 0:
        return ()
    depth_mm = INNER_DEPTH.value if board.inner_depth_mm is None else board.inner_depth_mm
    depth_mm = min(depth_mm, 0.45 * board.thickness_mm)
    heights = np.linspace(board.thickness_mm - depth_mm, depth_mm, n_layers) if n_layers > 1 else [depth_mm]
    reflect = surface_reflectance(foil, wavelength_nm=wavelength_nm)
    return tuple(
        InnerLayer(height_mm=float(height), copper=coverage >= COVERED, reflect=reflect)
        for height, coverage in zip(heights, maps.copper_inner, strict=True)
        if (coverage >= COVERED).any()
    )


def glue_dome(pose: Pose, *, haze_frac: float) -> Dome:
    """Hot glue over a part that lies on the board and shines along it.

    Parameters
    ----------
    pose : Pose
        Of a side-view part on the back face.
    haze_frac : float
        What one crossing of the cap's height h scatters [1], 0 to 1: 1 - exp(-s h).

    Notes
    -----
    The cap reaches `GLUE_OVERLAP` beyond the emitter.
    """
    half_height = 0.5 * pose.size_mm[1]
    height_mm = -pose.centre_mm[2] + half_height + GLUE_OVERLAP.value
    radius_mm = max(height_mm, 0.5 * pose.size_mm[0] + GLUE_OVERLAP.value)
    scatter = -math.log(max(1e-6, 1.0 - haze_frac)) / height_mm
    return Dome(radius_mm=radius_mm, height_mm=height_mm, refractive_index=GLUE_INDEX.value, scatter_per_mm=scatter)


def touching_lens(led: PlacedLed, pose: Pose) -> Dome:
    """A lens pressed against the laminate: no air between them under the lens.

    Parameters
    ----------
    led, pose : PlacedLed, Pose
        Whose part's lens it is, and where its emitter is.
    """
    lens = [size.value for size in (led.part.lens_length_mm, led.part.lens_width_mm) if size is not None]
    radius_mm = 0.5 * max(lens, default=math.hypot(*pose.size_mm))
    height_mm = min(radius_mm, max(CONTACT_LENS_HEIGHT_MM, -2.0 * pose.centre_mm[2]))
    return Dome(radius_mm=radius_mm, height_mm=height_mm, refractive_index=LENS_INDEX.value, scatter_per_mm=0.0)


def build_light_wall(led: PlacedLed, *, n_wavelengths: int) -> LightWall | None:
    """The frame round a part, of one reflectance at all wavelengths; None where it has none.

    Parameters
    ----------
    led : PlacedLed
        Whose design may state one.
    n_wavelengths : int
        Nodes of the scene's axis.
    """
    if led.light_wall is None:
        return None
    wall = led.light_wall
    return LightWall(length_mm=wall.length_mm, width_mm=wall.width_mm, reflect=np.full(n_wavelengths, wall.reflectance))
