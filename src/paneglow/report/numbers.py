"""Numbers as a person reads them: no more digits than they deserve, and a range where the input was assumed."""

import math
import re
from collections.abc import Sequence

from paneglow.units import Estimate, known_digits

DASH = "\N{EN DASH}"
UNITS = re.compile(r"\b(cd/m|mm|cm)2\b")
SUBJECTS_NAMED = 3  # where they fill more than one line (our choice)
SMALL_SHARE = 0.1  # of the other cause: one so small is not named (our choice)
NOISE_WORTH_PRINTING_FRAC = 0.02  # a smaller standard error hides behind two digits (our choice)


def with_signs(words: str) -> str:
    """A text with the signs that units and tolerances are written with, where it has plain letters for them.

    Examples
    --------
    >>> with_signs("2 cd/m2 over 0.5 mm2, +-10 %")
    '2 cd/m² over 0.5 mm², ±10 %'
    """
    squared = UNITS.sub(lambda unit: f"{unit[1]}\N{SUPERSCRIPT TWO}", words)
    return squared.replace("+-", "\N{PLUS-MINUS SIGN}")


def _round_to(value: float, decimals: int) -> str:
    rounded = round(value, decimals)
    return f"{rounded + 0.0:.{max(0, decimals)}f}"  # + 0.0 turns -0.0 into 0.0


def _decimals(value: float, digits: int) -> int:
    # The exponent after rounding: 0.0996 at two digits is 0.10, not 0.100
    exponent = int(f"{value:.{digits - 1}e}".split("e")[1])
    return digits - 1 - exponent


def to_digits(value: float, *, digits: int = 2, floor: float = 0.0) -> str:
    """Write a number with so many significant digits and no exponent.

    Parameters
    ----------
    value : float
        Finite.
    digits : int
        Significant digits, at least 1.
    floor : float
        Magnitudes below it are written as "<floor".

    Returns
    -------
    str

    Examples
    --------
    >>> to_digits(18.43), to_digits(1234.0), to_digits(0.0996), to_digits(0.0004, floor=0.001)
    ('18', '1200', '0.10', '<0.001')
    """
    if value == 0.0:
        return "0"
    if abs(value) < floor:
        return f"<{floor:g}"
    return _round_to(value, _decimals(value, digits))


def _join(low: str, high: str, dash: str) -> str:
    if low == high:
        return low
    # A dash between signed numbers reads as one more minus
    return f"{low} to {high}" if low.startswith("-") or high.startswith("-") else f"{low}{dash}{high}"


def _low_end(value: float, *, digits: int, floor: float) -> str:
    return "0" if abs(value) < floor else to_digits(value, digits=digits)


def to_range_text(estimate: Estimate, *, digits: int = 2, floor: float = 0.0, dash: str = DASH) -> str:
    """Write an estimate: its range where an input was assumed, else its value with the sampling error.

    An end is moved out by its own standard error, and has no more digits than that leaves.

    Parameters
    ----------
    estimate : Estimate
    digits : int
        Significant digits of each end, at most.
    floor : float
        What lies below it as a whole is written as "<floor"; the low end of a range below it as 0.
    dash : str
        Between the two ends.

    Returns
    -------
    str

    Examples
    --------
    >>> to_range_text(Estimate(value=27.0, se=0.1, low=18.2, high=41.3), dash="-")
    '18-41'
    >>> to_range_text(Estimate(value=27.0, se=0.1, low=18.2, high=412.0, low_se=0.3, high_se=60.0), dash="-")
    '18-500'
    >>> to_range_text(Estimate(value=27.0, se=1.4, low=27.0, high=27.0))
    '27 ± 1'
    """
    if 0.0 < max(abs(estimate.low), abs(estimate.high)) < floor:
        return f"<{floor:g}"
    if estimate.low < estimate.high:
        low, high = estimate.widened
        low_text = _low_end(low, digits=known_digits(low, se=estimate.low_se, most=digits), floor=floor)
        high_digits = known_digits(high, se=estimate.high_se, most=digits)
        return _join(low_text, to_digits(high, digits=high_digits, floor=floor), dash)
    if estimate.se > NOISE_WORTH_PRINTING_FRAC * abs(estimate.value) and abs(estimate.value) >= floor:
        decimals = _decimals(estimate.se, 1)
        return f"{_round_to(estimate.value, decimals)} ± {_round_to(estimate.se, decimals)}"
    return to_digits(estimate.value, digits=digits, floor=floor)


def to_cause_text(estimate: Estimate, *, floor: float = 0.0, percent: bool = False) -> str:
    """Say in one clause what a range comes from, and what it would be by that cause alone; empty where there is none.

    Examples
    --------
    >>> from paneglow.units import KnownRange
    >>> known = KnownRange(laminate=(10.0, 20.0), leds=(3.0, 40.0))
    >>> to_cause_text(Estimate(value=14.0, se=0.1, low=2.0, high=57.0, known=known))
    'mostly the laminate: 3.0–40 by it alone'
    """
    known = estimate.known
    if known is None:
        return ""
    by_cause = {"the laminate": known.leds, "the light of the LEDs": known.laminate}
    # By ratio where both ends are above nothing, so that a factor counts alike upward and downward
    spread = {
        cause: math.log(high / low) if estimate.low > 0.0 else high - low for cause, (low, high) in by_cause.items()
    }
    cause = max(spread, key=lambda one: spread[one])
    if min(spread.values()) <= SMALL_SHARE * spread[cause]:
        return f"from {cause}"
    low, high = (max(0.0, end) * (100 if percent else 1) for end in by_cause[cause])
    alone = _join(to_digits(low, floor=floor), to_digits(high, floor=floor), DASH)
    return f"mostly {cause}: {alone}{' %' if percent else ''} by it alone"


def to_percent_text(estimate: Estimate, *, dash: str = DASH) -> str:
    """Write a share of 0 to 1 in percent, as `to_range_text` does; below 0.1 % it only says so."""
    scaled = Estimate(**{part: 100 * number for part, number in estimate.model_dump(exclude={"known"}).items()})
    return f"{to_range_text(scaled, floor=0.1, dash=dash)} %"


def to_span_text(value: float, *, low: float, high: float) -> str:
    """Write a catalogue value as it stands there, with its range in brackets where it has one."""
    if math.isclose(low, high):
        return f"{value:.6g}"
    return f"{value:.6g} ({low:.4g}{DASH}{high:.4g})"


def to_refs_text(refs: Sequence[str]) -> str:
    """Designators with runs of three and more drawn together.

    Examples
    --------
    >>> to_refs_text(["D2", "D3", "D4", "D9", "D11", "D12"])
    'D2 to D4, D9, D11, D12'
    """
    runs: list[list[str]] = []
    for ref in refs:
        if runs and _follows(runs[-1][-1], ref):
            runs[-1].append(ref)
        else:
            runs.append([ref])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(run) for run in runs)


def to_subjects_text(subjects: Sequence[str]) -> str:
    """Who a change concerns: designators and windows, a few of them; empty for the whole board.

    Examples
    --------
    >>> to_subjects_text(["D1", "D2", "D4", "D9", "D11", "D12", "D20"]), to_subjects_text(["board"])
    ('D1, D2, D4 and 4 more', '')
    """
    if tuple(subjects) == ("board",):
        return ""
    text = to_refs_text(subjects)
    many = text.count(",") > SUBJECTS_NAMED
    return f"{', '.join(subjects[:SUBJECTS_NAMED])} and {len(subjects) - SUBJECTS_NAMED} more" if many else text


def _follows(before: str, after: str) -> bool:
    stem = before.rstrip("0123456789")
    digits = before[len(stem) :]
    return digits != "" and after == f"{stem}{int(digits) + 1}"
