"""The files of a fabrication set, from a folder or a zip, held in memory; nothing is ever unpacked to disk."""

import re
import stat
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path, PurePosixPath

from paneglow.errors import FabricationError
from paneglow.fab.layer_words import ending_of
from paneglow.fab.unfit import ARCHIVE_ENDINGS

# Limits: assumed, ten times or more above the largest of 16 published sets measured (6.2 MB, 15 files, ratio 7.2 on
# any one file), and low enough that a hostile set costs seconds and a few hundred MB at worst.
MAX_FILES = 500
MAX_ENTRIES = 20_000  # files and folders looked at before a folder counts as not a fabrication set at all
MAX_FILE_BYTES = 64 * 2**20
MAX_TOTAL_BYTES = 256 * 2**20
MAX_ZIP_BYTES = 128 * 2**20
MAX_RATIO = 200.0
RATIO_FREE_BYTES = 2**20  # a file this small may pack as tightly as it likes: a blank layer is one line repeated

OFFICE_ENDINGS = frozenset({"xlsx", "xlsm", "docx", "pptx", "ods", "odt", "odp"})  # zips inside, but only paper
ZIP_MAGIC = b"PK\x03\x04"
JUNK_FOLDERS = frozenset({"__MACOSX"})
JUNK_NAMES = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})
NESTED = "unpack the outer one and give the inner one, or its folder"
PACKING_READ = frozenset({zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED})  # the two whose output can be bounded while read


@dataclass(frozen=True, slots=True, kw_only=True)
class SetFile:
    """One file of a set: its path inside the set (forward slashes) and its bytes."""

    name: str
    content: bytes

    @property
    def base_name(self) -> str:
        """Name without folders."""
        return PurePosixPath(self.name).name


def read_files(path: Path) -> tuple[SetFile, ...]:
    """Every file of a folder or a zip, sorted by name, with a single top folder left out of the names.

    System litter (resource forks, thumbnails, version-control folders) is skipped.

    Raises
    ------
    FabricationError
        If the path is neither; if a limit of this file is passed; if a zip is damaged, encrypted, holds another
        archive, an absolute path, a path that climbs out, or one name twice.
    """
    if path.is_dir():
        files = list(_iter_folder(path))
    elif path.is_file():
        files = list(_iter_zip(path))
    else:
        raise FabricationError("no such folder or .zip file", path=path)
    if not files:
        raise FabricationError("holds no files; needed are Gerber and drill files", path=path)
    return tuple(sorted(_without_top_folder(files), key=lambda file: file.name))


def file_on_disk(path: Path) -> Path:
    """The file that holds what a path names: the path itself, or the .zip that it goes on within (`fab.zip/a.csv`)."""
    return next((part for part in path.parents if part.suffix.lower() == ".zip" and part.is_file()), path)


def read_content(path: Path, *, most_bytes: int) -> bytes:
    """Bytes of one file, which may lie within a .zip.

    Raises
    ------
    FabricationError
        Where there is none, it cannot be read, or it is larger than `most_bytes`.
    """
    holder = file_on_disk(path)
    if holder == path:
        try:
            size = path.stat().st_size
            content = path.read_bytes() if size <= most_bytes else b""
        except OSError as error:
            raise FabricationError(f"cannot be read: {error.strerror or error}", path=path) from error
    else:
        inside = f"/{path.relative_to(holder).as_posix()}"
        files = read_files(holder)
        file = next((file for file in files if inside.endswith(f"/{file.name}")), None)
        if file is None:
            names = ", ".join(file.name for file in files)
            raise FabricationError(f"there is no such file in {holder.name}, which holds {names}", path=path)
        size, content = len(file.content), file.content
    if size > most_bytes:
        raise FabricationError(f"is larger than {most_bytes / 1e6:.0f} MB; give a smaller file", path=path)
    return content


def to_text(content: bytes) -> str | None:
    """Text of a file, or None where its bytes are not text.

    UTF-8 and UTF-16 with their marks are understood; anything else is taken byte for byte (Latin-1), which keeps
    every statement of a Gerber or drill file, since those are ASCII.
    """
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", errors="replace")
    if b"\x00" in content or content.startswith((b"%PDF", b"%!PS", ZIP_MAGIC)):
        return None
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("latin-1")


def _iter_folder(folder: Path) -> Iterator[SetFile]:
    total = 0
    entries = list(islice(folder.rglob("*"), MAX_ENTRIES + 1))
    _check_count(len(entries), path=folder, allowed=MAX_ENTRIES)
    inside = [(path.relative_to(folder).as_posix(), path) for path in sorted(entries) if path.is_file()]
    kept = [(name, path) for name, path in inside if not _is_junk(name)]
    _check_count(len(kept), path=folder, allowed=MAX_FILES)
    for name, path in kept:
        size = path.stat().st_size
        total += size
        _check_size(size, total=total, name=name, path=folder)
        yield SetFile(name=name, content=_bytes_of(path, folder=folder, name=name))


def _bytes_of(path: Path, *, folder: Path, name: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise FabricationError(f"{name} cannot be read: {error.strerror}", path=folder) from error


def _iter_zip(path: Path) -> Iterator[SetFile]:
    size = path.stat().st_size
    if size > MAX_ZIP_BYTES:
        raise FabricationError(f"zip has {_mib(size)}; allowed is at most {_mib(MAX_ZIP_BYTES)}", path=path)
    try:
        with zipfile.ZipFile(path) as archive:
            members = [member for member in archive.infolist() if not member.is_dir()]
            _check_members(members, path=path)
            for member in members:
                if not _is_junk(_slashed(member)):
                    yield _unpacked(archive, member, path=path)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError, OSError, UnicodeError) as error:
        raise FabricationError(
            f"is not a readable zip ({error}); give a folder or a .zip of Gerber and drill files", path=path
        ) from error


def _check_members(members: list[zipfile.ZipInfo], *, path: Path) -> None:
    """Refuse the whole zip by its table of contents, before one byte is unpacked."""
    _check_count(len(members), path=path, allowed=MAX_FILES)
    seen: set[str] = set()
    total = 0
    for member in members:
        name = _slashed(member)
        _check_name(name, path=path)
        if name in seen:
            raise FabricationError(f"holds two files named {name}; pack each once", path=path)
        seen.add(name)
        _check_packing(member, path=path)
        total += member.file_size
        _check_size(member.file_size, total=total, name=name, path=path)


def _check_name(name: str, *, path: Path) -> None:
    parts = name.split("/")
    if name.startswith("/") or re.match(r"[A-Za-z]:", name):
        raise FabricationError(f"zip holds the absolute path {name}; allowed are paths inside the zip", path=path)
    if ".." in parts:
        raise FabricationError(f"zip holds {name}, a path that climbs out of it; pack the folder anew", path=path)


def _check_packing(member: zipfile.ZipInfo, *, path: Path) -> None:
    name = _slashed(member)
    if member.flag_bits & 0x1:  # bit 0: encrypted (ZIP file format specification 6.3.9, section 4.4.4)
        raise FabricationError(f"{name} in the zip is encrypted; pack it without a password", path=path)
    if ending_of(name) in ARCHIVE_ENDINGS:
        raise FabricationError(f"zip holds another archive, {name}; {NESTED}", path=path)
    if member.compress_type not in PACKING_READ:
        raise FabricationError(f"{name} is packed by method {member.compress_type}; allowed is deflate", path=path)
    ratio = member.file_size / max(1, member.compress_size)
    if member.file_size > RATIO_FREE_BYTES and ratio > MAX_RATIO:
        raise FabricationError(
            f"{name} unpacks to {ratio:.0f} times its packed size; allowed is at most {MAX_RATIO:.0f} times", path=path
        )


def _unpacked(archive: zipfile.ZipFile, member: zipfile.ZipInfo, *, path: Path) -> SetFile:
    name = _slashed(member)
    if stat.S_ISLNK(member.external_attr >> 16):
        raise FabricationError(f"zip holds a link, {name}; pack the file it points to", path=path)
    with archive.open(member) as stream:
        content = stream.read(member.file_size + 1)  # the table of contents may lie: never read past what was checked
    if len(content) != member.file_size:
        raise FabricationError(f"{name} in the zip does not have the size its table of contents states", path=path)
    if content.startswith(ZIP_MAGIC) and ending_of(name) not in OFFICE_ENDINGS:
        raise FabricationError(f"zip holds another archive, {name}; {NESTED}", path=path)
    return SetFile(name=name, content=content)


def _check_count(count: int, *, path: Path, allowed: int) -> None:
    if count > allowed:
        raise FabricationError(
            f"holds {count} files or more; allowed are at most {allowed}: give the folder of one board only", path=path
        )


def _check_size(size: int, *, total: int, name: str, path: Path) -> None:
    if size > MAX_FILE_BYTES:
        raise FabricationError(f"{name} has {_mib(size)}; allowed is at most {_mib(MAX_FILE_BYTES)}", path=path)
    if total > MAX_TOTAL_BYTES:
        raise FabricationError(f"unpacks to more than {_mib(MAX_TOTAL_BYTES)}, the limit for one set", path=path)


def _without_top_folder(files: list[SetFile]) -> list[SetFile]:
    """Names below the folder that holds everything, however deep that lies."""
    folders = [file.name.split("/")[:-1] for file in files]
    shared = 0
    while all(len(parts) > shared and parts[shared] == folders[0][shared] for parts in folders):
        shared += 1
    return [SetFile(name="/".join(file.name.split("/")[shared:]), content=file.content) for file in files]


def _is_junk(name: str) -> bool:
    """Say whether a path is system litter; a layer may itself have a name that starts with a dot, such as `.gtl`."""
    *folders, base = name.split("/")
    if any(folder in JUNK_FOLDERS or folder.startswith(".") for folder in folders):
        return True
    return base in JUNK_NAMES or base.startswith("._") or base == ""


def _slashed(member: zipfile.ZipInfo) -> str:
    return member.filename.replace("\\", "/")


def _mib(size: int) -> str:
    return f"{size / 2**20:.0f} MiB"
