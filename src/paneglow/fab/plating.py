"""Plated or not: what a drill file says of itself, what its name says, what stands beside it."""

import re
from collections.abc import Sequence

from paneglow.fab.drill import Bore
from paneglow.fab.layers import LayerFile
from paneglow.fab.records import Hole

# Words of drill file names (common practice, no source)
_UNPLATED_NAME = re.compile(r"npth|non[-_ ]?plated|un[-_ ]?plated", re.IGNORECASE)
_PLATED_NAME = re.compile(r"pth|plated", re.IGNORECASE)
_TOLD = {"drill_plated": True, "drill_unplated": False}
_FUNCTIONS = {"plated": True, "nonplated": False}


def plated_by_file(file: LayerFile, *, function: str) -> bool | None:
    """Plating of a whole drill file by the design's word, its X2 function or its name; None where none says it."""
    if file.role in _TOLD:
        return _TOLD[file.role]
    stated = _FUNCTIONS.get(function.partition(",")[0].strip().lower())
    if stated is not None:
        return stated
    if _UNPLATED_NAME.search(file.name):
        return False
    return True if _PLATED_NAME.search(file.name) else None


def goes_through(function: str, *, copper_layers: int) -> bool:
    """Whether holes cross the whole board, by the layers an X2 drill function names: `Plated,1,2,PTH`."""
    layers = [int(part) for part in function.split(",")[1:3] if re.fullmatch(r"\s*\d{1,4}\s*", part, re.ASCII)]
    return len(layers) < 2 or (min(layers) <= 1 and max(layers) >= copper_layers)


def to_holes(bores: Sequence[Bore], *, by_file: bool | None, told: bool) -> tuple[Hole, ...]:
    """Convert bores to holes: each bore's own word first, then its file's, then plated.

    With `told` the design named the plating of the file, which then overrides every tool's own.
    """
    return tuple(
        Hole(
            start_mm=bore.start_mm,
            end_mm=bore.end_mm,
            diameter_mm=bore.diameter_mm,
            plated=_plated(bore, by_file=by_file, told=told),
        )
        for bore in bores
    )


def _plated(bore: Bore, *, by_file: bool | None, told: bool) -> bool:
    words = (by_file, bore.plated) if told else (bore.plated, by_file)
    return next((word for word in words if word is not None), True)
