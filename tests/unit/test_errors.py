"""What a message may hold: nothing that steers a terminal, and no more than a person reads."""

import pytest

from paneglow.errors import DesignError, GerberError, to_plain_text


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("lantern, 2 m\N{SUPERSCRIPT TWO}", "lantern, 2 m\N{SUPERSCRIPT TWO}"),
        ("\x1b[31mred", r"\x1b[31mred"),
        ("two\nlines", r"two\nlines"),
        ("a\u2028b\x85c", r"a\u2028b\x85c"),
        ("D1\u202e2D", r"D1\u202e2D"),
        ("isolated \u2067 run", r"isolated \u2067 run"),
        ("half \ud800", r"half \ud800"),
        ("a\N{ZERO WIDTH NON-JOINER}b", "a\N{ZERO WIDTH NON-JOINER}b"),  # part of how some languages are written
    ],
)
def test_what_does_not_show_is_written_out(text, shown):
    assert to_plain_text(text) == shown


def test_a_message_keeps_its_lines_and_steers_nothing():
    problem = GerberError("aperture \x1b]0;title\x07 is unknown\nsecond problem", path="top\u202e.gbr", line=3)
    assert str(problem) == "top\\u202e.gbr, line 3: aperture \\x1b]0;title\\x07 is unknown\nsecond problem"


def test_a_long_message_loses_its_middle_and_keeps_what_to_do():
    shown = str(DesignError(f"led {'x' * 70_000} is unknown; correct refs"))
    assert len(shown) < 700
    assert shown.startswith("led xxx")
    assert shown.endswith("is unknown; correct refs")
    assert "characters left out" in shown


def test_a_thousand_problems_are_counted():
    shown = str(DesignError("\n".join(f"problem {n}" for n in range(1000)))).split("\n")
    assert len(shown) == 26
    assert shown[-1] == "and 975 more like these"
