"""The fingerprint changes with every file a design rests on, and with nothing else."""

from pathlib import Path

import pytest

from paneglow.results import hash_design_files
from sample_board import make_design


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "design.toml").write_text("name = 'a'")
    (tmp_path / "cost.toml").write_text('currency = "EUR"')
    (tmp_path / "placement.csv").write_text("ref,x,y")
    (tmp_path / "fab").mkdir()
    (tmp_path / "fab" / "top.gbr").write_text("G04*")
    (tmp_path / "fab" / "bottom.gbr").write_text("M02*")
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "own.toml").write_text("")
    return tmp_path


def fingerprint(folder: Path) -> str:
    return hash_design_files(folder / "design.toml", design=make_design())


@pytest.mark.parametrize("name", ["design.toml", "cost.toml", "placement.csv", "fab/top.gbr", "parts/own.toml"])
def test_one_byte_more_in_any_file_changes_it(folder, name):
    before = fingerprint(folder)
    (folder / name).write_text((folder / name).read_text() + " ")
    assert fingerprint(folder) != before


def test_bytes_that_move_from_one_file_to_the_next_change_it(folder):
    before = fingerprint(folder)
    (folder / "fab" / "bottom.gbr").write_text("M02*G04*")
    (folder / "fab" / "top.gbr").write_text("")
    assert fingerprint(folder) != before


def test_a_report_in_the_same_folder_does_not_change_it(folder):
    before = fingerprint(folder)
    (folder / "fab" / "report.html").write_text("<html>")
    (folder / "notes.txt").write_text("mine")
    assert fingerprint(folder) == before


def test_a_zip_is_hashed_as_one_file(folder):
    design = make_design()
    design = design.model_copy(update={"board": design.board.model_copy(update={"fabrication": "fab.zip"})})
    (folder / "fab.zip").write_bytes(b"PK one")
    before = hash_design_files(folder / "design.toml", design=design)
    (folder / "fab.zip").write_bytes(b"PK two")
    assert hash_design_files(folder / "design.toml", design=design) != before
