"""Terminals, marks and tape: what cannot be is refused in one line; what is not known stays allowed."""

import datetime

import pytest
from pydantic import ValidationError

from paneglow.catalog import Evidence, PolarityMark, TapeOrientation, Terminals, read_catalog
from paneglow.errors import CatalogError

CATALOG = read_catalog()
HEAD = '[[part]]\ncode = "own-red"\nlike = "tv-1206-red"\n'
SHEET = 'evidence = { kind = "data-sheet", document = "own sheet", page = 2, date = 2026-03-04 }'


def pad(name, role, at_mm, *, chips=()):
    return {"name": name, "role": role, "at_mm": at_mm, "length_mm": 0.5, "width_mm": 0.5, "chips": chips}


def terminals(*pads):
    return Terminals.model_validate({"pads": pads, "origin": "measured", "source": "caliper"})


def read_part(tmp_path, text):
    (tmp_path / "own.toml").write_text(HEAD + text, encoding="utf-8")
    return read_catalog(user_parts=tmp_path).parts["own-red"]


def test_no_part_of_the_starting_catalogue_claims_to_know_its_mark():
    assert len(CATALOG.parts) == 91
    assert not any(part.mark_verified for part in CATALOG.parts.values())
    assert all(part.terminals is not None for part in CATALOG.parts.values())


@pytest.mark.parametrize("part", CATALOG.parts.values(), ids=lambda part: part.code)
def test_pads_of_the_starting_catalogue_lie_within_their_body(part):
    slack_mm = 0.05 if part.terminals.leg_mm else 1e-9  # legs 2.54 mm apart reach to the rim of a 3 mm body
    for one in part.terminals.pads:
        assert abs(one.at_mm[0]) + one.length_mm / 2 <= part.body.length_mm / 2 + slack_mm
        assert abs(one.at_mm[1]) + one.width_mm / 2 <= part.body.width_mm / 2 + slack_mm


def test_a_mark_with_evidence_is_verified(tmp_path):
    part = read_part(
        tmp_path, f'mark = {{ shape = "dot", face = "top", at_mm = [-1.2, 0.4], terminal = "C", {SHEET} }}'
    )
    assert part.mark_verified
    assert part.mark.evidence.date == datetime.date(2026, 3, 4)


def test_a_mark_without_evidence_is_allowed_and_unverified(tmp_path):
    part = read_part(tmp_path, 'mark = { shape = "dot", face = "top", at_mm = [-1.2, 0.4], terminal = "C" }')
    assert part.mark is not None
    assert not part.mark_verified


def test_a_code_like_another_takes_over_its_pads_but_never_its_mark_or_tape(tmp_path):
    mark = f'mark = {{ shape = "dot", face = "top", at_mm = [-1.2, 0.4], terminal = "C", {SHEET} }}\n'
    tape = f'tape = {{ terminal = "C", quadrants = [1, 2], {SHEET} }}\n'
    sibling = '[[part]]\ncode = "own-sibling"\nlike = "own-red"\n'
    (tmp_path / "own.toml").write_text(HEAD + mark + tape + sibling, encoding="utf-8")
    parts = read_catalog(user_parts=tmp_path).parts
    assert parts["own-red"].mark_verified
    assert parts["own-sibling"].terminals == parts["own-red"].terminals
    assert parts["own-sibling"].mark is None
    assert parts["own-sibling"].tape is None


@pytest.mark.parametrize(
    ("mark", "word"),
    [
        ('at_mm = [1.2, 0.0], terminal = "C"', "sits at terminal 'A' (anode) but means 'C' (cathode)"),
        ('at_mm = [-1.2, 0.0], terminal = "K"', "means terminal 'K', which the part does not have; it has C, A"),
        ('at_mm = [-1.2, 0.0], terminal = "C", evidence = { kind = "meter-test" }', "needs date and who"),
        (
            'at_mm = [-1.2, 0.0], terminal = "C", evidence = { kind = "data-sheet", page = 2 }',
            "needs document and date",
        ),
    ],
)
def test_a_mark_that_cannot_be_is_told_in_one_line(tmp_path, mark, word):
    with pytest.raises(CatalogError) as caught:
        read_part(tmp_path, f'mark = {{ shape = "dot", face = "top", {mark} }}')
    (line,) = str(caught.value).splitlines()
    assert "own.toml: [[part]] 1" in line
    assert word in line


@pytest.mark.parametrize(
    ("pads", "word"),
    [
        ((pad("1", "anode", (-1, 0)), pad("1", "cathode", (1, 0))), "anode and cathode must be different terminals"),
        ((pad("1", "anode", (1, 0)), pad("2", "cathode", (1, 0))), "lie at one place"),
        ((pad("1", "anode", (-1, 0)), pad("2", "anode", (1, 0))), "the part has no cathode"),
        (
            (pad("1", "anode", (-1, 1)), pad("2", "cathode", (1, 1)), pad("3", "cathode", (1, -1))),
            "more than two electric terminals",
        ),
        (
            (
                pad("1", "anode", (-1, 1), chips=("red", "green")),
                pad("2", "cathode", (1, 1), chips=("red",)),
            ),
            "chip 'green' has no cathode",
        ),
    ],
)
def test_terminals_that_cannot_be_are_refused(pads, word):
    with pytest.raises(ValidationError, match=word.replace("(", r"\(")):
        terminals(*pads)


def test_a_common_terminal_is_told_apart():
    rgb = terminals(
        pad("1", "anode", (-1, 1), chips=("red", "green", "blue")),
        pad("2", "cathode", (-1, -1), chips=("red",)),
        pad("3", "cathode", (1, -1), chips=("green",)),
        pad("4", "cathode", (1, 1), chips=("blue",)),
    )
    assert rgb.chips == ("red", "green", "blue")
    assert rgb.common == ("1",)


def test_a_pad_that_only_cools_needs_no_chip():
    cooled = terminals(pad("1", "anode", (-1, 0)), pad("2", "cathode", (1, 0)), pad("3", "none", (0, 0)))
    assert cooled.chips == ()


def test_tape_quadrants_must_share_a_side_of_the_pocket():
    # EIA-481-E: 1 upper left, 2 upper right, 3 lower left, 4 lower right, sprocket holes on top
    assert TapeOrientation(terminal="C", quadrants=(1, 3)).quadrants == (1, 3)
    with pytest.raises(ValidationError, match="do not share a side"):
        TapeOrientation(terminal="C", quadrants=(1, 4))


def test_evidence_is_unverified_until_told():
    assert not Evidence().verified
    assert PolarityMark(shape="dot", face="top", at_mm=(0, 0), terminal="C").evidence == Evidence()
