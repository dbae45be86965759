"""What a rule about money sees."""

from dataclasses import dataclass
from datetime import date

from paneglow.cost import Answer, CostFile


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CostContext:
    """What a rule about money sees."""

    costs: CostFile
    answer: Answer
    good: int  # pieces of the run that is judged
    on: date  # day the ages are judged on
