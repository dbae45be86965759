"""Tables of the CIE: the same from the library and from what is kept, and only from a whole file."""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from paneglow.physics.tables import cie_tables


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A cache folder of the test's own."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    cie_tables.cache_clear()
    yield tmp_path / "paneglow"
    cie_tables.cache_clear()


def read_anew():
    cie_tables.cache_clear()
    return cie_tables()


def test_what_is_kept_is_what_the_library_has(folder: Path) -> None:
    import colour

    first, again = read_anew(), read_anew()
    assert len(list(folder.glob("cie-tables-*.npz"))) == 1
    for one, other in zip(first, again, strict=True):
        np.testing.assert_array_equal(one, other)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    np.testing.assert_array_equal(again.observer_xyz, observer.values)
    assert again.daylight[again.daylight_nm == 450.0] == colour.SDS_ILLUMINANTS["D65"][450.0]


@pytest.mark.parametrize("damage", ["cut", "empty", "text", "other numbers", "another shape"])
def test_what_is_no_such_table_is_read_from_the_library_again(folder: Path, damage: str) -> None:
    right = read_anew()
    (kept,) = folder.glob("cie-tables-*.npz")
    if damage == "cut":
        kept.write_bytes(kept.read_bytes()[:5000])
    elif damage == "empty":
        kept.write_bytes(b"")
    elif damage == "text":
        kept.write_bytes(b"nothing of the kind")
    else:
        fields = right._asdict()
        fields |= {"observer_xyz": 2.0 * right.observer_xyz} if damage == "other numbers" else {"daylight": np.ones(3)}
        np.savez(kept, **fields)
    again = read_anew()
    np.testing.assert_array_equal(again.observer_xyz, right.observer_xyz)
    np.testing.assert_array_equal(again.daylight, right.daylight)


def test_an_account_that_can_keep_nothing_has_its_tables_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a file").write_text("in the way")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "a file"))
    assert read_anew().are_whole()
    cie_tables.cache_clear()


def test_colours_of_a_second_run_need_no_library(folder: Path) -> None:
    read_anew()
    program = (
        "import sys; from paneglow.physics import observer_xyz; observer_xyz([555.0]); print('colour' in sys.modules)"
    )
    shown = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout
    assert shown.strip() == "False"
    assert folder.is_dir()
