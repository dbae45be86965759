"""cost.toml to a CostFile, gaps filled from the assumed ranges of the catalogue."""

import tomllib
from decimal import Decimal
from importlib import resources
from pathlib import Path
from typing import Any

from paneglow.cost.consistency import consistency_problems
from paneglow.cost.records import CostFile
from paneglow.design import parse_record, parse_toml
from paneglow.errors import DesignError

COST_FILE = "cost.toml"
KEYED = {"operation": "name", "quality": "way"}  # tables that are filled up one by one, and what tells them apart
WHOLE = ("assembly",)  # tables that are taken whole where the user has none


def cost_file(design_path: Path) -> Path:
    """Where the cost file of a design lies: cost.toml beside it."""
    return design_path.parent / COST_FILE


def read_costs(path: Path) -> CostFile:
    """Read one cost file.

    Parameters
    ----------
    path : Path
        A TOML file. Its numbers are taken as written, digit for digit.

    Returns
    -------
    CostFile
        Operations, yields and the fee scheme that it leaves out stand there with the assumed ranges of the catalogue.

    Raises
    ------
    DesignError
        Where the file is missing or anything in it cannot be; all problems are told, one line each.
    """
    data = parse_toml(path, error=DesignError, parse_float=Decimal)
    costs, problems = parse_record(CostFile, _filled(data))
    if costs is not None:
        problems = consistency_problems(costs)
    if problems or costs is None:
        raise DesignError("\n".join(f"{path}: {problem}" for problem in problems))
    return costs


def read_assumed() -> dict[str, Any]:
    """Plain data of the assumed ranges that the catalogue holds for what a user has not timed or asked yet."""
    text = resources.files("paneglow.catalog").joinpath("data", "fees.toml").read_text(encoding="utf-8")
    return tomllib.loads(text, parse_float=Decimal)


def _filled(data: dict[str, Any]) -> dict[str, Any]:
    """The user's tables, and assumed ones for what they leave open."""
    assumed = read_assumed()
    filled = dict(data)
    for table in WHOLE:
        filled.setdefault(table, assumed[table])
    for table, key in KEYED.items():
        own = data.get(table, [])
        if isinstance(own, list):
            taken = {row.get(key) for row in own if isinstance(row, dict)}
            filled[table] = [*own, *(row for row in assumed[table] if row[key] not in taken)]
    return filled
