"""Files of a report are whole or not there; nothing else in the folder is touched."""

from pathlib import Path

import pytest

from paneglow.errors import OutputError
from paneglow.report import write_report
from paneglow.results import build_results, to_json
from sample_evaluation import make_evaluation


def listing(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def written(out: Path) -> None:
    evaluation = make_evaluation()
    write_report(evaluation, results=build_results(evaluation), out=out)


def test_a_report_is_a_page_a_record_and_four_pictures(tmp_path):
    evaluation = make_evaluation()
    (tmp_path / "mine.txt").write_text("keep")
    results = build_results(evaluation)
    page = write_report(evaluation, results=results, out=tmp_path)
    expected = {"report.html", "report-short.html", "bench.html", "results.json", "mine.txt"} | {
        picture.file for picture in results.pictures
    }
    assert page == tmp_path / "report.html"
    assert set(listing(tmp_path)) == expected
    assert (tmp_path / "results.json").read_bytes() == to_json(results).encode()
    assert (tmp_path / "mine.txt").read_text() == "keep"


def test_the_same_evaluation_writes_the_same_bytes(tmp_path):
    written(tmp_path / "a")
    written(tmp_path / "b")
    assert listing(tmp_path / "a") == listing(tmp_path / "b")


def test_a_folder_that_cannot_be_made_is_one_clear_line(tmp_path):
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OutputError, match="--out") as caught:
        written(tmp_path / "taken")
    assert "\n" not in str(caught.value)
