"""Files of a report are whole or not there; nothing else in the folder is touched."""

from pathlib import Path

import pytest

from paneglow.errors import OutputError
from paneglow.report import files, write_report, write_whole
from paneglow.results import build_results, to_json
from sample_evaluation import make_evaluation


def listing(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_report_is_a_page_a_record_and_four_pictures(tmp_path):
    evaluation = make_evaluation()
    (tmp_path / "mine.txt").write_text("keep")
    page = write_report(evaluation, out=tmp_path)
    results = build_results(evaluation)
    expected = {"report.html", "results.json", "mine.txt"} | {picture.file for picture in results.pictures}
    assert page == tmp_path / "report.html"
    assert set(listing(tmp_path)) == expected
    assert (tmp_path / "results.json").read_bytes() == to_json(results).encode()
    assert (tmp_path / "mine.txt").read_text() == "keep"


def test_the_same_evaluation_writes_the_same_bytes(tmp_path):
    write_report(make_evaluation(), out=tmp_path / "a")
    write_report(make_evaluation(), out=tmp_path / "b")
    assert listing(tmp_path / "a") == listing(tmp_path / "b")


@pytest.mark.parametrize("stop", [KeyboardInterrupt, OSError("disk full")])
def test_a_stop_while_writing_leaves_the_old_files_whole_and_nothing_new(tmp_path, monkeypatch, stop):
    write_whole(tmp_path, contents={"a.txt": b"old a", "b.txt": b"old b"})
    written = files._write_aside
    calls = []

    def stopping(folder, content):
        calls.append(content)
        if len(calls) == 2:
            raise stop
        return written(folder, content)

    monkeypatch.setattr(files, "_write_aside", stopping)
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

    monkeypatch.setattr(files.os, "fdopen", Stopping)
    with pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path, contents={"a.txt": b"new a"})
    assert listing(tmp_path) == {}


def test_a_folder_that_cannot_be_made_is_one_clear_line(tmp_path):
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OutputError, match="--out") as caught:
        write_report(make_evaluation(), out=tmp_path / "taken")
    assert "\n" not in str(caught.value)
