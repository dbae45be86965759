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
    """Coefficients of every stack at the scene's wavelengths; `roughness` is that of the bare laminate.

    A mask or an ink fills the laminate's roughness and has a smooth outer face.

    Ink over mask is the sum over all passes between the two films, with diffuse returns on both sides:
    T = t1 t2 / (1 - r1 r2), R = r1 + t1^2 r2 / (1 - r1 r2), mask first (G. G. Stokes' pile of plates, 1862, from
    memory).
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
    """Class number per pixel of one face."""
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
    """Change, in place, the classes of pixels `under` a diffuse body to the same coat with that body behind it."""
    before = classes.copy()
    for coat in (kit.bare, kit.mask, kit.legend, kit.legend_on_mask):
        classes[under & (before == table.index(coat))] = table.index(coat, backing_reflect=backing_reflect)
