"""Rings and harmonics round the point of entry: how a square map becomes a point spread."""

import numpy as np
import numpy.typing as npt
from scipy import ndimage, sparse

from paneglow.transport.kernels.response_ask import N_HARMONICS

FloatArray = npt.NDArray[np.float64]

GROWTH = 12.0  # rings until the width has grown threefold (chosen)
SUBPIXELS = 4  # per side, to share a pixel out among rings


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


def ring_projection(n_pixels: int, *, map_pitch_mm: float, pitch_mm: float, n_rings: int) -> sparse.csr_matrix:
    """Matrix from the pixels of a square map centred on the entry to harmonics per ring, (ring * harmonic, y * x).

    A harmonic is the mean over the ring of the luminance times (2 - [m = 0]) cos(m psi).
    """
    fine = n_pixels * SUBPIXELS
    at = (np.arange(fine) + 0.5 - 0.5 * fine) * map_pitch_mm / SUBPIXELS
    radius = np.hypot(at[None, :], at[:, None])
    azimuth = np.arctan2(at[:, None], at[None, :])
    ring = ring_position(radius, pitch_mm=pitch_mm).astype(np.int64)
    pixel_1 = np.arange(fine) // SUBPIXELS
    pixel = pixel_1[:, None] * n_pixels + pixel_1[None, :]
    within = ring < n_rings
    counts = np.bincount(ring[within], minlength=n_rings)
    shape = (n_rings * N_HARMONICS, n_pixels * n_pixels)
    parts = []
    for m in range(N_HARMONICS):
        share = (1.0 if m == 0 else 2.0) * np.cos(m * azimuth[within]) / counts[ring[within]]
        rows = ring[within] * N_HARMONICS + m
        parts.append(sparse.csr_matrix((share, (rows, pixel[within])), shape=shape))
    return sum(parts[1:], start=parts[0])


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
    return np.asarray(ndimage.uniform_filter1d(values, 5, axis=1, mode="nearest"))
