"""Files are whole or not there; nothing else in the folder is touched."""

from pathlib import Path

import pytest

from paneglow import writing
from paneglow.errors import OutputError
from paneglow.writing import write_whole


def listing(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.parametrize("stop", [KeyboardInterrupt, OSError("disk full")])
def test_a_stop_while_writing_leaves_the_old_files_whole_and_nothing_new(tmp_path, monkeypatch, stop):
    write_whole(tmp_path, contents={"a.txt": b"old a", "b.txt": b"old b"})
    written = writing._write_aside
    calls = []

    def stopping(folder, content):
        calls.append(content)
        if len(calls) == 2:
            raise stop
        return written(folder, content)

    monkeypatch.setattr(writing, "_write_aside", stopping)
    with pytest.raises((KeyboardInterrupt, OutputError)):
        write_whole(tmp_path, contents={"a.txt": b"new a", "b.txt": b"new b"})
    assert listing(tmp_path) == {"a.txt": b"old a", "b.txt": b"old b"}


def test_a_stop_in_the_midst_of_one_file_leaves_no_rest(tmp_path, monkeypatch):
    class Stopping:
        def __init__(self, handle, _mode):
            self.file = open(handle, "wb")  # noqa: SIM115

        def __enter__(self):
            return self

        def __exit__(self, *_):
            self.file.close()

        def write(self, content):
            self.file.write(content[:2])
            raise KeyboardInterrupt

    monkeypatch.setattr(writing.os, "fdopen", Stopping)
    with pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path, contents={"a.txt": b"new a"})
    assert listing(tmp_path) == {}
