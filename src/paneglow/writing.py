"""Files written whole or not at all."""

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

from paneglow.errors import OutputError


def write_whole(folder: Path, *, contents: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write several files so that none is ever seen half-written; other files of the folder stay as they are.

    Parameters
    ----------
    folder : Path
        Made where it is missing.
    contents : mapping of str to bytes
        File names and their content. All are written aside first and then put in place in this order.

    Returns
    -------
    tuple of Path
        The files, in order.

    Raises
    ------
    OutputError
        Where the folder cannot be made or written.
    """
    aside: dict[Path, Path] = {}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in contents.items():
            aside[folder / name] = _write_aside(folder, content)
        for path, waiting in aside.items():
            waiting.replace(path)
    except OSError as problem:
        reason = problem.strerror or "it cannot be written"
        raise OutputError(f"{folder}: {reason}; choose another folder with --out") from problem
    finally:
        for waiting in aside.values():
            waiting.unlink(missing_ok=True)
    return tuple(aside)


def _write_aside(folder: Path, content: bytes) -> Path:
    """Write bytes under a name of their own in the folder and return it; nothing stays where that fails."""
    handle, name = tempfile.mkstemp(prefix=".paneglow-", suffix=".part", dir=folder)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(name).chmod(0o644)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)
