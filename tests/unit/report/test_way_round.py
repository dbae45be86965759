"""The headline on which way round LEDs are counts no assumption as right, and says what is unknown."""

import pytest

from paneglow.assembly import RowCheck
from paneglow.report import to_way_round_text


def checks(*states):
    """Rows of state, whether it is proven, and order code."""
    return [
        RowCheck(ref=f"D{number}", part=code, state=state, proven=proven, rotation_deg=0.0, anode_mm=None)
        for number, (state, proven, code) in enumerate(states, start=1)
    ]


RIGHT, HOPED = ("correct", True, "chip-red"), ("correct", False, "chip-green")
UNKNOWN, TURNED = ("not told", True, "chip-red"), ("reversed", True, "chip-red")


@pytest.mark.parametrize(
    ("states", "words"),
    [
        ((RIGHT, RIGHT), "2 of 2 LEDs are the right way round, by rails of the design"),
        ((HOPED, HOPED), "2 of 2 LEDs only if the cathode is where it is assumed: 1 order code unproven"),
        (
            (RIGHT, HOPED),
            "1 of 2 LEDs are the right way round, by rails of the design; 1 more only if the cathode is where it is"
            " assumed: 1 order code unproven",
        ),
        ((UNKNOWN, UNKNOWN), "for 2 of 2 LEDs nothing tells which way round they must be"),
        ((RIGHT, TURNED), "1 of 2 LEDs are the right way round, by rails of the design; 1 are not"),
        (
            (TURNED, UNKNOWN),
            "0 of 2 LEDs are the right way round, by rails of the design; for 1 of 2 LEDs nothing tells which way round"
            " they must be; 1 are not",
        ),
    ],
)
def test_the_headline_says_what_is_known_and_what_is_not(states, words):
    assert to_way_round_text(checks(*states), basis="rails of the design") == words
