"""Time of each step of the main job on this machine: `make bench-speed`, or `speed.py DESIGN` for another board.

Every step is run twice; the first run includes loading libraries and compiling kernels, the second does not.
"""

import argparse
import os
import platform
import resource
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from paneglow.board import build_board, build_face_maps, read_board_files, survey_windows
from paneglow.catalog import read_catalog
from paneglow.design import design_file, read_design
from paneglow.fab import read_fabrication
from paneglow.look import build_look, render_pictures
from paneglow.scene import build_scene
from paneglow.transport import trace

DEMO = Path(__file__).parents[1] / "examples" / "harbour-keepsake"
MIB = 1024  # ru_maxrss is in KiB on Linux

Result = TypeVar("Result")


def timed(step: str, run: Callable[[], Result]) -> Result:
    """Run a step twice, print both times, return its result."""
    seconds = []
    for _ in range(2):
        start = time.perf_counter()
        result = run()
        seconds.append(time.perf_counter() - start)
    print(f"{step:36s} {seconds[0]:8.2f} s {seconds[1]:8.2f} s")
    return result


def main() -> None:
    """Time every step on one design."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("design", nargs="?", type=Path, default=DEMO, help="design.toml or the folder that holds it")
    parser.add_argument("--photons", type=int, default=100_000, help="photons per LED (default 100000)")
    arguments = parser.parse_args()
    path = design_file(arguments.design)
    print(f"{path.parent.name}, {os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}")
    print(f"{'step':36s} {'first':>10s} {'second':>10s}")
    design = read_design(path)
    parts = path.parent / "parts"
    catalog = timed("read the catalogue", lambda: read_catalog(user_parts=parts if parts.is_dir() else None))
    fabrication = timed(
        "read the fabrication files",
        lambda: read_fabrication(path.parent / design.board.fabrication, layer_files=dict(design.board.layers)),
    )
    maps = timed("draw the layers", lambda: build_face_maps(fabrication, pitch_mm=design.board.pitch_mm))
    timed("find the windows", lambda: survey_windows(maps, named=design.window))
    board = build_board(design, files=read_board_files(design, folder=path.parent), catalog=catalog)
    scene = timed("set the scene", lambda: build_scene(board, design=design, catalog=catalog))
    tally = timed("trace", lambda: trace(scene, photons_per_led=arguments.photons, seed=1))
    look = timed("see", lambda: build_look(board=board, design=design, catalog=catalog, scene=scene, tally=tally))
    timed("draw the pictures", lambda: render_pictures(look, board=board, design=design))
    rate = tally.photons / tally.seconds
    print(f"\n{len(tally.leds)} LEDs, {len(tally.slab_names)} slab versions: {rate:,.0f} photons/s in the second trace")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / MIB:,.0f} MiB")


if __name__ == "__main__":
    main()
