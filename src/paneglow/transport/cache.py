"""Traces kept on disk, addressed by what physically matters, so that an unchanged LED is not traced again.

A key is the hash of everything an LED's light depends on: faces, coefficients, slab versions, its own geometry and
nodes, the map grid, photons, seed, and the tracing code itself. Currents, goals and names are not part of it. A trace
is written under another name and then renamed, so that a kill leaves no half trace and two processes never meet one.
A file opens with a digest of its key and of all that follows, and nothing of it is looked at before that agrees: what
is damaged, however little, is a trace to be made again. The least recently used are dropped above a stated size.
"""

import hashlib
import io
import os
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, fields
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from paneglow.transport.tally import Fates, LedLight, Trial

SIZE_LIMIT_BYTES = 500_000_000  # chosen: some hundred LEDs of a badge, a small share of any disk
TRACE_ENDING, TRIAL_ENDING = ".trace", ".trial"
PART_PREFIX = ".part-"
FATE_NAMES = tuple(field.name for field in fields(Fates))
DIGEST_BYTES = hashlib.sha256().digest_size
# What a file raises that is whole and yet no trace of this form
FOREIGN = (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile)


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceCache:
    """A folder of traces, made when the first is kept."""

    folder: Path  # where the traces lie
    size_limit_bytes: int = SIZE_LIMIT_BYTES  # above it the least recently used are dropped

    def load(self, key: str) -> LedLight | None:
        """Trace under a key, without the LED's name; None where there is none that can be read."""
        stored = self._load(key, ending=TRACE_ENDING)
        if stored is None:
            return None
        lit = stored["lit"]
        return LedLight(
            ref="",
            xyz=_spread_out(stored["xyz"], lit=lit),
            batches=_spread_out(stored["batches"], lit=lit),
            fates=_fates(stored["fates"]),
            fates_se=_fates(stored["fates_se"]),
            angles=stored["angles"],
            angles_se=stored["angles_se"],
            photons=int(stored["photons"]),
        )

    def load_trial(self, key: str) -> Trial | None:
        """Trial under a key; None where there is none that can be read."""
        stored = self._load(key, ending=TRIAL_ENDING)
        if stored is None:
            return None
        return Trial(is_enough=bool(stored["is_enough"]), comes_out_frac=float(stored["comes_out_frac"]))

    def _load(self, key: str, *, ending: str) -> dict[str, Any] | None:
        """Arrays kept under a key, by name; None where there are none, or anything about them is doubtful."""
        path = self.folder / f"{key}{ending}"
        try:
            content = path.read_bytes()
            if content[:DIGEST_BYTES] != _digest(key, content[DIGEST_BYTES:]):
                return None
            with np.load(io.BytesIO(content[DIGEST_BYTES:]), allow_pickle=False) as stored:
                arrays = dict(stored)
            os.utime(path)
        except FOREIGN:
            return None
        return arrays

    def keep(self, key: str, light: LedLight) -> None:
        """Store a trace, and drop the least recently used above the size limit.

        A disk that is full or may not be written is no reason to stop: the trace is then made again next time.
        """
        # Most of a map is copper: reading its zeros back would take longer than all the rest
        lit = (light.xyz != 0.0).any(axis=(0, 1))
        self._store(
            key,
            ending=TRACE_ENDING,
            lit=lit,
            xyz=light.xyz[..., lit],
            batches=light.batches[..., lit],
            fates=_rows(light.fates),
            fates_se=_rows(light.fates_se),
            angles=light.angles,
            angles_se=light.angles_se,
            photons=np.int64(light.photons),
        )

    def keep_trial(self, key: str, trial: Trial) -> None:
        """Store a trial, as `keep` stores a trace."""
        self._store(
            key,
            ending=TRIAL_ENDING,
            is_enough=np.bool_(trial.is_enough),
            comes_out_frac=np.float64(trial.comes_out_frac),
        )

    def _store(self, key: str, *, ending: str, **arrays: Any) -> None:
        packed = io.BytesIO()
        np.savez_compressed(packed, **arrays)
        with suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
            descriptor, part_name = tempfile.mkstemp(prefix=PART_PREFIX, dir=self.folder)
            part = Path(part_name)
            try:
                with os.fdopen(descriptor, "wb") as file:
                    file.write(_digest(key, packed.getvalue()) + packed.getvalue())
                part.replace(self.folder / f"{key}{ending}")
            finally:
                part.unlink(missing_ok=True)
            self._prune()

    def _prune(self) -> None:
        """Drop the least recently used traces; another process may have dropped some already."""
        total = 0
        for _, size, path in sorted(self._kept(), reverse=True):
            total += size
            if total > self.size_limit_bytes:
                path.unlink(missing_ok=True)

    def _kept(self) -> Iterator[tuple[int, int, Path]]:
        for ending in (TRACE_ENDING, TRIAL_ENDING):
            for path in self.folder.glob(f"*{ending}"):
                with suppress(FileNotFoundError):
                    state = path.stat()
                    yield state.st_mtime_ns, state.st_size, path


def _digest(key: str, packed: bytes) -> bytes:
    return hashlib.sha256(key.encode() + packed).digest()


def trace_key(digest: bytes, *, photons: int, seed: int, device: str, stage: int = 0) -> str:
    """Key of one LED's trace: of its scene (`local.scene_digest`), photons, seed, stage, device and tracing code."""
    key = hashlib.sha256(code_digest() + digest)
    key.update(repr((photons, seed, device, stage)).encode())
    return key.hexdigest()


def trial_key(digest: bytes, *, seed: int, is_whole: bool) -> str:
    """Key of a trial: of its scene (`local.scene_digest`), seed, whether that is the whole board, and tracing code."""
    key = hashlib.sha256(code_digest() + digest)
    key.update(repr(("trial", seed, is_whole)).encode())
    return key.hexdigest()


@lru_cache(maxsize=1)
def code_digest() -> bytes:
    """Hash of the tracing code: another program must not pass off its light as this one's."""
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parent.rglob("*.py")):
        digest.update(path.read_bytes())
    return digest.digest()


def _spread_out(values: npt.NDArray[np.float32], *, lit: npt.NDArray[np.bool_]) -> npt.NDArray[np.float32]:
    """Maps [..., y, x] that hold `values` [..., pixel] where they are lit, and 0 elsewhere."""
    maps = np.zeros((*values.shape[:-1], *lit.shape), dtype=values.dtype)
    maps[..., lit] = values
    return maps


def _rows(fates: Fates) -> npt.NDArray[np.float64]:
    return np.stack([getattr(fates, name) for name in FATE_NAMES])


def _fates(rows: npt.NDArray[np.float64]) -> Fates:
    return Fates(**dict(zip(FATE_NAMES, rows, strict=True)))
