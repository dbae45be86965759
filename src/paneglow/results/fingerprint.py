"""A fingerprint of everything a design rests on, so that a result can be tied to its files."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

from paneglow.cost import cost_file
from paneglow.design import Design
from paneglow.fab import file_on_disk
from paneglow.results.captions import REPORT_FILES
from paneglow.transport import TRACE_ENDING


def _list_files(design_path: Path, design: Design) -> Iterator[Path]:
    folder = design_path.parent
    fabrication = folder / design.board.fabrication
    yield design_path
    if fabrication.is_dir():
        # A report may lie in the same folder; it must not change the fingerprint of what it reports on
        yield from sorted(path for path in fabrication.rglob("*") if not _is_ours(path))
    else:
        yield fabrication
    yield from (
        file_on_disk(folder / name) for name in (design.board.placement, design.board.netlist) if name is not None
    )
    yield cost_file(design_path)
    yield from sorted(path for path in (folder / "parts").glob("*") if path.is_file())


def _is_ours(path: Path) -> bool:
    return path.name in REPORT_FILES or path.suffix == TRACE_ENDING


def hash_design_files(design_path: Path, *, design: Design) -> str:
    """SHA-256 over the names and bytes of the design and of the files it names.

    Parameters
    ----------
    design_path : Path
        The design.toml that was read.
    design : Design
        What it says.

    Returns
    -------
    str
        64 hexadecimal digits. A file that is named twice counts once, where it is first named.
    """
    digest = hashlib.sha256()
    paths = dict.fromkeys(path for path in _list_files(design_path, design) if path.is_file())
    for path in paths:
        content = path.read_bytes()
        # Name and length go first, so that bytes moved from one file to the next change the fingerprint
        digest.update(f"{path.name}\0{len(content)}\0".encode())
        digest.update(content)
    return digest.hexdigest()
