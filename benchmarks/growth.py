"""How time and memory of a trace grow: with LEDs, with the board, with the slab (part of `make bench-speed`).

Boards are drawn here: copper on both faces with windows of 6 x 6 mm, an LED behind the middle of each. Every line is a
process of its own, so that its memory is its own; times are of the trace alone, kernels compiled before.
"""

import argparse
import json
import math
import os
import resource
import subprocess
import sys
import time
from dataclasses import replace

import numpy as np

from paneglow.grid import Grid
from paneglow.physics import cosine_power_table
from paneglow.scene import Emitter, FaceClasses, Scene, Slab
from paneglow.transport import trace

PITCH_MM = 0.05
WINDOW_MM = 6.0
MAP_PITCH_MM = 0.2
PHOTONS = 40_000
MIB = 1024  # ru_maxrss is in KiB on Linux
CASES = {
    "1 LED, 50 mm, 1.6 mm": (1, 50.0, 1.6),
    "4 LEDs, 50 mm, 1.6 mm": (4, 50.0, 1.6),
    "16 LEDs, 50 mm, 1.6 mm": (16, 50.0, 1.6),
    "64 LEDs, 100 mm, 1.6 mm": (64, 100.0, 1.6),
    "16 LEDs, 100 mm, 1.6 mm": (16, 100.0, 1.6),
    "16 LEDs, 200 mm, 1.6 mm": (16, 200.0, 1.6),
    "64 LEDs, 200 mm, 1.6 mm": (64, 200.0, 1.6),
    "4 LEDs, 50 mm, 0.8 mm": (4, 50.0, 0.8),
    "4 LEDs, 50 mm, 3.2 mm": (4, 50.0, 3.2),
}


def board(*, n_leds: int, side_mm: float, thickness_mm: float) -> Scene:
    """A square board with a window and an LED on every place of a square lattice."""
    n = round(side_mm / PITCH_MM)
    grid = Grid(x_min_mm=0.0, y_min_mm=0.0, pitch_mm=PITCH_MM, n_x=n, n_y=n)
    face = np.ones(grid.shape, dtype=np.uint8)
    per_side = math.isqrt(n_leds)
    step_mm = side_mm / per_side
    half = round(0.5 * WINDOW_MM / PITCH_MM)
    table = cosine_power_table(math.radians(60.0))
    rng = np.random.default_rng(1)
    emitters = []
    for number in range(n_leds):
        row, column = divmod(number, per_side)
        x, y = (column + 0.5) * step_mm, (row + 0.5) * step_mm
        j, i = round(y / PITCH_MM), round(x / PITCH_MM)
        face[j - half : j + half, i - half : i + half] = 0
        # Every LED a little off its middle, so that no two places are alike and each is traced
        dx, dy = rng.uniform(-0.5, 0.5, 2)
        emitters.append(
            Emitter(
                ref=f"D{number + 1}", window=None, centre_mm=(x + dx, y + dy, -0.6), axis=(0.0, 0.0, 1.0),
                u=(1.0, 0.0, 0.0), v=(0.0, 1.0, 0.0), size_mm=(0.4, 0.4), cos_table=table.cos_table,
                cdf_table=table.cdf_table, intensity_table=table.intensity_table, nodes=np.array([0]),
                xyz_per_lm=np.ones((1, 3)), flux_lm=1.0, flux_lm_low=1.0, flux_lm_high=1.0,
            )
        )  # fmt: skip
    bare_and_copper = np.array([[1.0], [0.0]])
    classes = FaceClasses(
        names=("bare", "copper"), transmit=bare_and_copper, reflect=np.array([[0.0], [0.25]]), haze=np.zeros(2),
        backing_reflect=np.zeros((2, 1)),
    )  # fmt: skip
    return Scene(
        grid=grid, front=face, back=face, body=np.zeros_like(face), classes=classes, wavelength_nm=np.array([550.0]),
        thickness_mm=thickness_mm, refractive_index=1.55, asymmetry=0.8,
        slabs=(Slab(name="nominal", scatter_per_mm=7.5, absorb_per_mm=np.array([0.05])),), emitters=tuple(emitters),
        view_angle_rad=0.0, map_grid=Grid.over(bounds_mm=grid.bounds_mm, pitch_mm=MAP_PITCH_MM),
    )  # fmt: skip


def measure(name: str) -> dict[str, float]:
    """Seconds of the trace and greatest memory of this process [MiB]."""
    n_leds, side_mm, thickness_mm = CASES[name]
    scene = board(n_leds=n_leds, side_mm=side_mm, thickness_mm=thickness_mm)
    trace(replace(scene, emitters=scene.emitters[:1]), photons_per_led=16, seed=1)
    start, busy = time.perf_counter(), time.process_time()
    trace(scene, photons_per_led=PHOTONS, seed=1)
    return {
        "seconds": time.perf_counter() - start,
        "core_seconds": time.process_time() - busy,
        "memory_mib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / MIB,
        "leds": n_leds,
    }


def main() -> None:
    """Print the table, or with --case one line of it as JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--case", choices=CASES)
    arguments = parser.parse_args()
    if arguments.case is not None:
        print(json.dumps(measure(arguments.case)))
        return
    print(f"{os.cpu_count()} cores; {PHOTONS} photons per LED, one version of the laminate")
    print(f"{'board':28s} {'time':>8s} {'core time':>10s} {'per LED':>10s} {'memory':>10s}")
    for name in CASES:
        command = [sys.executable, __file__, "--case", name]
        found = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
        print(
            f"{name:28s} {found['seconds']:6.2f} s {found['core_seconds']:8.2f} s"
            f" {found['core_seconds'] / found['leds']:8.3f} s {found['memory_mib']:6.0f} MiB"
        )


if __name__ == "__main__":
    main()
