"""The compiler can keep its code somewhere, whatever the account may write."""

from pathlib import Path

import numba
import pytest

from paneglow.errors import PaneglowNote
from paneglow.transport import compiled


@pytest.fixture
def folders(tmp_path, monkeypatch):
    """The two usual folders, with a file in the way of each, and no other named."""
    (tmp_path / "file").write_text("in the way")
    found = (tmp_path / "file" / "package", tmp_path / "file" / "home")
    monkeypatch.setattr(compiled, "_usual_folders", lambda: found)
    monkeypatch.setattr(numba.config, "CACHE_DIR", "")
    return found


def test_where_neither_package_nor_home_can_be_written_code_is_kept_for_the_run_and_that_is_said(folders):
    with pytest.warns(PaneglowNote, match="compiled anew in every run; name a folder of yours in NUMBA_CACHE_DIR"):
        compiled.prepare_compiler.__wrapped__()
    assert Path(numba.config.CACHE_DIR).is_dir()
    assert not any(folder.exists() for folder in folders)


def test_a_folder_that_can_be_written_is_left_to_the_compiler(folders, tmp_path, monkeypatch):
    monkeypatch.setattr(compiled, "_usual_folders", lambda: (folders[0], tmp_path / "home"))
    compiled.prepare_compiler.__wrapped__()
    assert not numba.config.CACHE_DIR
