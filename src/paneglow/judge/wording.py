"""Numbers and places as people read them; every sentence of the judge uses these."""

import math

from paneglow.units import Estimate, known_digits

SIGNIFICANT_DIGITS = 3  # finer than any prediction here: Monte Carlo errors are about 1 %, assumed ranges far wider

ERROR_DIGITS = 2  # an error of an error means little beyond
SMALLEST = 1e-4  # nothing the judge weighs is decided by less


def to_number(value: float, *, digits: int = SIGNIFICANT_DIGITS) -> str:
    """At most three significant digits, without an exponent or trailing zeros; "<0.0001" for less.

    Examples
    --------
    >>> to_number(0.4123), to_number(0.5), to_number(15234.0), to_number(0.0), to_number(2.2e-6)
    ('0.412', '0.5', '15200', '0', '<0.0001')
    """
    if 0.0 < abs(value) < SMALLEST:
        return f"<{SMALLEST:.4f}"
    if value == 0.0 or not math.isfinite(value):
        return f"{value:g}"
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    text = f"{round(value, decimals):.{max(0, decimals)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def to_range(estimate: Estimate, *, unit: str = "") -> str:
    """Value with the range its assumptions leave open, or with two standard errors where nothing is assumed.

    An end is moved out by its own standard error, and has no more digits than that leaves.

    Examples
    --------
    >>> to_range(Estimate(value=0.41, se=0.001, low=0.35, high=0.48))
    '0.41 (0.349 to 0.481)'
    >>> to_range(Estimate(value=0.41, se=0.001, low=0.0976, high=0.48, low_se=0.02, high_se=0.03))
    '0.41 (0.08 to 0.51)'
    >>> to_range(Estimate(value=12.0, se=0.2, low=12.0, high=12.0), unit="cd/m2")
    '12 +- 0.4 cd/m2'
    >>> to_range(Estimate(value=10.0, se=1e-15, low=10.0, high=10.0))
    '10'
    """
    tail = f" {unit}" if unit else ""
    if estimate.low < estimate.high:
        low, high = (
            to_number(end, digits=known_digits(end, se=se, most=SIGNIFICANT_DIGITS))
            for end, se in zip(estimate.widened, (estimate.low_se, estimate.high_se), strict=True)
        )
        return f"{to_number(estimate.value)}{tail} ({low} to {high})"
    # An error beyond the digits shown says nothing
    if 2 * estimate.se >= abs(estimate.value) / 10**SIGNIFICANT_DIGITS and estimate.se > 0:
        return f"{to_number(estimate.value)} +- {to_number(2 * estimate.se, digits=ERROR_DIGITS)}{tail}"
    return f"{to_number(estimate.value)}{tail}"


def to_share(fraction: float) -> str:
    """Share of one as whole percent, or one decimal below ten percent; "<0.1 %" for less.

    Examples
    --------
    >>> to_share(0.257), to_share(0.034), to_share(0.0999), to_share(0.0), to_share(2e-4)
    ('26 %', '3.4 %', '10 %', '0 %', '<0.1 %')
    """
    if 0.0 < fraction < 5e-4:
        return "<0.1 %"
    return f"{100 * fraction:.1f} %" if 0.0 < fraction < 0.0995 else f"{100 * fraction:.0f} %"


def to_place(at_mm: tuple[float, float]) -> str:
    """Place on the board, seen from the front.

    Examples
    --------
    >>> to_place((12.44, 30.0))
    '(12.4, 30.0) mm'
    """
    return f"({at_mm[0]:.1f}, {at_mm[1]:.1f}) mm"


def to_layer_words(role: str) -> str:
    """Layer role as a person says it.

    Examples
    --------
    >>> to_layer_words("copper_back"), to_layer_words("copper_inner_1"), to_layer_words("legend_front")
    ('back copper', 'inner copper 1', 'front legend')
    """
    what, _, side = role.partition("_")
    if side.startswith("inner_"):
        return f"inner {what} {side.removeprefix('inner_')}"
    return f"{side} {what}" if side else role


def to_heading(start_mm: tuple[float, float], *, end_mm: tuple[float, float]) -> str:
    """Direction from one place to another in words, seen from the front, in steps of 45 degrees.

    Examples
    --------
    >>> to_heading((0.0, 0.0), end_mm=(3.0, 3.2)), to_heading((0.0, 0.0), end_mm=(-2.0, 0.1))
    ('upper right', 'left')
    """
    words = ("right", "upper right", "top", "upper left", "left", "lower left", "bottom", "lower right")
    angle_rad = math.atan2(end_mm[1] - start_mm[1], end_mm[0] - start_mm[0])
    return words[round(angle_rad / (math.pi / 4)) % len(words)]


def to_list(names: tuple[str, ...], *, most: int = 4) -> str:
    """Names with commas, cut after a few.

    Examples
    --------
    >>> to_list(("a", "b", "c"), most=2)
    'a, b and 1 more'
    """
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"
