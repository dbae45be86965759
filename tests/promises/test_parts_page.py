"""docs/parts.md: what it shows can be read, and its numbers are those of the code."""

import re
from pathlib import Path

import pytest

from paneglow.assembly import stability_of
from paneglow.catalog import read_catalog

PAGE = (Path(__file__).parents[2] / "docs" / "parts.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```toml\n(.*?)```", PAGE, flags=re.DOTALL)
ROWS = re.findall(r"\| `(tv-\d+)` \| (\d+) % \((\d+) to (\d+)\) \| (\w+) \| (\d+) deg \|", PAGE)


def _single():
    """Parts of one die: those of several have no package of their own on the page."""
    return {code: part for code, part in read_catalog().parts.items() if not part.dice}


def read_block(folder, text):
    (folder / "own.toml").write_text(text, encoding="utf-8")
    return read_catalog(user_parts=folder)


def test_the_part_on_the_page_is_one(tmp_path):
    part = read_block(tmp_path, f'[[part]]\ncode = "own"\nlike = "tv-1206-amber"\n{BLOCKS[0]}').parts["own"]
    assert part.mark_verified
    assert part.terminals.wrap
    assert part.tape.quadrants == (1, 2)


def test_the_laminate_and_the_film_on_the_page_are_ones(tmp_path):
    catalog = read_block(tmp_path, BLOCKS[1] + BLOCKS[2])
    assert not catalog.laminates["lot-october"].assumed
    assert catalog.films["tracing-paper"].kind == "diffuser"


def test_the_timing_on_the_page_is_one(tmp_path):
    (timing,) = read_block(tmp_path, BLOCKS[3]).timings
    assert timing.minutes == 21.5


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0])
def test_the_page_tells_the_computed_balance(row):
    package, value, low, high, stand, tilt = row
    stability = stability_of(read_catalog().parts[f"{package}-red"])
    held = stability.unevenness_held_frac
    # Whole percent on the page; 12.488 stands as 12, 0.9 as 1
    assert (int(value), int(low), int(high)) == tuple(round(100 * end) for end in (held.value, held.low, held.high))
    assert (stand, int(tilt)) == (stability.stand, round(stability.tilt_most_deg))


def test_the_page_has_a_row_for_every_chip_package():
    chips = {code.rsplit("-", 1)[0] for code, part in _single().items() if part.kind == "chip"}
    assert {row[0] for row in ROWS} == chips
