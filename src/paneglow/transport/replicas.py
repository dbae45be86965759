"""At how many places a photon of an LED is followed, and room for its replicas (`kernels/replicas.py`)."""

import math

import numpy as np

from paneglow.scene import Emitter, Scene
from paneglow.transport.kernels.inputs import Replicas

# Places per photon, its own included, where a walk may be turned about its LED, and where it may not: there they
# lie but over the LED, near each other. And map planes that a score may add to at all places together. Our choice:
# more places still help a wide window, not a clear slab, and with several laminates each place costs more
# (docs/speed.md).
MOST_PLACES = 128
MOST_UNTURNED = 16
MOST_ADDED = 384
UPRIGHT = 1.0 - 1e-9  # cosine of the LED's axis to the vertical from which turning about it changes nothing


def replica_count(scene: Scene, emitter: Emitter, *, n_versions: int) -> int:
    """Replicas per photon; none where its light meets more than laminate and faces before it can be shared.

    Parameters
    ----------
    scene : Scene
    emitter : Emitter
    n_versions : int
        Slab versions that share a walk; channels are ordered [version, node].

    Returns
    -------
    int
    """
    apart = emitter.opening_mm is not None or emitter.dome is not None or emitter.light_wall is not None
    if apart or emitter.centre_mm[2] > 0.0 or scene.inner:
        return 0
    if _may_turn(scene, emitter):
        most = MOST_PLACES
    else:
        level_mm = [size for side, size in zip((emitter.u, emitter.v), emitter.size_mm, strict=True) if side[2] == 0.0]
        most = MOST_UNTURNED if max(level_mm, default=0.0) > 0.0 else 1
    return max(1, min(most, MOST_ADDED // (3 * n_versions))) - 1


def build_replicas(n: int, *, scene: Scene, emitter: Emitter, n_versions: int) -> Replicas:
    """Scratch for `n` replicas; they stand in equal turns about the LED where it and the view allow that.

    Parameters
    ----------
    n : int
        Replicas per photon.
    scene : Scene
    emitter : Emitter
    n_versions : int
        Slab versions that share a walk; channels are ordered [version, node].

    Returns
    -------
    Replicas
    """
    turns = np.arange(1, n + 1) / (n + 1) if _may_turn(scene, emitter) else np.zeros(n)
    angle_rad = 2.0 * math.pi * turns
    return Replicas(
        turn=np.stack([np.cos(angle_rad), np.sin(angle_rad)], axis=0),
        place=np.zeros((4, n)),
        pixel=np.zeros(n, dtype=np.int32),
        spot=np.zeros(n, dtype=np.int32),
        rows=np.zeros(3, dtype=np.int64),
        split=np.zeros((n, 7 + n_versions * emitter.nodes.size)),
        split_state=np.zeros(n, dtype=np.uint64),
        split_what=np.zeros((n, 3), dtype=np.int64),
        values=np.zeros(3 * n_versions),
    )


def no_replicas() -> Replicas:
    """For walks without replicas."""
    return Replicas(
        turn=np.zeros((2, 0)),
        place=np.zeros((4, 0)),
        pixel=np.zeros(0, dtype=np.int32),
        spot=np.zeros(0, dtype=np.int32),
        rows=np.zeros(3, dtype=np.int64),
        split=np.zeros((0, 7)),
        split_state=np.zeros(0, dtype=np.uint64),
        split_what=np.zeros((0, 3), dtype=np.int64),
        values=np.zeros(0),
    )


def _may_turn(scene: Scene, emitter: Emitter) -> bool:
    return scene.view_angle_rad == 0.0 and emitter.axis[2] > UPRIGHT
