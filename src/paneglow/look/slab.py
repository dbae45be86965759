"""Diffuse reflectance of a scattering slab over a backing, by adding and doubling of layers."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numpy.polynomial.legendre import leggauss

from paneglow.physics import fresnel_reflectance

FloatArray = npt.NDArray[np.float64]

STREAMS_PER_SIDE = 6  # Gauss directions inside and outside the escape cone: within 1 % of 24 directions, see the tests
THIN = 1e-3  # optical thickness of the first layer along its flattest direction; first order in it keeps energy exact


class SlabReturn(NamedTuple):
    """Share of diffuse light returned [1], each of shape (...).

    `inner` for light already inside, with no face in front; `from_air` through the front face, its own mirror
    reflection left out.
    """

    inner: FloatArray
    from_air: FloatArray


class _Streams(NamedTuple):
    """Directions inside the slab: cosines, weights of an integral over the cosine, and the face's reflectance."""

    cosine: FloatArray
    weight: FloatArray
    face: FloatArray


def _streams(refractive_index: float) -> _Streams:
    """Gauss points on both sides of the critical angle, where the face's reflectance has its corner."""
    critical = float(np.sqrt(1.0 - 1.0 / refractive_index**2))
    nodes, weights = leggauss(STREAMS_PER_SIDE)
    spans = ((0.0, critical), (critical, 1.0))
    cosine = np.concatenate([low + (high - low) * 0.5 * (nodes + 1.0) for low, high in spans if high > low])
    weight = np.concatenate([(high - low) * 0.5 * weights for low, high in spans if high > low])
    return _Streams(cosine, weight, fresnel_reflectance(cosine, relative_index=1.0 / refractive_index))


def _layer(*, scatter: FloatArray, absorb: FloatArray, streams: _Streams) -> tuple[FloatArray, FloatArray]:
    """Reflection and transmission operators (..., to, from) of a layer of these optical thicknesses (...)."""
    depth = np.asarray(scatter + absorb)
    doublings = max(0, int(np.ceil(np.log2(max(float(depth.max()) / (THIN * float(streams.cosine.min())), 1.0)))))
    share = 0.5**doublings
    spread = (share * scatter)[..., None, None] * streams.weight / (2.0 * streams.cosine[:, None])
    same = np.eye(len(streams.cosine))
    reflect = spread
    transmit = spread + same * (1.0 - share * depth[..., None, None] / streams.cosine)
    for _ in range(doublings):
        between = np.linalg.solve(same - reflect @ reflect, transmit)
        reflect, transmit = reflect + transmit @ reflect @ between, transmit @ between
    return reflect, transmit


def slab_return(
    *,
    reduced_scatter_per_mm: npt.ArrayLike,
    absorb_per_mm: npt.ArrayLike,
    thickness_mm: float,
    refractive_index: float,
    backing_reflectance: npt.ArrayLike | None,
) -> SlabReturn:
    """Diffuse reflectance of a slab under diffuse light.

    Parameters
    ----------
    reduced_scatter_per_mm, absorb_per_mm : array_like, shape (...)
        Scattering times (1 - asymmetry), and absorption [1/mm], at least 0.
    thickness_mm : float
        Thickness [mm], above 0.
    refractive_index : float
        Index over that of air [1], above 1.
    backing_reflectance : array_like, shape (...) or scalar, or None
        Share that a diffuse backing in contact returns into the slab [1]; None for a bare face to air.

    Returns
    -------
    SlabReturn

    Notes
    -----
    Adding and doubling: a very thin layer scatters once, and two layers make one of twice the thickness. Scattering is
    isotropic with the reduced coefficient (similarity).

    References
    ----------
    H. C. van de Hulst, *Multiple Light Scattering*, Academic Press, 1980, as iadpython 0.5.3 names its method, against
    which the tests check it; S. A. Prahl, M. J. C. van Gemert, A. J. Welch, Appl. Opt. 32:559, 1993.

    Examples
    --------
    >>> white = slab_return(reduced_scatter_per_mm=1.0, absorb_per_mm=0.0, thickness_mm=1.6, refractive_index=1.5,
    ...                     backing_reflectance=1.0)
    >>> round(float(white.inner), 4)
    1.0
    """
    scatter, absorb = np.broadcast_arrays(
        np.asarray(reduced_scatter_per_mm, dtype=np.float64), np.asarray(absorb_per_mm, dtype=np.float64)
    )
    streams = _streams(refractive_index)
    reflect, transmit = _layer(scatter=thickness_mm * scatter, absorb=thickness_mm * absorb, streams=streams)
    same = np.eye(len(streams.cosine))
    flux = 2.0 * streams.weight * streams.cosine  # of a radiance per direction, 1 for an even one
    back = same * streams.face
    if backing_reflectance is not None:
        back = np.asarray(backing_reflectance, dtype=np.float64)[..., None, None] * np.tile(flux, (len(flux), 1))
    whole = reflect + transmit @ back @ np.linalg.solve(same - reflect @ back, transmit)
    inner = (whole @ np.ones((len(flux), 1)))[..., 0] @ flux
    # Radiance grows by the index squared on entering; the mirror part of the face never enters
    entering = (refractive_index**2 * (1.0 - streams.face))[:, None]
    upward = np.linalg.solve(same - whole * streams.face, whole @ entering)[..., 0]
    return SlabReturn(np.asarray(inner), np.asarray(upward @ (flux * (1.0 - streams.face))))
