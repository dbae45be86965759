"""Answers about a new part to its record."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from paneglow.catalog.files import parse_catalog_data
from paneglow.catalog.questions import Answers
from paneglow.catalog.records import Part

# No data sheet prints it: as for the packages of the starting catalogue
BODY_REFLECTANCE = {
    "value": 0.4,
    "low": 0.2,
    "high": 0.7,
    "origin": "assumed",
    "source": "pale moulding or substrate, estimate, no source",
}


def build_new_part(answers: Answers) -> Part:
    """Record of a new part from the answers to `PART_QUESTIONS`.

    Parameters
    ----------
    answers : mapping
        Values by the key of their question; None where an optional one was left out.

    Raises
    ------
    CatalogError
        Where the answers contradict each other; one line per problem.
    """
    drawing, table = (
        f"{answers['document']}, {answers['date']}, page {answers[key]}" for key in ("drawing_page", "light_page")
    )
    fields = {
        **{name: answers[name] for name in ("code", "kind", "colour", "test_current_ma")},
        "body": {
            **{name: answers[name] for name in ("length_mm", "width_mm", "height_mm", "tolerance_mm")},
            "origin": "sourced",
            "source": drawing,
        },
        **_sizes(answers, source=drawing),
        **_light(answers, source=table),
        "terminals": _terminals(answers, source=drawing),
        "body_reflectance": BODY_REFLECTANCE,
        "mark": _mark(answers),
        "tape": _tape(answers),
        "ratings": _quantities(answers, ("pulse_current_max_ma", "power_max_mw"), source=table),
        "soldering": _quantities(answers, ("reflow_peak_c", "iron_tip_c", "iron_contact_s"), source=table),
    }
    given = {name: value for name, value in fields.items() if value}
    content = parse_catalog_data({"part": [given]}, path=Path(f"{answers['code']}.toml".replace("/", "-")), known={})
    return content.part[0]


def _sourced(value: float, *, source: str, low: float | None = None, high: float | None = None) -> dict[str, Any]:
    ends = {name: end for name, end in (("low", low), ("high", high)) if end is not None}
    return {"value": value, **ends, "origin": "sourced", "source": source}


def _quantities(answers: Answers, names: tuple[str, ...], *, source: str) -> dict[str, Any]:
    given = {name: answers.get(name) for name in names}
    return {name: _sourced(value, source=source) for name, value in given.items() if value is not None}


def _sizes(answers: Answers, *, source: str) -> dict[str, Any]:
    emitter = ("emitter_length_mm", "emitter_width_mm", "emitter_height_mm")
    return _quantities(answers, (*emitter, "lens_length_mm", "lens_width_mm", "lens_height_mm"), source=source)


def _levels(answers: Answers, name: str, *, source: str) -> dict[str, Any]:
    low, value, high = (answers[f"{name}_{end}"] for end in ("low", "value", "high"))
    return _sourced(value, low=low, high=high, source=source)


def _light(answers: Answers, *, source: str) -> dict[str, Any]:
    peak = {"peak_nm": answers["peak_nm"], "fwhm_nm": answers["fwhm_nm"]}
    return {
        "forward_voltage_v": _levels(answers, "forward_voltage_v", source=source),
        "intensity_mcd": _levels(answers, "intensity_mcd", source=source),
        "half_angle_deg": _sourced(answers["full_angle_deg"] / 2, source=source),
        "spectrum": {"peaks": [peak], "shift_nm": answers["shift_nm"], "origin": "sourced", "source": source},
        **_quantities(answers, ("current_max_ma", "reverse_voltage_max_v"), source=source),
    }


def _terminals(answers: Answers, *, source: str) -> dict[str, Any]:
    half = answers["pad_pitch_mm"] / 2
    size = {"length_mm": answers["pad_length_mm"], "width_mm": answers["pad_width_mm"]}
    pads = [
        {"name": answers[role], "role": role, "at_mm": [x, 0.0], **size}
        for role, x in (("cathode", -half), ("anode", half))
    ]
    leg = {} if answers["leg_mm"] is None else {"leg_mm": answers["leg_mm"]}
    tolerance = {"tolerance_mm": answers["tolerance_mm"]}
    return {"pads": pads, "wrap": answers["wrap"], **leg, **tolerance, "origin": "sourced", "source": source}


def _mark(answers: Answers) -> dict[str, Any]:
    if answers["mark_shape"] is None:
        return {}
    role = answers["mark_role"]
    # The questions place the cathode at -x; a mark sits at the terminal it means
    half = answers["pad_pitch_mm"] / 2
    return {
        "shape": answers["mark_shape"],
        "face": answers["mark_face"],
        "at_mm": [-half if role == "cathode" else half, 0.0],
        "terminal": answers[role],
        "evidence": _EVIDENCE[answers["mark_evidence"]](answers),
    }


def _sheet_evidence(answers: Answers) -> dict[str, Any]:
    return {
        "kind": "data-sheet",
        "document": answers["document"],
        "page": answers["mark_page"],
        "date": answers["date"],
        "who": answers["mark_who"],
    }


def _meter_evidence(answers: Answers) -> dict[str, Any]:
    return {"kind": "meter-test", "date": answers["mark_date"], "who": answers["mark_who"]}


def _no_evidence(answers: Answers) -> dict[str, Any]:  # noqa: ARG001 - one signature for every kind
    return {"kind": "unverified"}


_EVIDENCE: Mapping[str, Any] = {
    "data-sheet": _sheet_evidence,
    "meter-test": _meter_evidence,
    "unverified": _no_evidence,
}


def _tape(answers: Answers) -> dict[str, Any]:
    if answers["tape_quadrants"] is None:
        return {}
    return {
        "face": answers["tape_face"],
        "terminal": answers["cathode"],
        "quadrants": list(answers["tape_quadrants"]),
        "evidence": {
            "kind": "data-sheet",
            "document": answers["document"],
            "page": answers["tape_page"],
            "date": answers["date"],
        },
    }
