"""What commands that write a file print with --json: which files, and what is to be known of them."""

from pydantic import Field

from paneglow.assembly import RowCheck
from paneglow.units import Record


class WrittenResults(Record):
    """Files that a command wrote; what `paneglow demo` and `paneglow parts new`, `import`, `export` print."""

    files: tuple[str, ...]  # Paths, as the call named their folder
    parts: tuple[str, ...] = ()  # Order codes in them
    unverified: tuple[str, ...] = ()  # Those of them whose polarity mark nothing stands behind; they block release


class PlacementResults(Record):
    """A placement file that was written; exactly what `paneglow placement --json` prints."""

    file: str  # Its path
    leds: tuple[RowCheck, ...]  # Every LED, put on the board again from the file
    unverified: tuple[str, ...]  # Order codes whose polarity mark nothing stands behind; they block release
    notes: tuple[str, ...]  # What its numbers mean


class StartResults(Record):
    """A design that was drafted; exactly what `paneglow start --json` prints."""

    file: str  # Path of the design
    leds: int = Field(description="LEDs found or proposed.")
    windows: int = Field(description="Windows found.")
    assumed: tuple[str, ...]  # Questions that nobody answered, with what was assumed
    notes: tuple[str, ...]  # What was decided while reading, and why
    findings: int = Field(description="Defects found by its check.")
    errors: int = Field(description="Those of them that are errors.")
