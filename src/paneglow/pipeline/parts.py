"""What there is to choose from: the starting catalogue, and what lies beside a design."""

from pathlib import Path

from paneglow.catalog import Colour, read_catalog
from paneglow.cost import cost_file, read_costs
from paneglow.design import Mounting
from paneglow.results import ChoiceKind, Choices, build_choices


def list_choices(
    folder: Path, *, kind: ChoiceKind, colour: Colour | None = None, size: str = "", style: Mounting | None = None
) -> Choices:
    """What there is of one kind, with own parts and prices that lie beside a design.

    Parameters
    ----------
    folder : Path
        Folder of a design, or its file; neither a design nor parts nor a cost file need be there.
    kind, colour, size, style
        See `build_choices`.

    Raises
    ------
    PaneglowError
        Where a file beside the design is wrong, or nothing is left.
    """
    beside = folder.parent if folder.suffix == ".toml" else folder
    prices = cost_file(beside / "design.toml")
    return build_choices(
        read_catalog(user_parts=beside / "parts"),
        kind=kind,
        colour=colour,
        size=size,
        style=style,
        costs=read_costs(prices) if prices.is_file() else None,
    )
