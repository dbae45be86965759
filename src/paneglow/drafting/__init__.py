"""A first design from fabrication files: which rows are LEDs, what each lights, and what had to be assumed."""

from paneglow.drafting.draft import Draft, Group, Question, assumptions_of, check_answer, draft_design, questions_of
from paneglow.drafting.find import LEAST_PROPOSED_MM2, FoundLed, count_seated, find_leds, is_led, propose_leds
from paneglow.drafting.text import to_design_toml

__all__ = [
    "LEAST_PROPOSED_MM2",
    "Draft",
    "FoundLed",
    "Group",
    "Question",
    "assumptions_of",
    "check_answer",
    "count_seated",
    "draft_design",
    "find_leds",
    "is_led",
    "propose_leds",
    "questions_of",
    "to_design_toml",
]
