"""What a new part is asked for: answers that cannot be are refused at once, the rest become its record."""

import datetime

import pytest

from paneglow.catalog import PART_QUESTIONS, answer, build_new_part
from paneglow.errors import CatalogError

BY_KEY = {question.key: question for question in PART_QUESTIONS}
# A data sheet of our own, as a person would type it; what is missing takes the empty line
TYPED = {
    "code": "own-amber",
    "kind": "chip",
    "colour": "amber",
    "document": "Own chip, amber, issue 2",
    "date": "2026-03-04",
    "drawing_page": "2",
    "length_mm": "3.2",
    "width_mm": "1,6",
    "height_mm": "1.1",
    "emitter_length_mm": "1.2",
    "emitter_width_mm": "1.0",
    "emitter_height_mm": "0.9",
    "lens_length_mm": "2.0",
    "lens_width_mm": "1.5",
    "pad_length_mm": "0.5",
    "pad_width_mm": "1.6",
    "pad_pitch_mm": "2.7",
    "wrap": "yes",
    "light_page": "3",
    "test_current_ma": "20",
    "forward_voltage_v_low": "1.8",
    "forward_voltage_v_value": "2.0",
    "forward_voltage_v_high": "2.4",
    "intensity_mcd_value": "180",
    "full_angle_deg": "120",
    "peak_nm": "592",
    "fwhm_nm": "16",
    "current_max_ma": "25",
    "mark_shape": "tee",
    "mark_face": "bottom",
    "mark_role": "cathode",
    "mark_evidence": "data-sheet",
    "mark_page": "2",
    "mark_who": "the builder",
    "tape_quadrants": "1 2",
    "tape_page": "5",
}


def typed_in(**changes):
    given = {}
    for question in PART_QUESTIONS:
        given[question.key] = None
        if question.asked(given):
            given[question.key] = answer(question, {**TYPED, **changes}.get(question.key, ""), given=given)
    return given


def test_every_question_has_its_own_key_and_fits_a_line():
    assert len(BY_KEY) == len(PART_QUESTIONS)
    assert set(TYPED) <= set(BY_KEY)


def test_answers_become_the_record_with_their_pages():
    part = build_new_part(typed_in())
    assert part.body.width_mm == 1.6
    assert part.half_angle_deg.value == 60.0
    assert (part.forward_voltage_v.low, part.forward_voltage_v.value, part.forward_voltage_v.high) == (1.8, 2.0, 2.4)
    assert part.forward_voltage_v.source == "Own chip, amber, issue 2, 2026-03-04, page 3"
    assert [(pad.name, pad.at_mm) for pad in part.terminals.pads] == [("C", (-1.35, 0.0)), ("A", (1.35, 0.0))]
    assert part.mark_verified
    assert (part.mark.terminal, part.mark.at_mm) == ("C", (-1.35, 0.0))
    assert part.mark.evidence.date == datetime.date(2026, 3, 4)
    assert part.tape.quadrants == (1, 2)


def test_a_part_with_no_mark_told_is_written_unverified():
    for changes in ({"mark_shape": ""}, {"mark_evidence": "unverified"}):
        assert not build_new_part(typed_in(**changes)).mark_verified


def test_a_meter_test_is_evidence():
    part = build_new_part(typed_in(mark_evidence="meter-test", mark_date="2026-11-02", mark_role="anode"))
    assert part.mark_verified
    assert (part.mark.terminal, part.mark.evidence.who) == ("A", "the builder")


@pytest.mark.parametrize(
    ("key", "typed", "words"),
    [
        ("emitter_length_mm", "3.4", "more than the body's length of 3.2"),
        ("emitter_width_mm", "1.7", "more than the body's width of 1.6"),
        ("emitter_height_mm", "1.2", "more than the body's height of 1.1"),
        ("forward_voltage_v_value", "1.7", "less than the least value of 1.8"),
        ("forward_voltage_v_high", "1.9", "less than the typical value of 2; these must rise"),
        ("anode", "C", "the anode cannot be terminal 'C' too"),
        ("pad_pitch_mm", "0.4", "would touch; anode = cathode"),
        ("pad_pitch_mm", "3.4", "beyond each end of the body"),
        ("pads", "4", "several chips in one package"),
        ("pads", "3", "a common terminal"),
        ("pads", "1", "no whole number from 2 to 8"),
        ("current_max_ma", "10", "less than the test current of 20"),
        ("code", "My Amber", "letters, digits and - . / _ + are allowed, no spaces"),
        ("kind", "chpi", "did you mean chip?"),
        ("colour", "purple", "is not among red, orange"),
        ("date", "4.3.2026", "write it like 2026-03-04"),
        ("length_mm", "wide", "is no number"),
        ("length_mm", "", "an answer is needed"),
        ("peak_nm", "5920", "outside 380 to 780"),
        ("tape_quadrants", "1 2 3", "one quadrant, or two"),
        ("tape_quadrants", "5", "no whole number from 1 to 4"),
    ],
)
def test_an_answer_that_cannot_be_is_refused_in_one_line(key, typed, words):
    given = typed_in()
    with pytest.raises(CatalogError) as caught:
        answer(BY_KEY[key], typed, given=given)
    (line,) = str(caught.value).splitlines()
    assert words in line


def test_the_width_of_a_side_view_emitter_is_held_against_the_height():
    given = typed_in(kind="side_view", emitter_width_mm="1.0")
    with pytest.raises(CatalogError, match=r"body's height of 1\.1"):
        answer(BY_KEY["emitter_width_mm"], "1.2", given=given)


def test_quadrants_that_share_no_side_are_refused_by_the_record():
    with pytest.raises(CatalogError, match="do not share a side"):
        build_new_part(typed_in(tape_quadrants="1 4"))
