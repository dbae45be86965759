"""What a data sheet is asked for a new part, one question at a time, each answer checked against those before it."""

import datetime
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, get_args

from paneglow.catalog.construction import EvidenceKind, MarkFace, MarkShape, TapeFace
from paneglow.catalog.records import Colour, PartKind, check_order_code
from paneglow.design import nearest
from paneglow.errors import CatalogError

Answers = Mapping[str, Any]

_LISTED = re.compile(r"[\s,/]+")
NO_ANSWER = ""  # what stands for an optional answer that was left out


@dataclass(frozen=True, slots=True, kw_only=True)
class PartQuestion:
    """One question; `parse` turns the typed words into a value and `check` holds it against the answers before it.

    Both raise CatalogError with one line that says what is allowed.
    """

    key: str  # name of the answer
    words: str  # as asked
    parse: Callable[[str], Any]  # typed words to a value
    default: str | None = None  # taken on an empty line; None where an answer is needed
    asked: Callable[[Answers], bool] = lambda _: True  # whether it applies after the answers before it
    check: Callable[[Any, Answers], None] = lambda _, __: None  # the value against the answers before it


def answer(question: PartQuestion, words: str, *, given: Answers) -> Any:
    """Value of what was typed.

    Parameters
    ----------
    question : PartQuestion
        What was asked.
    words : str
        As typed; an empty line takes the default.
    given : mapping
        Answers before, by key.

    Raises
    ------
    CatalogError
        Where it cannot be; one line that says what is allowed.
    """
    typed = words.strip()
    if not typed and question.default is not None:
        typed = question.default
        if typed == NO_ANSWER:
            return None
    if not typed:
        raise CatalogError(f"{question.words}: an answer is needed")
    value = question.parse(typed)
    question.check(value, given)
    return value


def _number_between(lower: float, upper: float) -> Callable[[str], float]:
    def parse(words: str) -> float:
        try:
            value = float(words.replace(",", "."))
        except ValueError:
            raise CatalogError(f"{words!r} is no number; write it like 1.6") from None
        if not lower <= value <= upper:
            raise CatalogError(f"{value:g} is outside {lower:g} to {upper:g}")
        return value

    return parse


def _whole_between(lower: int, upper: int) -> Callable[[str], int]:
    def parse(words: str) -> int:
        if not words.isdecimal() or not lower <= int(words) <= upper:
            raise CatalogError(f"{words!r} is no whole number from {lower} to {upper}")
        return int(words)

    return parse


def _one_of(choices: tuple[str, ...]) -> Callable[[str], str]:
    def parse(words: str) -> str:
        if words not in choices:
            close = nearest(words, choices)
            hint = f" (did you mean {close}?)" if close else ""
            raise CatalogError(f"{words!r} is not among {', '.join(choices)}{hint}")
        return words

    return parse


def _yes(words: str) -> bool:
    return _one_of(("yes", "no"))(words) == "yes"


def _code(words: str) -> str:
    try:
        return check_order_code(words)
    except ValueError as problem:
        raise CatalogError(str(problem)) from None


def _date(words: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(words)
    except ValueError:
        raise CatalogError(f"{words!r} is no date; write it like 2026-03-04") from None


def _quadrants(words: str) -> tuple[int, ...]:
    found = tuple(_whole_between(1, 4)(word) for word in _LISTED.split(words) if word)
    if not 1 <= len(found) <= 2:
        raise CatalogError("one quadrant, or two where the terminal lies on the line between them, such as 1 2")
    return found


def _at_most(key: str, *, what: str) -> Callable[[Any, Answers], None]:
    def check(value: Any, given: Answers) -> None:
        if given.get(key) is not None and value > given[key]:
            raise CatalogError(f"{value:g} is more than the {what} of {given[key]:g}")

    return check


def _at_least(key: str, *, what: str) -> Callable[[Any, Answers], None]:
    def check(value: Any, given: Answers) -> None:
        if given.get(key) is not None and value < given[key]:
            raise CatalogError(f"{value:g} is less than the {what} of {given[key]:g}; these must rise")

    return check


def _emitter_width(value: Any, given: Answers) -> None:
    across = "height_mm" if given["kind"] == "side_view" else "width_mm"
    _at_most(across, what=f"body's {across.removesuffix('_mm')}")(value, given)


def _one_chip(value: Any, given: Answers) -> None:  # noqa: ARG001 - one signature for every check
    if value > 2:
        raise CatalogError(
            f"{value} electric terminals mean several chips in one package (a common terminal, or red, green and blue);"
            " a design states one colour and one current per LED: take a part with two terminals"
        )


def _other_name(value: Any, given: Answers) -> None:
    if value == given["cathode"]:
        raise CatalogError(f"the anode cannot be terminal {value!r} too: that is the cathode")


def _pads_within(value: Any, given: Answers) -> None:
    beyond = value + given["pad_length_mm"] - given["length_mm"]
    if beyond > given["tolerance_mm"] and given["kind"] not in ("through_hole", "cutout"):
        raise CatalogError(f"the metal would reach {beyond / 2:.3g} mm beyond each end of the body; check both sizes")
    if value <= given["pad_length_mm"]:
        raise CatalogError(f"the two terminals, each {given['pad_length_mm']:g} mm long, would touch; anode = cathode")


def _answered(key: str, *values: Any) -> Callable[[Answers], bool]:
    return lambda given: given.get(key) in values


MM = _number_between(0.01, 50.0)
OPTIONAL_MM = "mm, empty if not stated"


def _levels(key: str, *, words: str, limits: tuple[float, float]) -> tuple[PartQuestion, ...]:
    """Least, typical and greatest value of a quantity, which must rise."""
    number = _number_between(*limits)
    least, typical, greatest = (f"{key}_{end}" for end in ("low", "value", "high"))
    return (
        PartQuestion(key=least, words=f"{words}, least (empty if not stated)", parse=number, default=NO_ANSWER),
        PartQuestion(key=typical, words=f"{words}, typical", parse=number, check=_at_least(least, what="least value")),
        PartQuestion(
            key=greatest,
            words=f"{words}, greatest (empty if not stated)",
            parse=number,
            default=NO_ANSWER,
            check=_at_least(typical, what="typical value"),
        ),
    )


_HEAD = (
    PartQuestion(key="code", words="Your order code, neutral (like my-amber)", parse=_code),
    PartQuestion(key="kind", words=f"Kind ({', '.join(get_args(PartKind))})", parse=_one_of(get_args(PartKind))),
    PartQuestion(key="colour", words=f"Colour ({', '.join(get_args(Colour))})", parse=_one_of(get_args(Colour))),
    PartQuestion(key="document", words="Data sheet, title and revision", parse=str),
    PartQuestion(key="date", words="Its date, like 2026-03-04", parse=_date),
)
_BODY = (
    PartQuestion(key="drawing_page", words="Page of the outline drawing", parse=_whole_between(1, 999)),
    PartQuestion(key="length_mm", words="Body length along the terminals, mm", parse=MM),
    PartQuestion(key="width_mm", words="Body width across, mm", parse=MM),
    PartQuestion(key="height_mm", words="Body height off the board, mm", parse=MM),
    PartQuestion(
        key="tolerance_mm", words="Tolerance of these, +- mm", parse=_number_between(0.001, 5.0), default="0.1"
    ),
    PartQuestion(
        key="emitter_length_mm",
        words="Luminous area, length, mm",
        parse=MM,
        check=_at_most("length_mm", what="body's length"),
    ),
    PartQuestion(
        key="emitter_width_mm",
        words="Luminous area, width (side view: its height), mm",
        parse=MM,
        check=_emitter_width,
    ),
    PartQuestion(
        key="emitter_height_mm",
        words="Middle of it above the solder plane (reverse, cut-out: from the board), mm",
        parse=_number_between(0.0, 50.0),
        check=_at_most("height_mm", what="body's height"),
    ),
    PartQuestion(
        key="lens_length_mm", words=f"Lens or hole it needs, length, {OPTIONAL_MM}", parse=MM, default=NO_ANSWER
    ),
    PartQuestion(
        key="lens_width_mm", words=f"Lens or hole it needs, width, {OPTIONAL_MM}", parse=MM, default=NO_ANSWER
    ),
    PartQuestion(
        key="lens_height_mm",
        words=f"Lens above the body (cut-out: into the board), {OPTIONAL_MM}",
        parse=_number_between(0.0, 50.0),
        default=NO_ANSWER,
        check=_at_most("height_mm", what="body's height"),
    ),
)
_TERMINALS = (
    PartQuestion(
        key="pads", words="How many electric terminals", parse=_whole_between(2, 8), default="2", check=_one_chip
    ),
    PartQuestion(key="cathode", words="Name of the cathode (number or letter)", parse=str, default="C"),
    PartQuestion(key="anode", words="Name of the anode", parse=str, default="A", check=_other_name),
    PartQuestion(key="pad_length_mm", words="Metal of each, length, mm", parse=MM),
    PartQuestion(key="pad_width_mm", words="Metal of each, width, mm", parse=MM),
    PartQuestion(key="pad_pitch_mm", words="Distance of their centres, mm", parse=MM, check=_pads_within),
    PartQuestion(key="wrap", words="Does the metal run up the ends (yes, no)", parse=_yes, default="no"),
    PartQuestion(
        key="leg_mm", words=f"Free length of a leg, {OPTIONAL_MM}", parse=_number_between(0.1, 100.0), default=NO_ANSWER
    ),
)
_LIGHT = (
    PartQuestion(key="light_page", words="Page of the electrical and optical table", parse=_whole_between(1, 999)),
    PartQuestion(key="test_current_ma", words="Current of that table, mA", parse=_number_between(0.1, 1000.0)),
    *_levels("forward_voltage_v", words="Forward voltage, V", limits=(0.5, 60.0)),
    *_levels("intensity_mcd", words="Intensity on axis, mcd", limits=(1e-3, 1e6)),
    PartQuestion(key="full_angle_deg", words="Full angle at half intensity, deg", parse=_number_between(2.0, 178.0)),
    PartQuestion(key="peak_nm", words="Peak wavelength, nm", parse=_number_between(380.0, 780.0)),
    PartQuestion(key="fwhm_nm", words="Width of the spectrum at half height, nm", parse=_number_between(1.0, 200.0)),
    PartQuestion(
        key="shift_nm", words="It may lie to either side by, nm", parse=_number_between(0.0, 50.0), default="5"
    ),
)
_LIMITS = (
    PartQuestion(
        key="current_max_ma",
        words="Greatest continuous current, mA",
        parse=_number_between(0.1, 1000.0),
        check=_at_least("test_current_ma", what="test current"),
    ),
    PartQuestion(
        key="reverse_voltage_max_v",
        words="Greatest reverse voltage, V (empty if not stated)",
        parse=_number_between(0.5, 60.0),
        default=NO_ANSWER,
    ),
    PartQuestion(
        key="pulse_current_max_ma",
        words="Greatest pulse current, mA (empty if not stated)",
        parse=_number_between(0.1, 5000.0),
        default=NO_ANSWER,
        check=_at_least("current_max_ma", what="continuous current"),
    ),
    PartQuestion(
        key="power_max_mw",
        words="Greatest power, mW (empty if not stated)",
        parse=_number_between(0.1, 10_000.0),
        default=NO_ANSWER,
    ),
    PartQuestion(
        key="reflow_peak_c",
        words="Hottest reflow, degree Celsius (empty if not stated)",
        parse=_number_between(100.0, 500.0),
        default=NO_ANSWER,
    ),
    PartQuestion(
        key="iron_tip_c",
        words="Hottest iron, degree Celsius (empty if not stated)",
        parse=_number_between(100.0, 500.0),
        default=NO_ANSWER,
    ),
    PartQuestion(
        key="iron_contact_s",
        words="For how many seconds",
        parse=_number_between(0.1, 60.0),
        asked=lambda given: given["iron_tip_c"] is not None,
    ),
)
KINDS_OF_EVIDENCE = tuple(get_args(EvidenceKind))
_MARK = (
    PartQuestion(
        key="mark_shape",
        words=f"Polarity mark ({', '.join(get_args(MarkShape))}; empty if not stated)",
        parse=_one_of(get_args(MarkShape)),
        default=NO_ANSWER,
    ),
    PartQuestion(
        key="mark_face",
        words=f"Face it is on, part on its solder face ({', '.join(get_args(MarkFace))})",
        parse=_one_of(get_args(MarkFace)),
        asked=lambda given: given["mark_shape"] is not None,
    ),
    PartQuestion(
        key="mark_role",
        words="It marks the (anode, cathode)",
        parse=_one_of(("anode", "cathode")),
        asked=lambda given: given["mark_shape"] is not None,
    ),
    PartQuestion(
        key="mark_evidence",
        words=f"How is that known ({', '.join(KINDS_OF_EVIDENCE)})",
        parse=_one_of(KINDS_OF_EVIDENCE),
        asked=lambda given: given["mark_shape"] is not None,
    ),
    PartQuestion(
        key="mark_page",
        words="Page that shows it",
        parse=_whole_between(1, 999),
        asked=_answered("mark_evidence", "data-sheet"),
    ),
    PartQuestion(
        key="mark_date",
        words="Date of the meter test, like 2026-03-04",
        parse=_date,
        asked=_answered("mark_evidence", "meter-test"),
    ),
    PartQuestion(
        key="mark_who",
        words="Who read or tested it",
        parse=str,
        asked=_answered("mark_evidence", "data-sheet", "meter-test"),
    ),
)
_TAPE = (
    PartQuestion(
        key="tape_quadrants",
        words="EIA-481 quadrant of the cathode in the tape (like 1, or 1 2; empty if not stated)",
        parse=_quadrants,
        default=NO_ANSWER,
    ),
    PartQuestion(
        key="tape_face",
        words=f"It lies in the pocket ({', '.join(get_args(TapeFace))})",
        parse=_one_of(get_args(TapeFace)),
        default="solder-down",
        asked=lambda given: given["tape_quadrants"] is not None,
    ),
    PartQuestion(
        key="tape_page",
        words="Page that shows it",
        parse=_whole_between(1, 999),
        asked=lambda given: given["tape_quadrants"] is not None,
    ),
)
PART_QUESTIONS: tuple[PartQuestion, ...] = (*_HEAD, *_BODY, *_TERMINALS, *_LIGHT, *_LIMITS, *_MARK, *_TAPE)
