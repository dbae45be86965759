"""Rings and harmonics round the point of entry: how a square map becomes a point spread."""

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.transport.kernels.response_ask import N_HARMONICS

FloatArray = npt.NDArray[np.float64]

GROWTH = 12.0  # rings until the width has grown threefold (chosen)
# Parts per side of a pixel, to share it out among rings; and within so many pixels of the middle
PARTS = 4
FINE_PIXELS, FINE_PARTS = 6, 32
RADII_PER_RING = 64  # at which interpolation is summed over a ring
STEPS = 20  # of the correction for interpolation; then a tenth of a percent is left in the steepest rings


def ring_position(radius_mm: npt.ArrayLike, *, pitch_mm: float) -> FloatArray:
    """Position on the scale of rings, whose edges are whole numbers: radius = pitch t (1 + t / GROWTH)."""
    r = np.asarray(radius_mm, dtype=np.float64) / pitch_mm
    return np.asarray(0.5 * GROWTH * (np.sqrt(1.0 + 4.0 * r / GROWTH) - 1.0))


def ring_count(reach_mm: float, *, pitch_mm: float) -> int:
    """Whole rings within a radius."""
    return int(ring_position(reach_mm, pitch_mm=pitch_mm))


def ring_areas(n_rings: int, *, pitch_mm: float) -> FloatArray:
    """Area of every ring [mm2]."""
    edge = np.arange(n_rings + 1)
    radius = pitch_mm * edge * (1.0 + edge / GROWTH)
    return np.asarray(np.pi * np.diff(radius**2))


def ring_means(n_rings: int) -> FloatArray:
    """Mean over every ring [row] of what each value at the middle of a ring [column] adds by interpolation.

    As the kernels interpolate (`add_rings`): straight between middles, level within the first one, nothing beyond the
    last one.
    """
    at = (np.arange(n_rings * RADII_PER_RING) + 0.5) / RADII_PER_RING
    around = at * (1.0 + at / GROWTH) * (1.0 + 2.0 * at / GROWTH)  # radius times its growth, up to a factor
    ring = at.astype(np.int64)
    place = np.maximum(0.0, at - 0.5)
    low = np.minimum(place.astype(np.int64), n_rings - 2)
    held = place < n_rings - 1
    matrix = np.zeros((n_rings, n_rings))
    np.add.at(matrix, (ring[held], low[held]), (around * (1.0 - (place - low)))[held])
    np.add.at(matrix, (ring[held], low[held] + 1), (around * (place - low))[held])
    return np.asarray(matrix / np.bincount(ring, weights=around)[:, None])


def at_middles(table: npt.NDArray[np.float32], *, pitch_mm: float) -> npt.NDArray[np.float32]:
    """Values at the middles of rings between which interpolation keeps what every ring holds.

    A point spread falls so steeply that straight lines between the means of rings hold more than the rings: 5 % in
    thin, weakly scattering laminate. The mean over the azimuth and the batches says by how much; what corrects it
    corrects the harmonics and the batches alike.

    Parameters
    ----------
    table : ndarray, shape (bin, ring, harmonic, group, batch, laminate)
        Means over rings.

    Notes
    -----
    Iterated as by W. H. Richardson, J. Opt. Soc. Am. 62:55, 1972, and L. B. Lucy, Astron. J. 79:745, 1974 (from
    memory), which keeps values positive; the last step keeps the whole exactly.
    """
    held = np.moveaxis(table[:, :, 0].mean(axis=3, dtype=np.float64), 1, 0)  # [ring, bin, group, laminate]
    shape = held.shape
    held = held.reshape(shape[0], -1)
    means = ring_means(shape[0])
    areas = ring_areas(shape[0], pitch_mm=pitch_mm)
    values = held.copy()
    for _ in range(STEPS):
        values = values * np.divide(held, means @ values, out=np.zeros_like(held), where=held > 0.0)
    values *= np.divide(
        areas @ held, areas @ (means @ values), out=np.ones(held.shape[1]), where=held.sum(axis=0) > 0.0
    )
    change = np.divide(values, held, out=np.ones_like(held), where=held > 0.0).reshape(shape)
    return np.asarray(table * np.moveaxis(change, 0, 1)[:, :, None, :, None, :], dtype=np.float32)


def ring_projection(n_pixels: int, *, map_pitch_mm: float, pitch_mm: float, n_rings: int) -> scipy.sparse.csr_matrix:
    """Matrix from the pixels of a square map centred on the entry to harmonics per ring, (ring * harmonic, y * x).

    A harmonic is the mean over the ring of the luminance times (2 - [m = 0]) cos(m psi).
    """
    # Finely in the middle, where a ring is hardly wider than a pixel and most of the light may lie in it
    middle = np.zeros((n_pixels, n_pixels), dtype=np.bool_)
    low, high = max(0, n_pixels // 2 - FINE_PIXELS), n_pixels // 2 + FINE_PIXELS
    middle[low:high, low:high] = True
    parts = [_parts_of(pixels, n_pixels, per_side=n) for pixels, n in ((middle, FINE_PARTS), (~middle, PARTS))]
    pixel, at_x, at_y, area = (np.concatenate(column) for column in zip(*parts, strict=True))
    ring = ring_position(np.hypot(at_x, at_y) * map_pitch_mm, pitch_mm=pitch_mm).astype(np.int64)
    within = ring < n_rings
    ring, pixel, area = ring[within], pixel[within], area[within]
    azimuth = np.arctan2(at_y[within], at_x[within])
    share = area / np.bincount(ring, weights=area, minlength=n_rings)[ring]
    shape = (n_rings * N_HARMONICS, n_pixels * n_pixels)
    rows = [
        scipy.sparse.csr_matrix(
            ((1.0 if m == 0 else 2.0) * np.cos(m * azimuth) * share, (ring * N_HARMONICS + m, pixel)), shape=shape
        )
        for m in range(N_HARMONICS)
    ]
    return sum(rows[1:], start=rows[0])


def _parts_of(
    pixels: npt.NDArray[np.bool_], n_pixels: int, *, per_side: int
) -> tuple[npt.NDArray[np.int64], FloatArray, FloatArray, FloatArray]:
    """Pixels of a square map cut into parts: pixel, x and y from the middle and area of each part, in pixels."""
    rows, columns = (indices[:, None, None] for indices in np.nonzero(pixels))
    offset = (np.arange(per_side) + 0.5) / per_side - 0.5 * n_pixels
    at_x, at_y = columns + offset[None, None, :], rows + offset[None, :, None]
    at_x, at_y, pixel = np.broadcast_arrays(at_x, at_y, rows * n_pixels + columns)
    return pixel.ravel(), at_x.ravel(), at_y.ravel(), np.full(pixel.size, 1.0 / per_side**2)


def without_noise(table: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Point spread [bin, ring, harmonic, group, batch, laminate] with its harmonics freed of noise.

    Where the batches say that a harmonic is mostly noise, it is mostly left out: the positive-part estimator of
    W. James and C. Stein, Proc. 4th Berkeley Symp. 1:361, 1961 (from memory), per bin, harmonic and five rings. The
    mean over the azimuth, harmonic 0, is left alone.
    """
    n_batches = table.shape[4]
    mean = table.mean(axis=4)
    noise = table.var(axis=4, ddof=1) / n_batches
    at_least = np.maximum(mean[:, :, :1] ** 2, 1e-30)
    signal = _over_rings((mean**2 / at_least).mean(axis=(3, 4)))
    chance = _over_rings((noise / at_least).mean(axis=(3, 4)))
    kept = np.clip(1.0 - chance / np.maximum(signal, 1e-30), 0.0, 1.0)
    kept[:, :, 0] = 1.0
    return np.asarray(table * kept[:, :, :, None, None, None], dtype=np.float32)


def _over_rings(values: npt.NDArray[np.floating]) -> npt.NDArray[np.floating]:
    """Mean over five neighbouring rings, shape [bin, ring, harmonic]."""
    return np.asarray(scipy.ndimage.uniform_filter1d(values, 5, axis=1, mode="nearest"))
