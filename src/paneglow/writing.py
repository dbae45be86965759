"""Files written whole or not at all, one by one and several together."""

import os
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from paneglow.errors import OutputError

PART_PREFIX, PART_SUFFIX = ".paneglow-", ".part"
# What another process does with files written aside: put all of them in place once it is told to, or else, as soon as
# whoever wrote them is gone, clear them away. A kill of the writer cannot stop it half way; it has its own session, so
# that Ctrl-C does not reach it.
MOVER = """
import os, sys
from contextlib import suppress
pairs, agreed = [], False
for line in sys.stdin.buffer:
    if line == b"move\\n":
        agreed = True
        break
    pairs.append([os.fsdecode(bytes.fromhex(word.decode())) for word in line.split()])
try:
    for part, path in pairs if agreed else ():
        os.replace(part, path)
except OSError as problem:
    print(problem.errno, problem.strerror)
finally:
    for part, _ in pairs:
        with suppress(OSError):
            os.unlink(part)
"""


def write_together(folder: Path, *, contents: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write several files so that none is ever seen half-written; other files of the folder stay as they are.

    Parameters
    ----------
    folder : Path
        Made where it is missing.
    contents : mapping of str to bytes
        File names and their content. All are written aside first and then put in place in this order. Several files
        are put in place by a process of their own, so that a kill leaves all old ones or all new ones.

    Returns
    -------
    tuple of Path
        The files, in order.

    Raises
    ------
    OutputError
        Where the folder cannot be made or written.
    """
    aside = {folder / name: part_in(folder) for name in contents}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        clear_left_parts(folder)
        with _start_mover(aside) as mover:
            try:
                for path, part in aside.items():
                    _write_aside(part, contents[path.name])
                if mover is None:
                    for path, part in aside.items():
                        part.replace(path)
                else:
                    _let_move(mover)
            finally:
                for part in aside.values() if mover is None else ():
                    part.unlink(missing_ok=True)
    except OSError as problem:
        reason = problem.strerror or "it cannot be written"
        raise OutputError(f"{folder}: {reason}; choose another folder with --out") from problem
    return tuple(aside)


def part_in(folder: Path) -> Path:
    """A new name in a folder for a file that is written aside first; it says who writes it.

    Parameters
    ----------
    folder : Path
    """
    return folder / f"{PART_PREFIX}{os.getpid()}-{os.urandom(6).hex()}{PART_SUFFIX}"


def clear_left_parts(folder: Path) -> None:
    """Remove files that a killed process left aside in a folder; those of a process that runs stay.

    Parameters
    ----------
    folder : Path
        May be missing.
    """
    for part in folder.glob(f"{PART_PREFIX}*{PART_SUFFIX}"):
        writer = part.name.removeprefix(PART_PREFIX).partition("-")[0]
        if writer.isdecimal() and not _is_running(int(writer)):
            with suppress(OSError):
                part.unlink()


def _is_running(process: int) -> bool:
    if os.name != "posix":  # asking would end the process there
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


def _write_aside(part: Path, content: bytes) -> None:
    with part.open("xb") as file:
        file.write(content)


@contextmanager
def _start_mover(aside: Mapping[Path, Path]) -> Iterator[subprocess.Popen[bytes] | None]:
    """The process that is to put files in place (place to part); None for a single file, or where none can be started.

    At the end, and where its starter dies, it clears away what it was not told to put in place.
    """
    mover = None
    if len(aside) > 1 and sys.executable:
        with suppress(OSError):
            mover = subprocess.Popen(
                [sys.executable, "-I", "-S", "-c", MOVER],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                start_new_session=True,
            )
    if mover is None:
        yield None
        return
    with mover:
        try:
            for path, part in aside.items():
                _tell(mover, b" ".join(os.fsencode(each.absolute()).hex().encode() for each in (part, path)))
            yield mover
        finally:
            mover.communicate()  # without a word to move the files it removes them


def _tell(mover: subprocess.Popen[bytes], line: bytes) -> None:
    assert mover.stdin is not None
    mover.stdin.write(line + b"\n")
    mover.stdin.flush()


def _let_move(mover: subprocess.Popen[bytes]) -> None:
    """Have all files put in place; raises OSError where that failed."""
    _tell(mover, b"move")
    answer, _ = mover.communicate()
    if answer or mover.returncode:
        number, _, reason = answer.decode().partition(" ")
        raise OSError(int(number or 0), reason.strip() or "the files could not be put in place")
