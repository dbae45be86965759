"""What a kernel is given: named tuples of scalars and contiguous arrays, filled by `transport/arrays.py` only.

A channel c is one pair of slab version and wavelength node, ordered [version, node]; all channels of a photon share
its path and carry weights of their own.
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from paneglow.transport.kernels.compile import hot_kernel

FloatArray = npt.NDArray[np.float64]
ByteMap = npt.NDArray[np.uint8]


class FaceInput(NamedTuple):
    """Maps of the board, row by row; points off the grid take the nearest pixel, so one pixel makes an endless slab."""

    classes: npt.NDArray[np.uint8]  # [face, pixel]; face 0 is the back, 1 the front
    body: ByteMap
    clearance: (
        ByteMap  # pixels that a path in the slab or outside may go sideways before it can meet a rim; 0 beside one
    )
    wall_turn: ByteMap  # direction out of the laminate at a wall, in 1/256 turns from +x
    inner: npt.NDArray[np.bool_]  # [layer, pixel], copper inside the slab
    inner_z: FloatArray  # [layer]
    window: ByteMap  # number of the window that a pixel of the front belongs to; 0 for none
    x_min: float
    y_min: float
    pitch: float
    inverse_pitch: float
    n_x: int
    n_y: int
    widest: float  # no path meets a wall farther away than this


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
    kind: npt.NDArray[np.int64]  # [class], 0 smooth, else number of a roughness
    alpha: FloatArray  # [kind], microfacet width; 0 for the smooth kind


class SlabInput(NamedTuple):
    """The laminate."""

    thickness: float
    refractive_index: float
    scatter: float
    free_path: float  # mean length between collisions; inf where nothing scatters
    asymmetry: float
    absorb: FloatArray  # [channel]
    collision_ratio: FloatArray  # [channel], weight at a collision where channels scatter differently; else empty
    least_absorb: float
    inner_reflect: FloatArray  # [layer, channel]
    plating: FloatArray  # [channel], diffuse reflectance of plated walls
    rim_inside: float  # share of light that a bare, milled rim returns into the laminate, whatever its angle
    rim_outside: float  # ... and of light from outside that it returns there
    shift_chance: float  # at a collision, to follow what the laminate gives back at longer waves; 0 where it does not
    shifted: FloatArray  # [node, node], weight brought to the second per weight absorbed at the first


class AirInput(NamedTuple):
    """Sheets that stand in the air before and behind the board; index 0 is behind the back, 1 before the front."""

    present: npt.NDArray[np.bool_]  # [side]
    distance: FloatArray  # [side], from the face
    reflect: FloatArray  # [side, channel], diffuse
    transmit: FloatArray  # [side, channel]
    haze: FloatArray  # [side]


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
    wall_u: float  # half sides of the light wall round the part; 0 where there is none
    wall_v: float
    wall_reflect: FloatArray  # [channel]
    dome_index: float  # of clear glue that joins part and back face; 0 where there is none
    dome_radius: float  # of its foot on the back face
    dome_height: float
    dome_scatter: float
    n_replicas: int  # places beside the photon's own at which its path is followed (`replicas.py`)


class ViewInput(NamedTuple):
    """Where and how light is scored.

    `rays[kind, i]` holds directions inside the laminate that a face of that kind turns toward the viewer: the three
    components, sideways travel per unit of height, path per unit of height, the share of light that crosses the face
    that way over index squared and cosine, and the reflectance of a smooth face along it.
    """

    sin_out: float  # of the angle outside, toward +x
    cos_out: float
    rays: npt.NDArray[np.float64]  # [kind, i, column]
    n_rays: npt.NDArray[np.int64]  # [kind]
    n_versions: int
    n_nodes: int
    xyz: FloatArray  # [node, 3] per emitted lumen
    start: FloatArray  # [channel], weight of a new photon
    through: FloatArray  # [channel], share that a sheet before the front lets straight through
    x_min: float
    y_min: float
    inverse_pitch: float
    inverse_pixel_area: float
    n_x: int
    n_y: int


class Replicas(NamedTuple):
    """Scratch for the replicas of a photon's path (`replicas.py`)."""

    turn: FloatArray  # [2, replica], cosine and sine of its turn about the vertical from the photon
    place: FloatArray  # [4, replica], cosine, sine, and where the origin comes to
    pixel: npt.NDArray[np.int32]  # [replica], of the board, as last located
    spot: npt.NDArray[np.int32]  # [replica], pixel of the map
    rows: npt.NDArray[np.int64]  # [3]: first of the rows that follow, end of them, groups that have split off and wait
    split: FloatArray  # [group, 7 + channel]: place, direction, length not yet settled in the weights, weights
    split_state: npt.NDArray[np.uint64]  # [group]
    split_what: npt.NDArray[np.int64]  # [group, 3]: where its photon is, first of its rows, end of them
    values: FloatArray  # [version * 3 + xyz], of one score


class Workspace(NamedTuple):
    """Scratch and tallies of one block."""

    weight: FloatArray  # [channel], of the photon being walked, settled at its last face
    branch_weight: FloatArray  # [channel], of a side branch toward the viewer
    bounce_weight: FloatArray  # [channel], along specular bounces toward the viewer
    saved_weight: FloatArray  # [channel], to go back to after a side branch
    maps: FloatArray  # [version * 3 + xyz, pixel], row by row
    fates: FloatArray  # [fate, version]
    angles: FloatArray  # [window, bin * version]; what leaves the front, by polar angle
    replicas: Replicas


class Setup(NamedTuple):
    """All that a photon meets and is booked in; kernels are handed one reference to it (`reference.refer`)."""

    emitter: EmitterInput
    face: FaceInput
    coat: CoatInput
    slab: SlabInput
    air: AirInput
    sight: ViewInput
    work: Workspace


# Rows of Workspace.fates, in the order of tally.Fates
FRONT = 0
THROUGH = 1
BACK = 2
EDGE = 3
HOLE = 4
ABSORBED = 5
MISSED = 6
N_FATES = 7
N_ANGLE_BINS = (
    10  # of Workspace.angles, equal in the squared sine of the polar angle: a Lambertian face fills them alike
)

BACK_FACE = 0
FRONT_FACE = 1

LAMINATE = 0
OUTSIDE = 1
IN_HOLE = 2
PLATED_HOLE = 3

# Where a photon is
ENDED = -1
BEHIND = 0  # in the air behind the back face; equals BACK_FACE
BEFORE = 1  # in the air before the front face; equals FRONT_FACE
INSIDE = 2
IN_DOME = 3
# What stopped it inside the slab
COLLIDED = 4
AT_FACE = 5
AT_WALL = 6
AT_COPPER = 7
LOST = 8
UNMET = 9  # behind the board, and has not met it yet

SMOOTH = 0
RAY_X = 0
RAY_Y = 1
RAY_Z = 2
RAY_SLOPE_X = 3
RAY_SLOPE_Y = 4
RAY_SECANT = 5
RAY_SCALE = 6
RAY_BOUNCE = 7
RAY_COLUMNS = 8


@hot_kernel
def face_pixel(face, x, y):
    """Pixel of the maps of the board at a point, the nearest one off the grid."""
    # Toward 0 is as good as downward: both come to the first row or column
    row = min(max(int((y - face.y_min) * face.inverse_pitch), 0), face.n_y - 1)
    return row * face.n_x + min(max(int((x - face.x_min) * face.inverse_pitch), 0), face.n_x - 1)
