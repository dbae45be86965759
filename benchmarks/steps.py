"""Steps of a photon per second on one CPU core, beside what their arithmetic alone allows (part of `make bench-speed`).

A step is one flight and one turn. Each row adds a part of it to the one above in a loop of its own, made of the
kernels that a trace is made of, on one thread; the last rows are whole traces of a slab and of a window in copper.
"""

import math
import platform
import time
from collections.abc import Callable

import numpy as np

from paneglow.grid import Grid
from paneglow.physics import cosine_power_table
from paneglow.scene import BODY_LAMINATE, Emitter, FaceClasses, Scene, Slab
from paneglow.transport import replicas
from paneglow.transport.cpu import trace_emitter
from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.phase import free_length, turned
from paneglow.transport.kernels.random import next_triple, stream_start

N_STEPS = 20_000_000
N_REPEATS = 3
PHOTONS = 32_768
SCATTER_PER_MM, ASYMMETRY, THICKNESS_MM = 20.0, 0.8, 1.6


@kernel
def draw(n, state):
    """Draw what a step needs from one random word."""
    total = 0.0
    for _ in range(n):
        state, u, v, w = next_triple(state)
        total += u + v + w
    return total


@kernel
def draw_lengths(n, state, free_path):
    """Draw it and make a length of one variate."""
    total = 0.0
    for _ in range(n):
        state, u, v, w = next_triple(state)
        total += free_length(u, free_path) + v + w
    return total


@kernel
def draw_and_turn(n, state, free_path, g):
    """Draw, go and turn."""
    x = y = z = 0.0
    ux, uy, uz = 0.6, 0.0, 0.8
    for _ in range(n):
        state, u, v, w = next_triple(state)
        leg = free_length(u, free_path)
        x, y, z = x + ux * leg, y + uy * leg, z + uz * leg
        ux, uy, uz = turned(ux, uy, uz, g, v, w)
    return x + y + z


def seconds_per(run: Callable[[], object], count: float) -> float:
    """Best of some runs, the first one compiling apart."""
    run()
    best = math.inf
    for _ in range(N_REPEATS):
        start = time.perf_counter()
        run()
        best = min(best, time.perf_counter() - start)
    return best / count


def slab(*, in_window: bool) -> Scene:
    """The slab of the GPU's table; as a window of 6 x 6 mm in copper, or endless and bare."""
    n, pitch_mm = (160, 0.05) if in_window else (1, 8.0)
    grid = Grid(x_min_mm=-4.0, y_min_mm=-4.0, pitch_mm=pitch_mm, n_x=n, n_y=n)
    x, y = grid.x_centres_mm()[None, :], grid.y_centres_mm()[:, None]
    face = ((np.maximum(np.abs(x), np.abs(y)) > 3.0) & in_window).astype(np.uint8)
    table = cosine_power_table(math.radians(60.0))
    emitter = Emitter(
        ref="E1", window=None, centre_mm=(0.0, 0.0, -0.3), axis=(0.0, 0.0, 1.0), u=(1.0, 0.0, 0.0), v=(0.0, 1.0, 0.0),
        size_mm=(1.0, 1.0), cos_table=table.cos_table, cdf_table=table.cdf_table,
        intensity_table=table.intensity_table, nodes=np.array([0]), xyz_per_lm=np.ones((1, 3)), flux_lm=1.0,
        flux_lm_low=1.0, flux_lm_high=1.0,
    )  # fmt: skip
    return Scene(
        grid=grid, front=face, back=face, body=np.full(grid.shape, BODY_LAMINATE, dtype=np.uint8),
        classes=FaceClasses(
            names=("bare", "copper"), transmit=np.array([[1.0], [0.0]]), reflect=np.array([[0.0], [0.3]]),
            haze=np.zeros(2), backing_reflect=np.zeros((2, 1)),
        ),
        wavelength_nm=np.array([550.0]), thickness_mm=THICKNESS_MM, refractive_index=1.5, asymmetry=ASYMMETRY,
        slabs=(Slab(name="nominal", scatter_per_mm=SCATTER_PER_MM, absorb_per_mm=np.array([0.02])),),
        emitters=(emitter,), view_angle_rad=0.0,
        map_grid=Grid(x_min_mm=-3.0, y_min_mm=-3.0, pitch_mm=0.25, n_x=24, n_y=24),
    )  # fmt: skip


def trace_on_one_core(scene: Scene) -> float:
    """Photons per second."""

    def run() -> object:
        return trace_emitter(
            scene, scene.emitters[0], number=0, versions=scene.slabs, map_grid=scene.map_grid, photons=PHOTONS,
            n_batches=16, seed=1, n_threads=1,
        )  # fmt: skip

    return 1.0 / seconds_per(run, PHOTONS)


def print_step(name: str, seconds: float) -> None:
    """One row of the table of steps."""
    print(f"{name:52s} {1e9 * seconds:8.1f} ns {1e-6 / seconds:8.1f} million/s")


def main() -> None:
    """Print both tables."""
    print(f"{platform.machine()}, one core; scattering {SCATTER_PER_MM:g} per mm, asymmetry {ASYMMETRY:g}")
    state, free_path = np.uint64(stream_start(1, 2, 3)), 1.0 / SCATTER_PER_MM
    print_step("three variates of one word", seconds_per(lambda: draw(N_STEPS, state), N_STEPS))
    print_step("... and a free length", seconds_per(lambda: draw_lengths(N_STEPS, state, free_path), N_STEPS))
    print_step(
        "... and a step, and a turn", seconds_per(lambda: draw_and_turn(N_STEPS, state, free_path, ASYMMETRY), N_STEPS)
    )
    print()
    for name, in_window in (("endless and bare", False), ("a window of 6 x 6 mm in copper", True)):
        for places in (1, replicas.MOST_PLACES):
            replicas.MOST_PLACES, kept = places, replicas.MOST_PLACES
            rate = trace_on_one_core(slab(in_window=in_window))
            replicas.MOST_PLACES = kept
            print(f"{name + f', {places} places a photon':52s} {rate:10,.0f} photons/s")


if __name__ == "__main__":
    main()
