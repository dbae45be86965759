"""The rules that find defects, in tables by what they see: the board, its solved circuit, its traced light, money."""

from types import ModuleType

from paneglow.judge.findings import (
    aim,
    bleed,
    certainty,
    circuit,
    colour,
    cost,
    evenness,
    fit,
    heat,
    lands,
    mechanics,
    parts,
    polarity,
    supply,
    windows,
    wiring,
)
from paneglow.judge.findings.fit import FITTING_KINDS
from paneglow.judge.findings.rule import (
    BoardContext,
    CircuitContext,
    ContextT,
    CostContext,
    LightContext,
    Rule,
    Threshold,
)

__all__ = [
    "BOARD_RULES",
    "CIRCUIT_RULES",
    "COST_RULES",
    "FITTING_KINDS",
    "LIGHT_RULES",
    "BoardContext",
    "CircuitContext",
    "CostContext",
    "LightContext",
    "Rule",
    "Threshold",
]

# In the order in which findings of one severity are told: what the light meets first, then how the LEDs are built
_FILES: tuple[ModuleType, ...] = (
    windows,
    aim,
    fit,
    polarity,
    wiring,
    parts,
    lands,
    mechanics,
    heat,
    supply,
    circuit,
    bleed,
    evenness,
    colour,
    certainty,
    cost,
)


def _rules_that_see(context: type[ContextT]) -> tuple[Rule[ContextT], ...]:
    """Marked rules of all files that look at one kind of context, in the order in which they are written."""
    rules = (rule for file in _FILES for rule in vars(file).values() if isinstance(rule, Rule))
    return tuple(rule for rule in rules if rule.sees is context)


BOARD_RULES = _rules_that_see(BoardContext)
CIRCUIT_RULES = _rules_that_see(CircuitContext)
LIGHT_RULES = _rules_that_see(LightContext)
COST_RULES = _rules_that_see(CostContext)
