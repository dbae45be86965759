"""Face classes: what lies over the laminate at each pixel, as seen by light inside it."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from paneglow.board import FaceMaps
from paneglow.catalog import Film, Surface, film_reflectance, film_transmittance, surface_reflectance
from paneglow.scene.records import ClassMap, FaceClasses

FloatArray = npt.NDArray[np.float64]

COVERED = 0.5  # a pixel counts as covered from this share on, so that areas neither grow nor shrink


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coat:
    """Coefficients of one stack over the laminate, each of shape (w,)."""

    name: str
    transmit: FloatArray
    reflect: FloatArray
    haze: float
    roughness: float = 0.0  # width parameter of the facet slopes; only of a bare face


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CoatKit:
    """The five stacks a board can show: nothing, mask, ink, ink over mask, copper."""

    bare: Coat
    mask: Coat
    legend: Coat
    legend_on_mask: Coat
    copper: Coat


def build_coat_kit(
    *, mask: Film, legend: Film, copper: Surface, wavelength_nm: FloatArray, roughness: float = 0.0
) -> CoatKit:
    """Coefficients of every stack at the scene's wavelengths.

    Parameters
    ----------
    mask, legend : Film
        Coats over the laminate, and over each other.
    copper : Surface
        Opaque face of foil.
    wavelength_nm : ndarray, shape (w,)
        Wavelengths [nm].
    roughness : float
        Width parameter of the facet slopes of bare laminate [1], 0 for a smooth face.

    Returns
    -------
    CoatKit

    Notes
    -----
    A mask or an ink fills the laminate's roughness and has a smooth outer face. Ink over mask is the sum over all
    passes between the two films, with diffuse returns on both sides: T = t1 t2 / (1 - r1 r2),
    R = r1 + t1^2 r2 / (1 - r1 r2), mask first.

    References
    ----------
    P. Kubelka, J. Opt. Soc. Am. 44:330, 1954, *New contributions to the optics of intensely light-scattering
    materials. Part II*: two sheets of known reflectance and transmittance (abstract).
    """
    of_mask = _film_coat(mask, wavelength_nm=wavelength_nm)
    of_legend = _film_coat(legend, wavelength_nm=wavelength_nm)
    series = 1.0 / (1.0 - of_mask.reflect * of_legend.reflect)
    n = wavelength_nm.size
    return CoatKit(
        bare=Coat(name="bare", transmit=np.ones(n), reflect=np.zeros(n), haze=0.0, roughness=roughness),
        mask=of_mask,
        legend=of_legend,
        legend_on_mask=Coat(
            name=f"{legend.code} over {mask.code}",
            transmit=of_mask.transmit * of_legend.transmit * series,
            reflect=of_mask.reflect + of_mask.transmit**2 * of_legend.reflect * series,
            haze=1.0 - (1.0 - of_mask.haze) * (1.0 - of_legend.haze),
        ),
        copper=Coat(
            name=copper.code,
            transmit=np.zeros(n),
            reflect=surface_reflectance(copper, wavelength_nm=wavelength_nm),
            haze=0.0,
        ),
    )


def _film_coat(film: Film, *, wavelength_nm: FloatArray) -> Coat:
    return Coat(
        name=film.code,
        transmit=film_transmittance(film, wavelength_nm=wavelength_nm),
        reflect=film_reflectance(film, wavelength_nm=wavelength_nm),
        haze=film.haze.value,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClassTable:
    """Collects face classes; a class is a coat, with or without a diffuse body in the air behind it."""

    rows: dict[tuple[str, float], tuple[Coat, float]] = field(default_factory=dict)

    def index(self, coat: Coat, *, backing_reflect: float = 0.0) -> int:
        """Class number of a coat before a body, added where it is new."""
        key = (coat.name, backing_reflect)
        self.rows.setdefault(key, (coat, backing_reflect))
        return list(self.rows).index(key)

    def to_face_classes(self) -> FaceClasses:
        """All collected classes as arrays."""
        entries = list(self.rows.values())
        return FaceClasses(
            names=tuple(coat.name if not backing else f"{coat.name}, body behind" for coat, backing in entries),
            transmit=np.stack([coat.transmit for coat, _ in entries]),
            reflect=np.stack([coat.reflect for coat, _ in entries]),
            haze=np.array([coat.haze for coat, _ in entries]),
            backing_reflect=np.stack([np.full(coat.transmit.size, backing) for coat, backing in entries]),
            roughness=np.array([coat.roughness for coat, _ in entries]),
        )


def build_face(maps: FaceMaps, *, front: bool, kit: CoatKit, table: ClassTable) -> ClassMap:
    """Class number per pixel of one face.

    Parameters
    ----------
    maps : FaceMaps
        Coverage of both faces, 0 to 1, on the fine grid.
    front : bool
        Whether it is the front face.
    kit, table : CoatKit, ClassTable
        What can lie over the laminate; where classes are numbered, in place.

    Returns
    -------
    ndarray of uint8, shape (y, x)
    """
    copper = (maps.copper_front if front else maps.copper_back) >= COVERED
    masked = (maps.mask_front if front else maps.mask_back) >= COVERED
    inked = (maps.legend_front if front else maps.legend_back) >= COVERED
    classes = np.full(maps.grid.shape, table.index(kit.bare), dtype=np.uint8)
    classes[masked] = table.index(kit.mask)
    classes[inked] = table.index(kit.legend)
    classes[inked & masked] = table.index(kit.legend_on_mask)
    classes[copper] = table.index(kit.copper)
    return classes


def add_body(
    classes: ClassMap, *, under: npt.NDArray[np.bool_], backing_reflect: float, kit: CoatKit, table: ClassTable
) -> None:
    """Change, in place, the classes of pixels under a diffuse body to the same coat with that body behind it.

    Parameters
    ----------
    classes : ndarray of uint8, shape (y, x)
        Part of a face round the body.
    under : ndarray of bool, shape (y, x)
        Pixels under it.
    backing_reflect : float
        Its diffuse reflectance [1], 0 to 1.
    kit, table : CoatKit, ClassTable
        As in `build_face`.
    """
    before = classes.copy()
    for coat in (kit.bare, kit.mask, kit.legend, kit.legend_on_mask):
        classes[under & (before == table.index(coat))] = table.index(coat, backing_reflect=backing_reflect)
