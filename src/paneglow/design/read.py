"""design.toml to a Design."""

from pathlib import Path

from paneglow.design.consistency import consistency_problems
from paneglow.design.records import Design
from paneglow.design.toml import parse_record, parse_toml
from paneglow.errors import DesignError

DESIGN_FILE = "design.toml"


def read_design(path: Path | str) -> Design:
    """Read one design.

    Parameters
    ----------
    path : Path or str
        A design.toml (any name) or the folder that holds it.

    Returns
    -------
    Design
        File names inside it stay relative to the folder of the design.

    Raises
    ------
    DesignError
        If the file is missing or not TOML, or anything in it cannot be; all problems are reported, one line each.
    """
    file = design_file(path)
    data = parse_toml(file, error=DesignError)
    design, problems = parse_record(Design, data)
    problems += consistency_problems(data)
    if problems or design is None:
        raise DesignError("\n".join(f"{file}: {problem}" for problem in problems))
    return design


def design_file(path: Path | str) -> Path:
    """The design file itself, where a folder may have been named instead."""
    given = Path(path)
    return given / DESIGN_FILE if given.is_dir() else given
