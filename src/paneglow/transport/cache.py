"""Traces kept on disk, addressed by what physically matters, so that an unchanged LED is not traced again.

A key is the hash of everything an LED's light depends on: faces, coefficients, slab versions, its own geometry and
nodes, the map grid, photons, seed, and the tracing code itself. Currents, goals and names are not part of it. A trace
is written under another name and then renamed, so that a kill leaves no half trace and two processes never meet one; a
file that cannot be read is a trace to be made again. The least recently used are dropped above a stated size.
"""

import hashlib
import os
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, fields
from functools import lru_cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

from paneglow.scene import Emitter, Scene
from paneglow.transport.tally import Fates, LedLight

SIZE_LIMIT_BYTES = 500_000_000  # chosen: some hundred LEDs of a badge, a small share of any disk
TRACE_ENDING = ".trace"
PART_PREFIX = ".part-"
FATE_NAMES = tuple(field.name for field in fields(Fates))
# What a broken or foreign file raises when it is read as a trace
UNREADABLE = (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile)


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceCache:
    """A folder of traces, made when the first is kept."""

    folder: Path  # where the traces lie
    size_limit_bytes: int = SIZE_LIMIT_BYTES  # above it the least recently used are dropped

    def load(self, key: str, *, ref: str) -> LedLight | None:
        """Trace under a key, as light of the LED `ref`; None where there is none that can be read."""
        path = self._path(key)
        try:
            with path.open("rb") as file, np.load(file, allow_pickle=False) as stored:
                light = LedLight(
                    ref=ref,
                    xyz=stored["xyz"],
                    batches=stored["batches"],
                    fates=_fates(stored["fates"]),
                    fates_se=_fates(stored["fates_se"]),
                    photons=int(stored["photons"]),
                )
            os.utime(path)
        except UNREADABLE:
            return None
        return light

    def keep(self, key: str, light: LedLight) -> None:
        """Store a trace, and drop the least recently used above the size limit.

        A disk that is full or may not be written is no reason to stop: the trace is then made again next time.
        """
        with suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
            descriptor, name = tempfile.mkstemp(prefix=PART_PREFIX, dir=self.folder)
            part = Path(name)
            try:
                with os.fdopen(descriptor, "wb") as file:
                    np.savez_compressed(
                        file,
                        xyz=light.xyz,
                        batches=light.batches,
                        fates=_rows(light.fates),
                        fates_se=_rows(light.fates_se),
                        photons=np.int64(light.photons),
                    )
                part.replace(self._path(key))
            finally:
                part.unlink(missing_ok=True)
            self._prune()

    def _path(self, key: str) -> Path:
        return self.folder / f"{key}{TRACE_ENDING}"

    def _prune(self) -> None:
        """Drop the least recently used traces; another process may have dropped some already."""
        total = 0
        for _, size, path in sorted(self._kept(), reverse=True):
            total += size
            if total > self.size_limit_bytes:
                path.unlink(missing_ok=True)

    def _kept(self) -> Iterator[tuple[int, int, Path]]:
        for path in self.folder.glob(f"*{TRACE_ENDING}"):
            with suppress(FileNotFoundError):
                state = path.stat()
                yield state.st_mtime_ns, state.st_size, path


def trace_keys(scene: Scene, *, photons_per_led: int, seed: int) -> tuple[str, ...]:
    """Key of every emitter's trace, in the order of the scene."""
    shared = hashlib.sha256(code_digest())
    for array in (scene.front, scene.back, scene.body, scene.classes.haze):
        _add_array(shared, array)
    slabs = [(slab.scatter_per_mm,) for slab in scene.slabs]
    shared.update(
        repr(
            (scene.grid, scene.map_grid, scene.thickness_mm, scene.refractive_index, scene.asymmetry, slabs)
            + (scene.view_angle_rad, photons_per_led, seed)
        ).encode()
    )
    return tuple(_emitter_key(shared.copy(), scene, number) for number in range(len(scene.emitters)))


def _emitter_key(shared: "hashlib._Hash", scene: Scene, number: int) -> str:
    emitter = scene.emitters[number]
    classes = scene.classes
    for table in (classes.transmit, classes.reflect, classes.backing_reflect):
        _add_array(shared, table[:, emitter.nodes])
    for slab in scene.slabs:
        _add_array(shared, slab.absorb_per_mm[emitter.nodes])
    for table in (emitter.cos_table, emitter.cdf_table, emitter.intensity_table, emitter.xyz_per_lm):
        _add_array(shared, table)
    shared.update(repr((number, _geometry(emitter))).encode())
    return shared.hexdigest()


def _geometry(emitter: Emitter) -> tuple[object, ...]:
    """All of an emitter but its tables, its names and its flux, which is applied after tracing."""
    return (
        emitter.centre_mm,
        emitter.axis,
        emitter.u,
        emitter.v,
        emitter.size_mm,
        emitter.opening_mm,
        emitter.opening_round,
        emitter.opening_plated,
        emitter.cover_distance_mm,
        emitter.cover_reflect,
    )


@lru_cache(maxsize=1)
def code_digest() -> bytes:
    """Hash of the tracing code: another program must not pass off its light as this one's."""
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parent.rglob("*.py")):
        digest.update(path.read_bytes())
    return digest.digest()


def _add_array(digest: "hashlib._Hash", array: npt.NDArray[np.generic]) -> None:
    digest.update(repr((array.shape, array.dtype.str)).encode())
    digest.update(np.ascontiguousarray(array).tobytes())


def _rows(fates: Fates) -> npt.NDArray[np.float64]:
    return np.stack([getattr(fates, name) for name in FATE_NAMES])


def _fates(rows: npt.NDArray[np.float64]) -> Fates:
    return Fates(**dict(zip(FATE_NAMES, rows, strict=True)))
