"""Files are whole or not there; nothing else in the folder is touched."""

import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from paneglow import writing
from paneglow.errors import OutputError
from paneglow.writing import write_together


def listing(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.parametrize("stop", [KeyboardInterrupt, OSError("disk full")])
def test_a_stop_while_writing_leaves_the_old_files_whole_and_nothing_new(tmp_path, monkeypatch, stop):
    write_together(tmp_path, contents={"a.txt": b"old a", "b.txt": b"old b"})
    written = writing._write_aside
    calls = []

    def stopping(part, content):
        calls.append(content)
        if len(calls) == 2:
            raise stop
        written(part, content)

    monkeypatch.setattr(writing, "_write_aside", stopping)
    with pytest.raises((KeyboardInterrupt, OutputError)):
        write_together(tmp_path, contents={"a.txt": b"new a", "b.txt": b"new b"})
    assert listing(tmp_path) == {"a.txt": b"old a", "b.txt": b"old b"}


def test_a_stop_in_the_midst_of_one_file_leaves_no_rest(tmp_path, monkeypatch):
    def stopping(part, content):
        part.write_bytes(content[:2])
        raise KeyboardInterrupt

    monkeypatch.setattr(writing, "_write_aside", stopping)
    for contents in ({"a.txt": b"new a"}, {"a.txt": b"new a", "b.txt": b"new b"}):
        with pytest.raises(KeyboardInterrupt):
            write_together(tmp_path, contents=contents)
        assert listing(tmp_path) == {}


KEEP_WRITING = """
import sys
from pathlib import Path

from paneglow.writing import write_together

folder, turn = Path(sys.argv[1]), 0
while True:
    turn += 1
    content = b"%d" % turn + b" " * 100_000
    write_together(folder, contents={f"{name}.txt": content for name in "abcdefgh"})
    print(turn, flush=True)
"""


def test_a_kill_leaves_all_old_files_or_all_new_ones_and_no_part_of_any(tmp_path):
    rng = random.Random(5)
    for number in range(25):
        folder = tmp_path / str(number)
        writer = subprocess.Popen([sys.executable, "-c", KEEP_WRITING, str(folder)], stdout=subprocess.PIPE)
        with writer:
            writer.stdout.readline()  # the first set is there
            time.sleep(rng.uniform(0.0, 0.08))
            writer.kill()
        deadline = time.monotonic() + 20.0
        while left := {path.name for path in folder.iterdir()} - {f"{name}.txt" for name in "abcdefgh"}:
            assert time.monotonic() < deadline, f"left behind: {sorted(left)}"
            time.sleep(0.01)
        assert len({content.strip() for content in listing(folder).values()}) == 1


KEEP_WRITING_ONE = KEEP_WRITING.replace("abcdefgh", "a").replace("100_000", "20_000_000")


def test_a_kill_while_one_file_is_written_leaves_it_whole_and_the_next_run_clears_the_rest(tmp_path):
    rng, left = random.Random(7), 0
    for number in range(12):
        folder = tmp_path / str(number)
        writer = subprocess.Popen([sys.executable, "-c", KEEP_WRITING_ONE, str(folder)], stdout=subprocess.PIPE)
        with writer:
            first = int(writer.stdout.readline())
            time.sleep(rng.uniform(0.0, 0.1))
            writer.kill()
        content = (folder / "a.txt").read_bytes()
        assert int(content.strip()) >= first
        assert len(content) > 20_000_000
        left += len(listing(folder)) - 1
        write_together(folder, contents={"b.txt": b"b"})
        assert sorted(listing(folder)) == ["a.txt", "b.txt"]
    assert left > 0  # else no kill came within a write, and nothing was tested


def test_what_a_running_process_writes_aside_stays(tmp_path):
    part = writing.part_in(tmp_path)
    part.write_bytes(b"half")
    write_together(tmp_path, contents={"a.txt": b"a"})
    assert part.exists()


def test_where_no_process_can_be_started_the_files_are_put_in_place_all_the_same(tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "executable", str(tmp_path / "none"))
    write_together(tmp_path, contents={"a.txt": b"a", "b.txt": b"b"})
    assert listing(tmp_path) == {"a.txt": b"a", "b.txt": b"b"}


def test_a_name_taken_by_a_folder_is_told_and_leaves_no_part(tmp_path):
    (tmp_path / "b.txt").mkdir()
    with pytest.raises(OutputError, match="directory"):
        write_together(tmp_path, contents={"a.txt": b"a", "b.txt": b"b"})
    assert [path.name for path in tmp_path.iterdir() if path.name.endswith(".part")] == []
