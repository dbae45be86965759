"""Range and shape checks at the public edge; kernels behind it trust their input."""

import math

import numpy as np
import numpy.typing as npt

from paneglow.errors import RangeError


def check_between(name: str, value: float, *, lower: float, upper: float = math.inf) -> float:
    """Return the value, or raise where it is not finite or outside [lower, upper].

    Raises
    ------
    RangeError
        With the name, the value and the allowed range.
    """
    if not math.isfinite(value) or not lower <= value <= upper:
        allowed = f"at least {lower:g}" if math.isinf(upper) else f"from {lower:g} to {upper:g}"
        raise RangeError(f"{name} is {value!r}; allowed is a finite number {allowed}")
    return float(value)


def check_above(name: str, value: float, *, lower: float) -> float:
    """Return the value, or raise where it is not finite or not above `lower`.

    Raises
    ------
    RangeError
        With the name, the value and the allowed range.
    """
    if not math.isfinite(value) or not value > lower:
        raise RangeError(f"{name} is {value!r}; allowed is a finite number above {lower:g}")
    return float(value)


def check_shape(name: str, array: npt.NDArray[np.generic], *, shape: tuple[int, ...]) -> None:
    """Raise where an array does not have the stated shape.

    Raises
    ------
    RangeError
        With the name, the shape met and the shape needed.
    """
    if array.shape != shape:
        raise RangeError(f"{name} has shape {array.shape}; needed is {shape}")
