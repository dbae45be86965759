"""What the kernels ask of the board's outline: how far away its rims are and which way they face."""

import math

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.scene import BODY_LAMINATE

ByteMap = npt.NDArray[np.uint8]

FARTHEST_PX = 255  # distances are kept in one byte
WITHIN_PIXELS = 1.42  # two half diagonals: from anywhere in one pixel to anywhere in the other
SMOOTHING_PX = 2.0  # evens out the steps of the raster before its slope is taken


def clear_distance(body: ByteMap) -> ByteMap:
    """Pixels that one may go in any direction, at least, before meeting a pixel without laminate; shape (y, x)."""
    laminate = body == BODY_LAMINATE
    if laminate.all():
        return np.full(body.shape, FARTHEST_PX, dtype=np.uint8)
    distance = scipy.ndimage.distance_transform_edt(laminate)
    pixels: ByteMap = np.clip(np.floor(distance - WITHIN_PIXELS), 0, FARTHEST_PX).astype(np.uint8)
    return pixels


def wall_directions(body: ByteMap) -> ByteMap:
    """Direction out of the laminate, in 1/256 turns from +x, as it holds beside a rim; shape (y, x)."""
    laminate = (body == BODY_LAMINATE).astype(np.float32)
    if laminate.all() or min(body.shape) < 2:
        return np.zeros(body.shape, dtype=np.uint8)
    smooth = scipy.ndimage.gaussian_filter(laminate, SMOOTHING_PX, mode="nearest")
    down, right = np.gradient(smooth)
    turns = np.arctan2(-down, -right) / (2.0 * math.pi)
    directions: ByteMap = (np.round(turns * 256.0).astype(np.int64) % 256).astype(np.uint8)
    return directions
