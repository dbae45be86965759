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
from dataclasses import dataclass, fields, is_dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

from paneglow.scene import Scene
from paneglow.transport.tally import Fates, LedLight

SIZE_LIMIT_BYTES = 500_000_000  # chosen: some hundred LEDs of a badge, a small share of any disk
TRACE_ENDING = ".trace"
UNTRACED = {"ref", "window", "name", "names", "flux_lm", "flux_lm_low", "flux_lm_high"}
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
                    angles=stored["angles"],
                    angles_se=stored["angles_se"],
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
                        angles=light.angles,
                        angles_se=light.angles_se,
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


def trace_keys(scene: Scene, *, photons_per_led: int, seed: int, device: str = "cpu") -> tuple[str, ...]:
    """Key of every emitter's trace, in the order of the scene."""
    shared = hashlib.sha256(code_digest())
    for name in _names(scene):
        if name not in {"emitters", "classes", "slabs", "wavelength_nm"}:
            _add(shared, getattr(scene, name))
    shared.update(repr((photons_per_led, seed, device)).encode())
    return tuple(_emitter_key(shared.copy(), scene, number) for number in range(len(scene.emitters)))


def _emitter_key(shared: "hashlib._Hash", scene: Scene, number: int) -> str:
    """Of wavelength tables only what stands at the emitter's own nodes matters."""
    emitter = scene.emitters[number]
    classes = scene.classes
    for table in (classes.transmit, classes.reflect, classes.backing_reflect):
        _add_array(shared, table[:, emitter.nodes])
    _add(shared, (classes.haze, classes.roughness))
    for slab in scene.slabs:
        _add(shared, slab.scatter_per_mm)
        _add_array(shared, slab.absorb_per_mm[emitter.nodes])
    for name in _names(emitter):
        if name != "nodes":
            _add(shared, getattr(emitter, name))
    shared.update(repr(number).encode())
    return shared.hexdigest()


def _names(record: object) -> list[str]:
    """Fields of a scene's record, but those that name things, and the flux, which is applied after tracing."""
    return [field.name for field in fields(record) if field.name not in UNTRACED]  # type: ignore[arg-type]


def _add(digest: "hashlib._Hash", value: object) -> None:
    """Add a number, an array or a record of such, with its shape."""
    if isinstance(value, np.ndarray):
        _add_array(digest, value)
    elif is_dataclass(value):
        for name in _names(value):
            _add(digest, getattr(value, name))
    elif isinstance(value, tuple):
        digest.update(repr(len(value)).encode())
        for item in value:
            _add(digest, item)
    else:
        digest.update(repr(value).encode())


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
