"""A response: what one trace of a window holds so that it can be asked again."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.grid import Grid
from paneglow.scene import Scene

FloatArray = npt.NDArray[np.float64]
Float32Array = npt.NDArray[np.float32]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Channels:
    """What the photons of a response carry side by side: groups of wavelengths, scattering, absorption.

    Attributes
    ----------
    group_of_node : ndarray, shape (w,)
        Group of each wavelength node of the scene; nodes whose coats are alike share a group, -1 was not asked for.
    scatter_per_mm : ndarray, shape (j,)
        Carried scattering coefficients [1/mm], rising; the photons scatter with `traced_scatter_per_mm`.
    absorb_per_mm : ndarray, shape (a,)
        Carried absorption coefficients [1/mm], rising.
    n_groups : int
    traced_scatter_per_mm : float
    """

    group_of_node: IntArray
    scatter_per_mm: FloatArray
    absorb_per_mm: FloatArray
    n_groups: int
    traced_scatter_per_mm: float

    @property
    def n_laminates(self) -> int:
        """Channels of one group: every scattering with every absorption."""
        return self.scatter_per_mm.size * self.absorb_per_mm.size


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EntryBins:
    """How light that meets the back face is told apart: by face class and by squared sine of incidence.

    Attributes
    ----------
    classes : ndarray, shape (e,)
        Face classes of the back that let light in.
    sine2_edges : ndarray, shape (t + 1,)
        Edges of the squared sine of incidence in air, 0 to 1.
    crossing : ndarray, shape (t,)
        Mean share that a smooth face lets in per bin; 1 where the bins hold what comes back from a sheet as well.
    """

    classes: IntArray
    sine2_edges: FloatArray
    crossing: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PointSpread:
    """Luminance on the endless slab round the point where light enters, as harmonics of the azimuth.

    Attributes
    ----------
    entries : EntryBins
    table : ndarray, shape (class, sine bin, ring, harmonic, group, batch, laminate), float32
        Luminance per lumen that meets the back face [cd/m2] at the middles of rings (`at_middles`); light comes along
        +x.
    pitch_mm : float
        Width of the innermost ring; outer ones are wider (`ring_position`).
    """

    entries: EntryBins
    table: Float32Array
    pitch_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Difference:
    """Luminance of the window less that of the endless slab, by where light enters.

    Attributes
    ----------
    entries : EntryBins
    cells : Grid
        Cells of where entering light is centred, `reach_mm` inside the back face along its refracted direction.
    reach_mm : ndarray, shape (class,)
    rows : ndarray, shape (class, sine bin, cell y, cell x)
        Row of `table`; -1 where nothing enters.
    table : ndarray, shape (row, group, batch, laminate, front cell), float32
        Per lumen that meets the back face [cd/m2], over the share of the cell that is lit.
    front : Grid
        Front cells, [y, x] as they lie in `table`.
    """

    entries: EntryBins
    cells: Grid
    reach_mm: FloatArray
    rows: IntArray
    table: Float32Array
    front: Grid


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Response:
    """One traced window, ready to be asked.

    Attributes
    ----------
    scene : Scene
        What was traced; its emitters play no part.
    grid : Grid
        Luminance pixels of the window.
    seen : ndarray, shape (group, y, x)
        Share of a pixel's light that the front lets out in its direction, relative to the endless slab's own front; 0
        under copper.
    lit : ndarray, shape (group, y, x)
        The same of all light, what the front scatters outward included.
    absorb_range_per_mm : (float, float)
        Absorption coefficients that can be asked for [1/mm].
    effective : ndarray, shape (scattering,)
        Effective number of photons that left the front, per carried scattering coefficient.
    """

    scene: Scene
    grid: Grid
    channels: Channels  # What the photons carry side by side
    spread: PointSpread  # Light of the endless slab round the point of entry
    difference: Difference  # Light of the window less that of the endless slab
    seen: Float32Array
    lit: Float32Array
    absorb_range_per_mm: tuple[float, float]
    effective: FloatArray
    photons: int  # Photons launched
    seconds: float  # Time that tracing it took
    seed: int  # Seed of the random numbers

    @property
    def n_batches(self) -> int:
        """Independent batches behind every error."""
        return int(self.difference.table.shape[2])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """Light of a window for one question.

    Attributes
    ----------
    grid : Grid
    xyz : ndarray, shape (3, y, x), float32
        CIE 1931 tristimulus values [cd/m2].
    batches : ndarray, shape (batch, y, x), float32
        Luminance in independent batches, whose mean is `xyz[1]`.
    mean_cd_m2, mean_cd_m2_se : float
        Mean luminance over what is seen of the window, and its standard error.
    effective : float
        Effective number of photons behind the answer at its scattering coefficient.
    """

    grid: Grid
    xyz: Float32Array
    batches: Float32Array
    mean_cd_m2: float
    mean_cd_m2_se: float
    effective: float
