"""Machine code of kernels is dropped when any of their sources changes, and only then."""

import pytest

from paneglow.transport.kernels.fresh import STAMP, drop_stale_kernels


@pytest.fixture
def kernels(tmp_path):
    (tmp_path / "walk.py").write_text("a = 1\n")
    (tmp_path / "view.py").write_text("b = 1\n")
    (tmp_path / "__pycache__").mkdir()
    drop_stale_kernels(tmp_path)
    for name in ("walk.nbi", "walk.1.nbc", "walk.cpython-311.pyc"):
        (tmp_path / "__pycache__" / name).write_bytes(b"made")
    return tmp_path


def left(folder):
    return {path.name for path in (folder / "__pycache__").iterdir()}


def test_unchanged_sources_keep_what_was_compiled(kernels):
    assert not drop_stale_kernels(kernels)
    assert left(kernels) == {"walk.nbi", "walk.1.nbc", "walk.cpython-311.pyc", STAMP}


@pytest.mark.parametrize("name", ["walk.py", "view.py", "new.py"])
def test_a_change_in_any_source_drops_machine_code_of_all(kernels, name):
    (kernels / name).write_text("c = 2\n")
    assert drop_stale_kernels(kernels)
    assert left(kernels) == {"walk.cpython-311.pyc", STAMP}
    assert not drop_stale_kernels(kernels)


def test_a_folder_that_cannot_hold_a_cache_is_left_alone(tmp_path):
    (tmp_path / "walk.py").write_text("a = 1\n")
    (tmp_path / "__pycache__").write_text("a file in the way")
    assert not drop_stale_kernels(tmp_path)
