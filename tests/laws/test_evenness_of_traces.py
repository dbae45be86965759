"""Evenness from short traces against that of a long one: noise as photons make it, on windows nothing was fitted to."""

import numpy as np
import numpy.typing as npt
import pytest

from paneglow.grid import Grid
from paneglow.look.evenness import build_spread
from paneglow.scene import FaceClasses, Scene, Slab, lambertian_rectangle
from paneglow.transport.cpu import trace_emitter

SEEN = Grid(x_min_mm=-2.5, y_min_mm=-2.0, pitch_mm=0.25, n_x=20, n_y=16)
FACES = Grid(x_min_mm=-12.0, y_min_mm=-12.0, pitch_mm=0.1, n_x=240, n_y=240)
N_BATCHES, N_SEEDS = 16, 12
SHORT, LONG = 6_000, 150_000  # photons


def crescent(x: npt.NDArray[np.float64], y: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
    return (np.hypot(x, y) < 2.0) & (np.hypot(x + 1.0, y) > 1.2)


def barred(x: npt.NDArray[np.float64], y: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
    """A rectangle with two bars of copper across it, behind its front (see `lit`)."""
    return (np.abs(x) < 2.4) & (np.abs(y) < 1.9)


def lit(shape, *, bars: bool) -> Scene:
    x, y = FACES.x_centres_mm()[None, :], FACES.y_centres_mm()[:, None]
    front = np.where(shape(x, y), 0, 1).astype(np.uint8)
    back = np.where(bars & (np.abs(np.abs(x) - 1.2) < 0.25), 1, front).astype(np.uint8)
    return Scene(
        grid=FACES, front=front, back=back, body=np.zeros(FACES.shape, dtype=np.uint8),
        classes=FaceClasses(
            names=("bare", "copper"), transmit=np.array([[1.0], [0.0]]), reflect=np.array([[0.0], [0.3]]),
            haze=np.zeros(2), backing_reflect=np.zeros((2, 1)),
        ),
        wavelength_nm=np.array([550.0]), thickness_mm=1.0, refractive_index=1.55, asymmetry=0.8,
        slabs=(Slab(name="nominal", scatter_per_mm=7.5, absorb_per_mm=np.array([0.05])),),
        emitters=(lambertian_rectangle("D1", centre_mm=(0.4, -0.3, -2.0), size_mm=(0.6, 0.3)),),
        view_angle_rad=0.0, map_grid=SEEN,
    )  # fmt: skip


def batches_of(scene: Scene, *, photons: int, seed: int) -> npt.NDArray[np.float64]:
    tally = trace_emitter(
        scene, scene.emitters[0], number=0, versions=scene.slabs, map_grid=SEEN, photons=photons,
        n_batches=N_BATCHES, seed=seed,
    )  # fmt: skip
    return tally.maps[:, 0, 1].astype(np.float64)


@pytest.mark.parametrize(("shape", "bars"), [(crescent, False), (barred, True)])
def test_short_traces_find_the_evenness_of_a_long_one_within_their_errors(shape, bars: bool) -> None:
    scene = lit(shape, bars=bars)
    x, y = SEEN.x_centres_mm()[None, :], SEEN.y_centres_mm()[:, None]
    inside = shape(x, y)
    exact = batches_of(scene, photons=LONG, seed=1000).mean(axis=0)[inside]
    dark, bright = np.percentile(exact, [2, 98])
    found, stated = [], []
    for seed in range(N_SEEDS):
        batches = batches_of(scene, photons=SHORT, seed=seed)
        spread = build_spread([batches], versions=batches.mean(axis=0)[None], scattering=[0], inside=inside)
        found.append([spread.ratio_versions[0], spread.peak_versions[0]])
        stated.append([spread.ratio_versions_se[0], spread.peak_versions_se[0]])
    off = np.log(np.array(found) / [dark / bright, bright])
    relative = np.array(stated) / np.array(found)
    rms = np.sqrt(np.mean((off / relative) ** 2, axis=0))
    # 12 traces give the root mean square to 20 %: it is 1 where errors are as stated
    assert np.all((rms > 0.5) & (rms < 1.5)), rms
    assert np.all(np.abs(off.mean(axis=0)) < relative.mean(axis=0))
