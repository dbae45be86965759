"""Texts to a folder of files, each whole or not at all."""

import os
import shutil
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path

from paneglow.errors import FabricationError
from paneglow.fab.write_sign import is_ours


def write_whole(texts: Mapping[str, str], *, folder: Path, prefix: str, overwrite: bool) -> tuple[Path, ...]:
    """Write files to a temporary folder beside, then move them into place.

    A new folder appears by one rename. In a folder that is already there each file is replaced by one rename, and
    files with the prefix that we wrote earlier and no longer need are removed; a kill between two renames leaves
    whole files of both runs, which the next run makes equal again.

    Parameters
    ----------
    texts : mapping of file name to text
        ASCII texts.
    folder : Path
        Where the files go; made where it is missing, and so are its parents.
    prefix : str
        How the names of one board's files start.
    overwrite : bool
        Also replace files that we did not write, or that were edited since.

    Raises
    ------
    FabricationError
        If a file that must not be replaced is in the way, or the folder cannot be written.
    """
    if not overwrite:
        _check_replaceable(folder / name for name in texts)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        staging = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
        try:
            _write_and_move(texts, staging=staging, folder=folder, prefix=prefix)
        finally:
            shutil.rmtree(staging, ignore_errors=True)
    except OSError as error:
        raise FabricationError(f"cannot be written ({error.strerror}); choose another folder", path=folder) from error
    return tuple(folder / name for name in texts)


def _write_and_move(texts: Mapping[str, str], *, staging: Path, folder: Path, prefix: str) -> None:
    for name, text in texts.items():
        (staging / name).write_text(text, encoding="ascii", newline="\n")
    if not folder.exists():
        staging.chmod(0o777 & ~_umask())  # mkdtemp makes a folder that only its owner can read
        staging.rename(folder)
        return
    for name in texts:
        os.replace(staging / name, folder / name)
    for path in sorted(folder.glob(f"{prefix}*")):
        if path.name not in texts and _is_our_file(path):
            path.unlink()


def _check_replaceable(paths: Iterable[Path]) -> None:
    for path in paths:
        if path.exists() and not _is_our_file(path):
            raise FabricationError(
                "was written or edited by someone else and would be lost;"
                " choose another folder, move it away or pass overwrite=True",
                path=path,
            )


def _is_our_file(path: Path) -> bool:
    if not path.is_file():
        return False
    return is_ours(path.read_bytes().decode("ascii", errors="replace"))


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
