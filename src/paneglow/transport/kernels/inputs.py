"""What a kernel is given: named tuples of scalars and contiguous arrays, filled by `transport/arrays.py` only.

A channel c is one pair of slab version and wavelength node, ordered [version, node]; all channels of a photon share
its path and carry weights of their own.
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
ByteMap = npt.NDArray[np.uint8]


class FaceInput(NamedTuple):
    """Class and body maps [y, x]; points off the grid take the nearest pixel, so one pixel makes an endless slab."""

    classes: npt.NDArray[np.uint8]  # [face, y, x]; face 0 is the back, 1 the front
    body: ByteMap
    x_min: float
    y_min: float
    inverse_pitch: float


class CoatInput(NamedTuple):
    """Coefficients of the face classes."""

    transmit: FloatArray  # [class, channel]
    reflect: FloatArray  # [class, channel]
    backing: FloatArray  # [class, channel]
    haze: FloatArray  # [class]
    return_chance: FloatArray  # [class], chance to follow the diffuse return; -1 where nothing goes on
    is_plain: npt.NDArray[np.bool_]  # [class], neither tint, return nor haze
    is_opaque: npt.NDArray[np.bool_]  # [class], lets nothing through in any channel
    has_backing: npt.NDArray[np.bool_]  # [class]


class SlabInput(NamedTuple):
    """The laminate."""

    thickness: float
    refractive_index: float
    scatter: float
    asymmetry: float
    absorb: FloatArray  # [channel]
    least_absorb: float


class EmitterInput(NamedTuple):
    """One LED."""

    number: int
    centre: FloatArray  # [3]
    axis: FloatArray  # [3]
    u: FloatArray  # [3]
    v: FloatArray  # [3]
    size_u: float
    size_v: float
    cos_table: FloatArray
    cdf_table: FloatArray
    intensity_table: FloatArray
    opening_u: float  # 0 where the part shines at the closed face
    opening_v: float
    opening_round: bool
    opening_plated: bool
    cover_distance: float  # 0 where there is no cover
    cover_reflect: float


class ViewInput(NamedTuple):
    """Where and how light is scored."""

    sin_out: float  # of the angle outside, toward +x
    cos_out: float
    sin_in: float  # of the refracted angle inside
    cos_in: float
    reflect: float  # Fresnel reflectance of a face along the view
    n_versions: int
    n_nodes: int
    xyz: FloatArray  # [node, 3] per emitted lumen
    x_min: float
    y_min: float
    inverse_pitch: float
    inverse_pixel_area: float
    n_x: int
    n_y: int


class Workspace(NamedTuple):
    """Scratch and tallies of one block."""

    weight: FloatArray  # [channel], of the photon being walked, settled at its last face
    aside: FloatArray  # [channel], weights of a side branch toward the viewer
    maps: npt.NDArray[np.float32]  # [version * 3 + xyz, y, x]
    fates: FloatArray  # [fate, version]


# Rows of Workspace.fates, in the order of tally.Fates
FRONT = 0
THROUGH = 1
BACK = 2
EDGE = 3
HOLE = 4
ABSORBED = 5
MISSED = 6
N_FATES = 7

BACK_FACE = 0
FRONT_FACE = 1

LAMINATE = 0
OUTSIDE = 1
IN_HOLE = 2
