"""What drives the LEDs, in a few lines for the terminal."""

from rich.console import Console
from rich.text import Text

from paneglow.report import life_sentence, match_sentence, supply_sentence
from paneglow.results import DriveResults


def print_drive(console: Console, drive: DriveResults) -> None:
    """Print where currents come from, how long the supply lasts and what matching reached."""
    sentences = [supply_sentence(drive), life_sentence(drive)]
    if drive.match is not None:
        sentences += [match_sentence(drive.match), *drive.match.reasons]
    for sentence in sentences:
        if sentence:
            console.print(Text(_plain(sentence)))
    console.print()


def _plain(text: str) -> str:
    """The text with signs that every terminal shows."""
    return text.replace("m²", "m2")
