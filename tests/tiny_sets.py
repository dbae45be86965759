"""Tiny fabrication sets written as text: a 20 x 10 mm board with a land and a hole, and ways to spoil it."""

import zipfile
from collections.abc import Mapping
from pathlib import Path

HEADER = "%FSLAX46Y46*%\n%MOMM*%\n"
BOARD_MM = ((0.0, 0.0), (20.0, 0.0), (20.0, 10.0), (0.0, 10.0))


def _xy(point_mm: tuple[float, float]) -> str:
    return "X{:d}Y{:d}".format(*(round(value * 1e6) for value in point_mm))


def loop(*corners_mm: tuple[float, float]) -> str:
    """Gerber statements of a closed stroke through corners."""
    return chain(*corners_mm, corners_mm[0])


def chain(*corners_mm: tuple[float, float]) -> str:
    """Gerber statements of an open stroke through corners."""
    first, *others = corners_mm
    moves = [f"{_xy(first)}D02*", *(f"{_xy(corner)}D01*" for corner in others)]
    return "\n".join(moves) + "\n"


def flashes(*places_mm: tuple[float, float]) -> str:
    """Gerber statements of flashes of the current aperture."""
    return "".join(f"{_xy(place)}D03*\n" for place in places_mm)


def layer(body: str = "", *, function: str = "", pen_mm: float = 1.0, negative: bool = False) -> str:
    """Text of one Gerber file that draws with one round aperture."""
    attributes = f"%TF.FileFunction,{function}*%\n" if function else ""
    attributes += "%TF.FilePolarity,Negative*%\n" if negative else ""
    return f"{attributes}{HEADER}%ADD10C,{pen_mm:.3f}*%\nG01*\nD10*\n{body}M02*\n"


def drill(*lines: str, head: str = "METRIC", tools: str = "T1C0.8") -> str:
    """Text of one drill file that has chosen its first tool."""
    return "\n".join(["M48", head, tools, "%", "G90", "G05", "T1", *lines, "M30"]) + "\n"


LANDS_MM = ((5.0, 5.0), (10.0, 5.0), (15.0, 5.0), (15.0, 8.0))
LANDS = flashes(*LANDS_MM)
HOLES = tuple(f"X{x:.3f}Y{y:.3f}" for x, y in LANDS_MM)


def tiny_set(**changes: str | None) -> dict[str, str]:
    """File name to text of a whole set named by endings; changes replace (text) or remove (None) a file by ending."""
    texts: dict[str, str | None] = {
        "gtl": layer(LANDS),
        "gbl": layer(LANDS),
        "gts": layer(LANDS),
        "gbs": layer(LANDS),
        "gko": layer(loop(*BOARD_MM), pen_mm=0.1),
        "drl": drill(*HOLES),
        **changes,
    }
    return {f"tile.{ending}": text for ending, text in texts.items() if text is not None}


def write_folder(folder: Path, texts: Mapping[str, str | bytes]) -> Path:
    """Write texts as files of a folder; names may hold subfolders."""
    for name, text in texts.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


def write_zip(path: Path, texts: Mapping[str, str | bytes]) -> Path:
    """Write texts as members of a zip."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in texts.items():
            archive.writestr(name, text)
    return path
