"""Light of all LEDs together: currents applied, and every version that the assumptions leave open."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.checks import check_shape
from paneglow.errors import TransportError
from paneglow.scene import Scene, slabs_by_scattering
from paneglow.transport import Tally, add_light, cut_light

FloatArray = npt.NDArray[np.float64]

FLUX_ENDS = ("nominal", "low", "high")  # of every LED together


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoardLight:
    """Sum over LEDs of light per lumen times lumen.

    A version is one slab version with one end of the flux ranges, all LEDs at the same end; versions run over the slab
    versions for nominal flux, then low, then high. The first is the nominal one.

    Attributes
    ----------
    flux_lm : ndarray, shape (flux end, led)
    xyz : ndarray, shape (3, y, x)
        Nominal tristimulus values [cd/m2].
    versions : ndarray, shape (version, y, x), float32
        Luminance [cd/m2].
    batches : ndarray, shape (batch, y, x), float32
        Nominal luminance in equal independent batches [cd/m2].
    """

    flux_lm: FloatArray
    xyz: FloatArray
    versions: npt.NDArray[np.float32]
    batches: npt.NDArray[np.float32]

    @property
    def assumed(self) -> bool:
        """Whether any range stands on an assumed input."""
        return len(self.versions) > len(FLUX_ENDS) or bool(np.any(self.flux_lm != self.flux_lm[0]))


def check_tally(scene: Scene, *, tally: Tally) -> None:
    """Raise where a tally was not traced on this scene, or in fewer than two batches.

    Parameters
    ----------
    scene, tally : Scene, Tally
        Must hold the same LEDs and slab versions, in the same order.

    Raises
    ------
    TransportError
        If LEDs, slab versions or batches do not match.
    RangeError
        If a map does not have the shape of the map grid.
    """
    refs = tuple(emitter.ref for emitter in scene.emitters)
    if tuple(led.ref for led in tally.leds) != refs:
        traced = ", ".join(led.ref for led in tally.leds)
        raise TransportError(f"the tally holds LEDs {traced}, the scene {', '.join(refs)}: trace again")
    if len(tally.slab_names) != len(scene.slabs):
        raise TransportError(
            f"the tally holds {len(tally.slab_names)} slab versions, the scene {len(scene.slabs)}: trace again"
        )
    shape = tally.map_grid.shape
    n_batches, n_scatterings = count_batches(tally), len(slabs_by_scattering(scene.slabs))
    if n_batches < 2:
        raise TransportError("the tally holds 1 batch; standard errors need at least 2: trace in more batches")
    for led in tally.leds:
        part = led.xyz.shape[-2:]
        check_shape(f"xyz of {led.ref}", led.xyz, shape=(len(scene.slabs), 3, *part))
        check_shape(f"batches of {led.ref}", led.batches, shape=(n_scatterings, n_batches, *part))
        if any(start + size > whole for start, size, whole in zip(led.corner, part, shape, strict=True)):
            raise TransportError(f"the maps of {led.ref} reach beyond the tally's map grid: trace again")


def count_batches(tally: Tally) -> int:
    """Independent batches of every map; 2 where there is no LED."""
    return tally.leds[0].batches.shape[1] if tally.leds else 2


def build_light(scene: Scene, *, tally: Tally) -> BoardLight:
    """Light of the whole board at the currents of the scene.

    Parameters
    ----------
    scene : Scene
        Gives each emitter's flux, nominal and both ends of its range [lm].
    tally : Tally
        Gives each LED's light per lumen, in the order of `scene.emitters`.

    Returns
    -------
    BoardLight

    Raises
    ------
    TransportError, RangeError
        If the tally does not belong to the scene (`check_tally`).
    """
    check_tally(scene, tally=tally)
    n_slabs, shape = len(scene.slabs), tally.map_grid.shape
    n_batches = count_batches(tally)
    flux_lm = np.asarray([[e.flux_lm, e.flux_lm_low, e.flux_lm_high] for e in scene.emitters], dtype=np.float64)
    flux_lm = flux_lm.reshape(len(scene.emitters), len(FLUX_ENDS)).T
    xyz = np.zeros((3, *shape))
    versions = np.zeros((len(FLUX_ENDS), n_slabs, *shape), dtype=np.float32)
    batches = np.zeros((n_batches, *shape), dtype=np.float32)
    for led, (nominal, low, high) in zip(tally.leds, flux_lm.T, strict=True):
        luminance_per_lm = led.xyz[:, 1]
        add_light(xyz, nominal * led.xyz[0], corner=led.corner)
        add_light(batches, np.float32(nominal) * led.batches[0], corner=led.corner)
        for end, lumen in zip(versions, (nominal, low, high), strict=True):
            add_light(end, np.float32(lumen) * luminance_per_lm, corner=led.corner)
    return BoardLight(
        flux_lm=flux_lm, xyz=xyz, versions=versions.reshape(len(FLUX_ENDS) * n_slabs, *shape), batches=batches
    )


def batches_of(tally: Tally, *, scattering: int, flux_lm: FloatArray, rows: slice, columns: slice) -> FloatArray:
    """Luminance of the board over part of the map, in batches, of the first slab version of a scattering coefficient.

    Parameters
    ----------
    tally : Tally
        Light per lumen of every LED.
    scattering : int
        Number of the coefficient, as they first appear among the slab versions.
    flux_lm : ndarray, shape (led,)
        Flux of every LED [lm].
    rows, columns : slice
        Part of the map.

    Returns
    -------
    ndarray, shape (batch, h, w)
        Luminance [cd/m2].
    """
    total = np.zeros((count_batches(tally), rows.stop - rows.start, columns.stop - columns.start))
    for led, lumen in zip(tally.leds, flux_lm, strict=True):
        total += lumen * cut_light(led.batches[scattering], corner=led.corner, rows=rows, columns=columns)
    return total
