"""The error tree: every error a person meets is one of these, and one clear line.

PaneglowError
├── RangeError            a number or shape outside what a function allows (also a ValueError)
├── DesignError           design.toml says something that cannot be
├── CatalogError          a part, laminate or coating record is wrong or missing
├── FabricationError      a fabrication file or set cannot be read as one board
│   ├── GerberError       one statement of one Gerber file
│   ├── DrillError        one statement of one drill file
│   └── PlacementError    one row of one placement file
├── TransportError        light could not be traced as asked
├── MeasureError          a photograph or vote cannot be measured
├── OutputError           a result cannot be written where it was asked for
└── MissingExtraError     an optional library is not installed

A message says what is wrong, where, what is allowed and what to do. A design that misses its goals is a
verdict, never an error.
"""

from pathlib import Path


class PaneglowError(Exception):
    """Root of all errors of this package."""


class RangeError(PaneglowError, ValueError):
    """A number or an array shape is outside the stated range."""


class DesignError(PaneglowError):
    """The design file asks for something that cannot be."""


class CatalogError(PaneglowError):
    """A catalogue record is missing, misspelt or contradicts itself."""


class FabricationError(PaneglowError):
    """A fabrication set cannot be read as one board.

    Parameters
    ----------
    message : str
        What is wrong, what is allowed, what to do; no trailing full stop needed.
    path : Path or str, optional
        The file.
    line : int, optional
        Line number in that file, from 1.
    """

    def __init__(self, message: str, *, path: Path | str | None = None, line: int | None = None) -> None:
        self.path = path
        self.line = line
        place = "" if path is None else f"{path}: " if line is None else f"{path}, line {line}: "
        super().__init__(f"{place}{message}")


class GerberError(FabricationError):
    """A Gerber file has a statement that cannot be drawn."""


class DrillError(FabricationError):
    """A drill file has a statement that cannot be understood."""


class PlacementError(FabricationError):
    """A placement file has a row that cannot be understood."""


class TransportError(PaneglowError):
    """Light could not be traced as asked."""


class MeasureError(PaneglowError):
    """A photograph or a vote cannot be measured."""


class OutputError(PaneglowError):
    """A result cannot be written where it was asked for."""


class MissingExtraError(PaneglowError):
    """An optional library is not installed; the message holds the install line."""
