"""Emission from open photometric files: IES LM-63 and EULUMDAT, averaged about the axis.

Only the shape of the lobe is taken: how an LED sends its light against the angle to its axis. Flux or intensity stay
with the part. Field order of LM-63: ANSI/IESNA LM-63-02 (thirteen numbers after the TILT line, then the angles). Of
EULUMDAT: the public table of its positions (3 symmetry, 4 planes, 6 angles, 26 lamp sets of six lines, ten ratios).
"""

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from paneglow.errors import CatalogError

FloatArray = npt.NDArray[np.float64]

TYPE_C = 1  # photometric type of LM-63: vertical angles from the axis
MOST_ANGLES = 721  # the limit of EULUMDAT, more than any LED sheet needs
SIZE_LIMIT_BYTES = 2_000_000
HEADER_LINES = 26  # EULUMDAT, before the lamp sets
LAMP_SET_LINES = 6
RATIO_LINES = 10


class PolarLobe(NamedTuple):
    """Relative intensity (greatest 1) against the angle to the axis [deg], rising from 0."""

    angle_deg: tuple[float, ...]
    relative_intensity: tuple[float, ...]


def read_photometric(path: Path) -> PolarLobe:
    """Read the lobe of a photometric file, by its ending: .ies or .ldt.

    Parameters
    ----------
    path : Path
        An IES LM-63 file of type C without tilt, or a EULUMDAT file.

    Returns
    -------
    PolarLobe
        Averaged over all planes about the axis.

    Raises
    ------
    CatalogError
        If it cannot be read as such a file; the line says what is wrong.
    """
    parse = PARSERS.get(path.suffix.lower())
    if parse is None:
        raise CatalogError(f"{path}: is no photometric file; allowed are {' and '.join(PARSERS)}")
    try:
        if path.stat().st_size > SIZE_LIMIT_BYTES:
            raise CatalogError(f"{path}: is larger than {SIZE_LIMIT_BYTES // 1_000_000} MB, the limit for such a file")
        text = path.read_text(encoding="latin-1")  # any byte is a letter; keywords and numbers are plain ASCII
    except OSError as error:
        raise CatalogError(f"{path}: cannot be read ({error.strerror})") from error
    try:
        return parse(text)
    except (ValueError, IndexError, OverflowError) as error:
        raise CatalogError(f"{path}: {error}") from error


def parse_ies(text: str) -> PolarLobe:
    """Lobe of an IES LM-63 text.

    Raises
    ------
    ValueError
        If it is not one of type C without tilt.
    """
    lines = text.splitlines()
    tilt = next((number for number, line in enumerate(lines) if line.upper().startswith("TILT=")), None)
    if tilt is None:
        raise ValueError("has no line TILT=; it is no IES LM-63 file")
    if lines[tilt].upper().split("=", 1)[1].strip() != "NONE":
        raise ValueError(f"line {tilt + 1}: only TILT=NONE is understood")
    numbers = _numbers(lines[tilt + 1 :], first_line=tilt + 2)
    head = _take(numbers, 13, what="header")
    n_vertical, n_horizontal = _count(head[3], "vertical angles"), _count(head[4], "horizontal angles")
    if int(head[5]) != TYPE_C:
        raise ValueError(f"photometric type is {head[5]:g}; only type C, 1, is understood")
    vertical = _take(numbers, n_vertical, what="vertical angles")
    horizontal = _take(numbers, n_horizontal, what="horizontal angles")
    candela = np.array([_take(numbers, n_vertical, what="candela values") for _ in range(n_horizontal)])
    return _lobe(vertical, planes=candela, weights=_plane_weights(horizontal))


def parse_eulumdat(text: str) -> PolarLobe:
    """Lobe of a EULUMDAT text.

    Raises
    ------
    ValueError
        If its lines are not those of such a file.
    """
    lines = [line.strip().replace(",", ".") for line in text.splitlines()]
    if len(lines) < HEADER_LINES:
        raise ValueError(f"has {len(lines)} lines; a EULUMDAT header alone has {HEADER_LINES}")
    symmetry, n_planes, n_angles = (_whole(lines, number) for number in (3, 4, 6))
    _count(n_planes, "C planes"), _count(n_angles, "gamma angles")
    stored = _stored_planes(symmetry, n_planes=n_planes)
    start = HEADER_LINES + LAMP_SET_LINES * _whole(lines, 26) + RATIO_LINES
    numbers = _numbers(lines[start:], first_line=start + 1)
    plane_deg = _take(numbers, n_planes, what="C angles")
    gamma_deg = _take(numbers, n_angles, what="gamma angles")
    values = np.array([_take(numbers, n_angles, what="intensities") for _ in range(stored)])
    # All planes round the axis weigh alike; the ends of a half or a quarter are shared with its mirror image
    whole_turn = stored in (1, n_planes)
    weights = np.ones(stored) if whole_turn else _plane_weights(plane_deg[:stored])
    return _lobe(gamma_deg, planes=values, weights=weights)


PARSERS: dict[str, Callable[[str], PolarLobe]] = {".ies": parse_ies, ".ldt": parse_eulumdat}


def _stored_planes(symmetry: int, *, n_planes: int) -> int:
    """Planes that a EULUMDAT file holds by its symmetry: none, about the axis, two halves, four quarters."""
    stored = {0: n_planes, 1: 1, 2: n_planes // 2 + 1, 3: n_planes // 2 + 1, 4: n_planes // 4 + 1}
    if symmetry not in stored:
        raise ValueError(f"line 3: symmetry is {symmetry}; allowed is 0 to 4")
    return stored[symmetry]


def _plane_weights(angle_deg: Sequence[float]) -> FloatArray:
    """Share of a turn that each plane stands for, by the trapezium rule; one plane stands for all."""
    angles = np.asarray(angle_deg)
    if angles.size == 1:
        return np.ones(1)
    steps = np.diff(angles)
    if (steps <= 0.0).any():
        raise ValueError("horizontal angles must rise")
    return np.asarray(0.5 * (np.append(steps, 0.0) + np.append(0.0, steps)))


def _lobe(angle_deg: Sequence[float], *, planes: FloatArray, weights: FloatArray) -> PolarLobe:
    angles = np.asarray(angle_deg)
    if angles[0] != 0.0 or (np.diff(angles) <= 0.0).any() or angles[-1] > 180.0:
        raise ValueError(
            f"angles to the axis run from {angles[0]:g} to {angles[-1]:g}; they must rise from 0 to at most 180"
        )
    mean = weights @ planes / weights.sum()
    if (planes < 0.0).any() or mean.max() <= 0.0:
        raise ValueError("intensities must not be negative, nor all 0")
    return PolarLobe(tuple(float(a) for a in angles), tuple(float(i) for i in mean / mean.max()))


def _numbers(lines: Sequence[str], *, first_line: int) -> Iterator[float]:
    for number, line in enumerate(lines, start=first_line):
        for word in line.replace(",", " ").split():
            try:
                value = float(word)
            except ValueError as error:
                raise ValueError(f"line {number}: {word!r} is no number") from error
            if not np.isfinite(value):
                raise ValueError(f"line {number}: {word} is not finite")
            yield value


def _take(numbers: Iterator[float], count: int, *, what: str) -> list[float]:
    taken = [value for _, value in zip(range(count), numbers, strict=False)]
    if len(taken) < count:
        raise ValueError(f"ends within the {what}: {len(taken)} of {count} are there")
    return taken


def _count(value: float, what: str) -> int:
    if value != int(value) or not 1 <= value <= MOST_ANGLES:
        raise ValueError(f"says {value:g} {what}; allowed is 1 to {MOST_ANGLES}")
    return int(value)


def _whole(lines: Sequence[str], number: int) -> int:
    try:
        return int(float(lines[number - 1]))
    except ValueError as error:
        raise ValueError(f"line {number}: {lines[number - 1]!r} is no number") from error
