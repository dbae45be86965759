"""Row of the speed table beside a general volumetric path tracer: one window, two codes, the same cores, one run.

`race.py` traces a 6 x 6 mm window in copper here and renders it with mitsuba (`pip install mitsuba`, with a recent LLVM
runtime whose library DRJIT_LIBLLVM_PATH names). Noise is the root mean square over the pixels of each one's standard
error, from the spread of independent batches, relative to its mean here; time to 1 % is scaled from it. Each code is
run once before the clock starts: it compiles then.
"""

import argparse
import importlib.util
import math
import os
import platform
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

sys.path.append(str(Path(__file__).parents[1] / "tests"))

from paneglow.transport import replicas
from reference.make_reference import VARIANTS, Renderer
from reference.scenes import BARE, COPPER, Lamp, Patch, ReferenceScene
from reference.tracing import traced_blocks

HALF_MM, PIXEL_MM = 3.0, 0.25
ASKED = 0.01  # relative noise
N_PIXELS = round(2.0 * HALF_MM / PIXEL_MM)
WINDOW = (Patch(cover="bare", low=(-HALF_MM, -HALF_MM), high=(HALF_MM, HALF_MM)),)
SCENE = ReferenceScene(
    name="race",
    claim="a lamp of 1 x 1 mm behind a window of 6 x 6 mm",
    lamp=Lamp(centre=(0.0, 0.0, -0.3), size=(1.0, 1.0)),
    covers={"bare": BARE, "copper": COPPER},
    front=WINDOW,
    back=WINDOW,
    front_rest="copper",
    back_rest="copper",
    map_low=(-HALF_MM, -HALF_MM),
    blocks=(N_PIXELS, N_PIXELS),
    block=PIXEL_MM,
    scatter=20.0,
    absorb=0.02,
)

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lap:
    """Independent batches of the pixels [batch, y, x] and the seconds that they took."""

    batches: FloatArray
    seconds: float

    def noise(self, mean: FloatArray) -> float:
        """Of the mean of all batches, relative to the pixels' `mean`."""
        variance = self.batches.var(axis=0, ddof=1) / len(self.batches)
        return float(np.sqrt(np.mean(variance / mean**2)))

    def seconds_to(self, noise: float, *, mean: FloatArray) -> float:
        """Time at which the noise has fallen to a value."""
        return self.seconds * (self.noise(mean) / noise) ** 2


def trace_here(photons: int) -> Lap:
    """Trace the window, every core at work."""
    traced_blocks(SCENE, photons=1000, seed=1)
    start = time.perf_counter()
    blocks = traced_blocks(SCENE, photons=photons, seed=2)
    return Lap(batches=blocks.batches, seconds=time.perf_counter() - start)


def render_there(paths: int, n_batches: int) -> Lap:
    """Render it, `paths` per pixel and batch."""
    renderer = Renderer(VARIANTS[0])
    loaded = renderer.loaded(SCENE)

    def render(seed: int, count: int) -> FloatArray:
        pixels = np.asarray(renderer.mi.render(loaded, seed=seed, spp=count), dtype=np.float64)
        return pixels.reshape(N_PIXELS, N_PIXELS)

    render(0, 1)
    start = time.perf_counter()
    batches = np.stack([render(1 + batch, paths) for batch in range(n_batches)])
    return Lap(batches=batches, seconds=time.perf_counter() - start)


def print_lap(name: str, lap: Lap, mean: FloatArray) -> None:
    """One row of the table."""
    level = lap.batches.mean()
    error = lap.batches.mean(axis=(1, 2)).std(ddof=1) / math.sqrt(len(lap.batches))
    print(
        f"{name:34s} {lap.seconds:8.1f} s {100.0 * lap.noise(mean):8.2f} % {lap.seconds_to(ASKED, mean=mean):10.1f} s"
        f"   mean {level:.5f} +- {error:.5f}"
    )


def main() -> None:
    """Run both and print the ratio."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photons", type=int, default=800_000, help="photons traced here (default 800000)")
    parser.add_argument("--paths", type=int, default=1024, help="paths per pixel and batch there (default 1024)")
    parser.add_argument("--batches", type=int, default=8, help="batches there (default 8)")
    arguments = parser.parse_args()
    print(f"{os.cpu_count()} cores, {platform.machine()}, {N_PIXELS} x {N_PIXELS} pixels of {PIXEL_MM} mm")
    print(f"{'':34s} {'time':>10s} {'noise':>10s} {'to 1 %':>12s}")
    ours = trace_here(arguments.photons)
    mean = ours.batches.mean(axis=0)
    print_lap(f"here, {replicas.MOST_PLACES} places a photon", ours, mean)
    if importlib.util.find_spec("mitsuba") is None:
        print("the other code is not installed: pip install mitsuba, with a recent LLVM runtime")
        return
    theirs = render_there(arguments.paths, arguments.batches)
    print_lap(f"mitsuba ({VARIANTS[0]}, volpath)", theirs, mean)
    ratio = theirs.seconds_to(ASKED, mean=mean) / ours.seconds_to(ASKED, mean=mean)
    print(f"time to 1 %: {ratio:,.0f} times less here")


if __name__ == "__main__":
    main()
