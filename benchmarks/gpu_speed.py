"""Photons per second on one NVIDIA GPU, beside a general photon code on the same GPU and beside the CPU.

One slab for all: 1.6 mm, index 1.5, scattering 20 per mm with asymmetry 0.8, absorption 0.02 per mm, a pencil beam on
its back, all internal reflections; here also the light seen from the front is scored, on 36 x 36 pixels of 1/6 mm.

    python benchmarks/gpu_speed.py [--out FILE] [--photons N] [--cpu-photons-per-s N] [--threads 2]

`--out` writes the numbers as JSON. The general code (pmcx) is measured where it is installed. Times are the best of
three, from inputs on the host to sums on the host; compiling is not in them.
"""

import argparse
import json
import math
import os
import platform
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from paneglow.grid import Grid
from paneglow.physics import cosine_power_table
from paneglow.scene import BODY_LAMINATE, Emitter, FaceClasses, Scene, Slab
from paneglow.transport import cpu
from paneglow.transport.devices import find_obstacle
from paneglow.transport.kernels.inputs import ABSORBED
from paneglow.transport.tally import TraceJob

SCATTER_PER_MM, ABSORB_PER_MM, ASYMMETRY, INDEX, THICKNESS_MM = 20.0, 0.02, 0.8, 1.5, 1.6
WINDOW_MM, PIXELS = 6.0, 36
VOXELS_MM = (0.2, 0.8)  # of the general code: about a map pixel, and the fastest found
ROOM_MM = 24.0  # its volume is so wide, which is as good as endless
REPEATS = 3
BATCHES = 16


def slab(*, half_angle_deg: float | None = None) -> Scene:
    """The slab under a pencil beam, or under a lobe of this half angle."""
    lobe = None if half_angle_deg is None else cosine_power_table(math.radians(half_angle_deg))
    one_pixel = np.zeros((1, 1), dtype=np.uint8)
    return Scene(
        grid=Grid(x_min_mm=-50.0, y_min_mm=-50.0, pitch_mm=100.0, n_x=1, n_y=1),
        front=one_pixel,
        back=one_pixel,
        body=np.full((1, 1), BODY_LAMINATE, dtype=np.uint8),
        classes=FaceClasses(
            names=("bare", "copper"),
            transmit=np.array([[1.0], [0.0]]),
            reflect=np.array([[0.0], [0.6]]),
            haze=np.zeros(2),
            backing_reflect=np.zeros((2, 1)),
        ),
        wavelength_nm=np.array([550.0]),
        thickness_mm=THICKNESS_MM,
        refractive_index=INDEX,
        asymmetry=ASYMMETRY,
        slabs=(Slab(name="nominal", scatter_per_mm=SCATTER_PER_MM, absorb_per_mm=np.array([ABSORB_PER_MM])),),
        emitters=(
            Emitter(
                ref="source",
                window=None,
                centre_mm=(0.0, 0.0, -1e-6),
                axis=(0.0, 0.0, 1.0),
                u=(1.0, 0.0, 0.0),
                v=(0.0, 1.0, 0.0),
                size_mm=(0.0, 0.0),
                cos_table=np.array([1.0, 1.0]) if lobe is None else lobe.cos_table,
                cdf_table=np.array([0.0, 1.0]) if lobe is None else lobe.cdf_table,
                intensity_table=np.zeros(2) if lobe is None else lobe.intensity_table,
                nodes=np.array([0]),
                xyz_per_lm=np.ones((1, 3)),
                flux_lm=1.0,
                flux_lm_low=1.0,
                flux_lm_high=1.0,
            ),
        ),
        view_angle_rad=0.0,
        map_grid=Grid(
            x_min_mm=-0.5 * WINDOW_MM, y_min_mm=-0.5 * WINDOW_MM, pitch_mm=WINDOW_MM / PIXELS, n_x=PIXELS, n_y=PIXELS
        ),
    )


def window() -> Scene:
    """A window of 6 x 6 mm in copper on both faces of a board of 24 x 24 mm, lit by a Lambertian LED at its middle."""
    grid = Grid(x_min_mm=-12.0, y_min_mm=-12.0, pitch_mm=0.1, n_x=240, n_y=240)
    inside = np.abs(grid.x_centres_mm()) < 0.5 * WINDOW_MM
    copper = np.where(inside[:, None] & inside[None, :], 0, 1).astype(np.uint8)
    return replace(
        slab(half_angle_deg=60.0), grid=grid, front=copper, back=copper, body=np.zeros(grid.shape, dtype=np.uint8)
    )


def job(scene: Scene, *, photons: int, number: int = 0) -> TraceJob:
    """All photons of the scene's emitter."""
    return TraceJob(
        scene=scene,
        number=number,
        emitter=scene.emitters[0],
        versions=scene.slabs,
        map_grid=scene.map_grid,
        photons=photons,
        n_batches=BATCHES,
    )


def best_of(work: Callable[[], Any]) -> tuple[float, Any]:
    """Least seconds of some runs, and the last result; a first run warms up."""
    work()
    seconds = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        result = work()
        seconds.append(time.perf_counter() - start)
    return min(seconds), result


def measure_cpu(scene: Scene, *, photons: int, threads: int) -> float:
    """Photons per second on this machine's processor."""
    one = job(scene, photons=photons)
    seconds, _ = best_of(lambda: list(cpu.trace_jobs([one], seed=1, n_threads=threads)))
    return photons / seconds


def measure_gpu(scene: Scene, *, photons: int, leds: int = 1) -> dict[str, float]:
    """Photons per second on the GPU, many LEDs in one launch, and the share that is absorbed."""
    from paneglow.transport.cuda.run import trace_jobs  # noqa: PLC0415

    jobs = [job(scene, photons=photons // leds, number=number) for number in range(leds)]
    seconds, tallies = best_of(lambda: list(trace_jobs(jobs, seed=1)))
    absorbed = float(np.mean([tally.fates[:, ABSORBED].mean() for _, tally in tallies]))
    return {"photons_per_s": jobs[0].per_batch * BATCHES * leds / seconds, "absorbed_frac": absorbed}


def measure_general_code(*, photons: int, voxel_mm: float) -> dict[str, float] | None:
    """The same slab by pmcx; photons per second of its own clock. None where it is not installed."""
    try:
        import pmcx  # noqa: PLC0415
    except ImportError:
        return None
    across, deep = round(ROOM_MM / voxel_mm), round(THICKNESS_MM / voxel_mm)
    settings = {
        "nphoton": photons,
        "vol": np.ones((across, across, deep), dtype=np.uint8),
        "unitinmm": voxel_mm,
        "srcpos": [across / 2, across / 2, 0],
        "srcdir": [0, 0, 1],
        "issrcfrom0": 1,
        "prop": np.array([[0, 0, 1, 1], [ABSORB_PER_MM, SCATTER_PER_MM, ASYMMETRY, INDEX]]),
        "tstart": 0,
        "tend": 1e-8,
        "tstep": 1e-8,
        "isreflect": 1,
        "autopilot": 1,
        "gpuid": 1,
        "seed": 1,
    }
    seconds, result = best_of(lambda: pmcx.run(settings))
    state = result["stat"]
    return {
        "photons_per_s": photons / seconds,
        "photons_per_s_own_clock": photons / (1e-3 * state["runtime"]),
        "absorbed_frac": state["energyabs"] / state["energytot"],
    }


def card_name() -> str:
    """What the GPU calls itself."""
    from numba import cuda  # noqa: PLC0415

    name = cuda.get_current_device().name
    return name.decode() if isinstance(name, bytes) else str(name)


def main() -> None:
    """Measure, print a table, write JSON."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--out", type=Path)
    options.add_argument("--photons", type=int, default=1 << 27)
    options.add_argument("--threads", type=int, default=os.cpu_count())
    options.add_argument("--cpu-photons", type=int, default=1 << 17)
    options.add_argument("--cpu-photons-per-s", type=float, nargs=2, metavar=("SLAB", "WINDOW"))
    asked = options.parse_args()
    found: dict[str, Any] = {"machine": platform.processor() or platform.machine(), "photons": asked.photons}
    scenes = {"slab": slab(), "window": window()}
    if asked.cpu_photons_per_s is None:
        rates = [measure_cpu(scene, photons=asked.cpu_photons, threads=asked.threads) for scene in scenes.values()]
        found["cpu"] = {"threads": asked.threads, **dict(zip(scenes, rates, strict=True))}
    else:
        found["cpu"] = {"given": True, **dict(zip(scenes, asked.cpu_photons_per_s, strict=True))}
    for name in scenes:
        print(f"cpu   {name:26s} {found['cpu'][name] / 1e6:10.3f} Mphotons/s")
    obstacle = find_obstacle()
    if obstacle is None:
        found["card"] = card_name()
        found["gpu"] = {name: measure_gpu(scene, photons=asked.photons) for name, scene in scenes.items()}
        found["gpu"]["1024 LEDs"] = measure_gpu(scenes["window"], photons=asked.photons, leds=1024)
        for name, rate in found["gpu"].items():
            ratio = rate["photons_per_s"] / found["cpu"]["slab" if name == "slab" else "window"]
            print(f"gpu   {name:26s} {rate['photons_per_s'] / 1e6:10.1f} Mphotons/s  {ratio:8.0f} x cpu")
        for voxel_mm in VOXELS_MM:
            other = measure_general_code(photons=asked.photons, voxel_mm=voxel_mm)
            if other is not None:
                found[f"pmcx {voxel_mm} mm"] = other
                ratio = found["gpu"]["slab"]["photons_per_s"] / other["photons_per_s"]
                rate = other["photons_per_s"] / 1e6
                print(f"pmcx  {f'{voxel_mm} mm voxels':26s} {rate:10.1f} Mphotons/s; gpu / pmcx {ratio:.2f}")
                entering = 1.0 - ((INDEX - 1.0) / (INDEX + 1.0)) ** 2  # the general code counts what enters
                ours = found["gpu"]["slab"]["absorbed_frac"] / entering
                print(f"      absorbed of what enters: {other['absorbed_frac']:.5f}, here {ours:.5f}")
    else:
        print(f"gpu   not measured: {obstacle}")
    if asked.out is not None:
        asked.out.write_text(json.dumps(found, indent=2) + "\n")


if __name__ == "__main__":
    main()
