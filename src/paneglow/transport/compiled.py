"""Where the compiler keeps its code: beside the kernels, else in the user's cache, else nowhere beyond this run."""

import atexit
import shutil
import tempfile
import warnings
from functools import cache
from pathlib import Path
from typing import Any

from paneglow.errors import PaneglowNote

KERNELS = Path(__file__).parent / "kernels"


@cache
def prepare_compiler() -> None:
    """See to it that the compiler can keep its code somewhere, before any kernel comes in; it refuses to work else.

    Warns
    -----
    PaneglowNote
        Where it is kept for this run only: an account may be allowed to write neither the package nor its home.
    """
    import numba  # noqa: PLC0415  slow to import, and not needed where all light is kept

    config: Any = numba.config
    if config.CACHE_DIR or any(_can_write(folder) for folder in _usual_folders()):
        return
    folder = tempfile.mkdtemp(prefix="paneglow-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    config.CACHE_DIR = folder
    first, second = _usual_folders()
    warnings.warn(
        f"neither {first} nor {second} can be written: the tracing code is compiled anew in every run; name a folder"
        " of yours in NUMBA_CACHE_DIR to keep it",
        PaneglowNote,
        stacklevel=2,
    )


def _usual_folders() -> tuple[Path, Path]:
    """Where the compiler keeps code by itself: beside the source, and in the user's cache."""
    from numba.misc.appdirs import AppDirs  # noqa: PLC0415

    return KERNELS / "__pycache__", Path(AppDirs(appname="numba", appauthor=False).user_cache_dir)  # type: ignore[no-untyped-call]


def _can_write(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False
