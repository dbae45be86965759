"""The chain from files to answers: one readable function per command."""

from paneglow.pipeline.check import Checked, check_design
from paneglow.pipeline.cost import cost_design, write_starter_costs
from paneglow.pipeline.inputs import is_set
from paneglow.pipeline.light import evaluate
from paneglow.pipeline.parts import list_choices
from paneglow.pipeline.placement import place
from paneglow.pipeline.start import begin, check_free, name_of_set, write_start
from paneglow.pipeline.windows import survey

__all__ = [
    "Checked",
    "begin",
    "check_design",
    "check_free",
    "cost_design",
    "evaluate",
    "is_set",
    "list_choices",
    "name_of_set",
    "place",
    "survey",
    "write_start",
    "write_starter_costs",
]
