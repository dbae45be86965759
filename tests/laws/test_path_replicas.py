"""Path replicas: light followed at many places at a time is the light of photons followed alone.

Every scene is traced with replicas and without. The sums of fates, angles and map blocks are one family
(`sampling_checks`): any of some 1,400 fails a right program once in 100 seeds.
"""

from dataclasses import replace

import numpy as np
import pytest

from paneglow.grid import Grid
from paneglow.scene import BODY_HOLE, BODY_OUTSIDE, BODY_PLATED_HOLE, LightWall, Slab
from paneglow.transport import replicas
from sampling_checks import most_sigmas
from slab_scenes import beam, lambertian, one_coat, slab_scene, trace_slab, white_sheet

SLAB = {"optical_depth": 6.0, "albedo": 0.99, "asymmetry": 0.7, "refractive_index": 1.5}
MAP = Grid(x_min_mm=-2.0, y_min_mm=-2.0, pitch_mm=1.0, n_x=4, n_y=4)
BOARD = Grid(x_min_mm=-3.0, y_min_mm=-3.0, pitch_mm=0.05, n_x=120, n_y=120)
N_BATCHES = 64
SIGMAS = most_sigmas(1_400, degrees=2 * (N_BATCHES - 1))
PHOTONS = 64_000
X, Y = BOARD.x_centres_mm()[None, :], BOARD.y_centres_mm()[:, None]


def near_lamp(**changes):
    return replace(lambertian(at_z_mm=-0.3, size_mm=(0.8, 0.5)), **changes)


def board(*, covered=None, body=None, classes=None, emitter=None, **changes):
    """A board of 6 x 6 mm, class 1 where `covered` on both faces, `body` where it is not laminate."""
    flat = np.zeros(BOARD.shape, dtype=np.uint8)
    scene = slab_scene(emitter=near_lamp() if emitter is None else emitter, map_grid=MAP, classes=classes, **SLAB)
    faces = flat if covered is None else (covered & (X + Y < 99.0)).astype(np.uint8)
    return replace(
        scene, grid=BOARD, front=faces, back=faces, body=flat if body is None else body.astype(np.uint8), **changes
    )


def strips():
    return (np.abs(X % 0.8 - 0.4) < 0.2) | (np.abs(Y) > 1.7)


def windows():
    return np.where(X + 0.0 * Y > 0.3, 1, 0).astype(np.uint8)


COPPER = {"transmit": 0.0, "reflect": 0.7}
SCENES = {
    "bare": board(),
    "copper in strips": board(covered=strips(), classes=one_coat(**COPPER), windows=windows()),
    "tinted strips": board(covered=strips(), classes=one_coat(transmit=0.3, reflect=0.5, haze=0.4), windows=windows()),
    "rough beside smooth": board(
        covered=strips(), classes=replace(one_coat(), roughness=np.array([0.0, 0.35])), windows=windows()
    ),
    "bodies behind": board(covered=strips(), classes=one_coat(backing_reflect=0.8)),
    "clear": replace(
        board(covered=strips(), classes=one_coat(**COPPER)),
        slabs=(Slab(name="nominal", scatter_per_mm=0.4, absorb_per_mm=np.array([0.02])),),
    ),
    "rim": board(body=np.where(X > 1.0, BODY_OUTSIDE, 0) + 0.0 * Y),
    "bare slot": board(body=np.where((np.abs(X - 0.9) < 0.2) & (np.abs(Y) < 1.0), BODY_HOLE, 0)),
    "plated slot": board(
        body=np.where((np.abs(X - 0.9) < 0.2) & (np.abs(Y) < 1.0), BODY_PLATED_HOLE, 0), plating=np.array([0.6])
    ),
    "over a hole": board(body=np.where(np.hypot(X, Y) < 0.3, BODY_HOLE, 0)),
    "white sheet behind": board(
        covered=strips(), classes=one_coat(**COPPER), back_sheet=white_sheet(distance_mm=1.0, reflect=0.9)
    ),
    "sheet before": board(
        covered=strips(),
        classes=one_coat(**COPPER),
        front_sheet=white_sheet(distance_mm=0.8, reflect=0.3, transmit=0.6, haze=0.5),
    ),
    "seen aslant": board(covered=strips(), classes=one_coat(**COPPER), view_angle_rad=0.7),
    "side-facing": board(
        covered=strips(),
        classes=one_coat(**COPPER),
        emitter=near_lamp(axis=(1.0, 0.0, 0.0), u=(0.0, 1.0, 0.0), v=(0.0, 0.0, 1.0)),
    ),
    "tilted lamp": board(emitter=near_lamp(axis=(0.6, 0.0, 0.8), u=(0.8, 0.0, -0.6))),
    "lamp tilted across": board(
        emitter=near_lamp(axis=(0.0, -0.6, 0.8), u=(1.0, 0.0, 0.0), v=(0.0, 0.8, 0.6)),
        covered=strips(),
        classes=one_coat(**COPPER),
    ),
    "a beam": board(covered=strips(), classes=one_coat(**COPPER), emitter=beam()),
}


def three_laminates():
    scene = SCENES["copper in strips"]
    return replace(
        scene,
        slabs=tuple(
            Slab(name=name, scatter_per_mm=6.0, absorb_per_mm=np.array([absorb]))
            for name, absorb in (("nominal", 0.05), ("clear", 0.01), ("dark", 0.4))
        ),
    )


def glowing():
    """Two nodes: the LED's own, and one that absorbed light comes back at."""
    scene = SCENES["copper in strips"]
    emitter = near_lamp(
        nodes=np.array([0, 1]), xyz_per_lm=np.array([[0.3, 0.4, 1.2], [0.5, 0.8, 0.1]]), start=np.array([1.0, 0.0]),
        shifted=np.array([[0.0, 0.6], [0.0, 0.0]]),
    )  # fmt: skip
    classes = replace(
        scene.classes,
        transmit=np.repeat(scene.classes.transmit, 2, axis=1),
        reflect=np.repeat(scene.classes.reflect, 2, axis=1),
        backing_reflect=np.repeat(scene.classes.backing_reflect, 2, axis=1),
    )
    slab = Slab(name="glowing", scatter_per_mm=6.0, absorb_per_mm=np.array([0.4, 0.02]))
    return replace(
        scene, emitters=(emitter,), classes=classes, slabs=(slab,), wavelength_nm=np.array([460.0, 560.0]),
        plating=np.zeros(2),
    )  # fmt: skip


SCENES["three laminates"] = three_laminates()
SCENES["glowing laminate"] = glowing()


def traced_alone(scene, monkeypatch):
    with monkeypatch.context() as changed:
        changed.setattr(replicas, "MOST_PLACES", 1)
        changed.setattr(replicas, "MOST_UNTURNED", 1)
        return trace_slab(scene, photons=2 * PHOTONS, seed=2, n_batches=N_BATCHES)


def assert_alike(ours, theirs, *, what):
    """Batches of two traces have the same means, sum by sum."""
    ours, theirs = (values.reshape(N_BATCHES, -1).astype(np.float64) for values in (ours, theirs))
    error = np.sqrt((ours.var(axis=0, ddof=1) + theirs.var(axis=0, ddof=1)) / N_BATCHES)
    difference = np.abs(ours.mean(axis=0) - theirs.mean(axis=0))
    # What never varies is the same but for rounding
    beyond = difference - SIGMAS * error - 1e-6 * np.abs(theirs.mean(axis=0)).max()
    worst = int(np.argmax(beyond))
    assert beyond.max() <= 0.0, (
        f"{what} {worst}: {ours.mean(axis=0)[worst]:.6g} with replicas, {theirs.mean(axis=0)[worst]:.6g} without, "
        f"{difference[worst] / max(error[worst], 1e-300):.1f} standard errors apart"
    )


@pytest.mark.parametrize("name", SCENES)
def test_replicas_change_no_mean(name, monkeypatch):
    scene = SCENES[name]
    assert replicas.replica_count(scene, scene.emitters[0], n_versions=len(scene.slabs)) > 0
    together = trace_slab(scene, photons=PHOTONS, seed=1, n_batches=N_BATCHES)
    alone = traced_alone(scene, monkeypatch)
    assert_alike(together.fates, alone.fates, what="fate")
    assert_alike(together.maps, alone.maps, what="block")
    assert_alike(together.angles, alone.angles, what="angle")


def test_replicas_lower_the_noise_of_a_window():
    # 128 places tell 128 times as much at best; 18.6 times was measured between the strips, half of that is asked
    fine = replace(MAP, pitch_mm=0.25, n_x=16, n_y=16)
    scene = replace(SCENES["copper in strips"], map_grid=fine)
    together = trace_slab(scene, photons=PHOTONS, seed=1, n_batches=N_BATCHES).maps[:, 0, 1]
    with pytest.MonkeyPatch.context() as changed:
        changed.setattr(replicas, "MOST_PLACES", 1)
        alone = trace_slab(scene, photons=PHOTONS, seed=1, n_batches=N_BATCHES).maps[:, 0, 1]
    seen = alone.mean(axis=0) > 0.2 * alone.mean(axis=0).max()
    gain = alone.var(axis=0)[seen].mean() / together.var(axis=0)[seen].mean()
    assert gain > 9.0, f"variance falls to 1/{gain:.1f} only"


def test_a_lamp_apart_from_the_board_by_more_than_air_is_followed_alone():
    scene = SCENES["bare"]
    walled = near_lamp(light_wall=LightWall(length_mm=2.0, width_mm=1.5, reflect=np.array([0.5])))
    assert replicas.replica_count(scene, walled, n_versions=1) == 0
    assert replicas.replica_count(scene, near_lamp(opening_mm=(1.0, 1.0)), n_versions=1) == 0
    assert replicas.replica_count(scene, near_lamp(), n_versions=1) == replicas.MOST_PLACES - 1
    # More laminates are more map planes to add to at every place
    assert replicas.replica_count(scene, near_lamp(), n_versions=16) == replicas.MOST_ADDED // 48 - 1
