"""Compiled loops kept on disk: compiling one takes a minute, loading it a moment.

numba keeps what a file's function compiles to by that file alone; the loop is made of all kernels, so it is kept here
under the hash of all tracing code, the sizes it was compiled for, the types it is given, the GPU and the compiler.
"""

import hashlib
import os
import pickle
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import numba
import numba_cuda
from numba import cuda
from numba.cuda import serialize
from numba.cuda.dispatcher import _Kernel

from paneglow.transport.cache import code_digest
from paneglow.transport.cuda.kernels.lean import build_lean_loop
from paneglow.transport.cuda.kernels.loop import LoopShape, build_loop

ENDING = ".loop"
# What a file that is not a loop of this compiler raises
UNREADABLE = (OSError, EOFError, pickle.UnpicklingError, AttributeError, ImportError, KeyError, TypeError, ValueError)


def kept_folder() -> Path:
    """Folder for what can be made again, as the XDG base directories have it."""
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "paneglow"


def build_any_loop(shape: LoopShape) -> Any:
    """The loop of a shape; it compiles when first launched."""
    return build_lean_loop(shape) if shape.is_lean else build_loop(shape)


def compiled_loop(shape: LoopShape, arguments: Sequence[Any]) -> Any:
    """The loop, ready for arguments of these types: from memory, from disk, or compiled and kept.

    Parameters
    ----------
    shape : LoopShape
    arguments : sequence
        As the loop will be called with.

    Returns
    -------
    CUDA kernel
    """
    loop = build_any_loop(shape)
    types = tuple(loop.typeof_pyval(argument) for argument in arguments)
    if types in loop.overloads:
        return loop
    path = kept_folder() / f"{_key(shape, types)}{ENDING}"
    kernel = _load(path)
    if kernel is None:
        _keep(path, loop.compile(types))
    else:
        loop.add_overload(kernel, types)
    return loop


def _key(shape: LoopShape, types: tuple[Any, ...]) -> str:
    made_by = (numba.__version__, numba_cuda.__version__, cuda.get_current_device().compute_capability)
    return hashlib.sha256(code_digest() + repr((shape, types, made_by)).encode()).hexdigest()


def _load(path: Path) -> Any:
    """A kept kernel, bound to the GPU; None where there is none that can be read."""
    try:
        kernel = _Kernel._rebuild(**pickle.loads(path.read_bytes()))
        kernel.bind()
    except UNREADABLE:
        return None
    return kernel


def _keep(path: Path, kernel: Any) -> None:
    """Write under another name and rename, so that a kill leaves no half of it; a full disk is no reason to stop."""
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor, name = tempfile.mkstemp(dir=path.parent)
        part = Path(name)
        try:
            with os.fdopen(descriptor, "wb") as file:
                file.write(serialize.dumps(kernel._reduce_states()))
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
