"""Rings and harmonics round the point of entry: how a square map becomes a point spread."""

import numpy as np
import numpy.typing as npt
from scipy import sparse

FloatArray = npt.NDArray[np.float64]

GROWTH = 12.0  # rings until the width has grown threefold (chosen)
N_HARMONICS = 7  # cos(m psi), m = 0 to 6; light loses its direction within a few scatterings
SUBPIXELS = 4  # per side, to share a pixel out among rings


def ring_position(radius_mm: npt.ArrayLike, *, pitch_mm: float) -> FloatArray:
    """Position on the scale of rings, whose edges are whole numbers: radius = pitch t (1 + t / GROWTH)."""
    r = np.asarray(radius_mm, dtype=np.float64) / pitch_mm
    return np.asarray(0.5 * GROWTH * (np.sqrt(1.0 + 4.0 * r / GROWTH) - 1.0))


def ring_count(reach_mm: float, *, pitch_mm: float) -> int:
    """Whole rings within a radius."""
    return int(ring_position(reach_mm, pitch_mm=pitch_mm))


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
