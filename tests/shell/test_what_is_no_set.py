"""Whatever a person gives in place of the fabrication files of one board, one line says what it is and what to give."""

import zipfile
from pathlib import Path

import pytest
from typer.testing import CliRunner

from paneglow.cli import app
from tiny_board import FILES

PICTURE = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00" + bytes(range(256))
EXPORT = "export the board's Gerber files (copper, mask, outline) and drill files"
MOON = {name: text + "\n" for name, text in FILES.items()}  # another board: not one byte of it needs to differ in shape


def packed(path: Path, members: dict[str, str | bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return path


def refusal(given: Path, *, command: str = "start") -> str:
    shown = CliRunner().invoke(app, [command, str(given)])
    assert shown.exit_code == 2, shown.output
    (line,) = shown.output.splitlines()
    assert line.startswith("paneglow: ")
    return line


@pytest.mark.parametrize("command", ["start", "light", "check", "windows"])
@pytest.mark.parametrize(
    ("members", "words"),
    [
        ({"IMG_1.JPG": PICTURE, "IMG_2.jpeg": PICTURE}, "only pictures (IMG_1.JPG, IMG_2.jpeg)"),
        ({"quote.pdf": b"%PDF-1.4\n", "board.step": "ISO-10303-21;"}, "only drawings, pages or models"),
        ({"harbour.project": "(board)", "harbour.sheet": "<sheet/>"}, "a board editor's own files are not read"),
        ({"holes.drl": FILES["holes.drl"], "read me.txt": "hello"}, "holds drill files, but no Gerber file"),
    ],
    ids=["photographs", "drawings", "project files", "drill files alone"],
)
def test_a_zip_without_gerber_files_says_what_it_holds_and_what_to_export(tmp_path, members, words, command):
    line = refusal(packed(tmp_path / "given.zip", members), command=command)
    assert words in line
    assert EXPORT in line


def test_a_zip_in_a_zip_and_a_folder_around_a_zip_name_the_inner_one(tmp_path):
    (tmp_path / "folder").mkdir()
    inner = packed(tmp_path / "folder" / "fab.zip", FILES)
    outer = packed(tmp_path / "outer.zip", {"fab.zip": inner.read_bytes()})
    assert "fab.zip; unpack the outer one and give the inner one" in refusal(outer)
    assert "an archive: fab.zip; give that" in refusal(tmp_path / "folder")


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("harbour.project", "<?xml version='1.0'?><board/>", "a board editor's own file is not read"),
        ("harbour.bin", b"\x00\x01\x02" * 99, "a board editor's own file is not read"),
        ("harbour.jpg", PICTURE, EXPORT),
        ("top.gbr", FILES["top.gbr"], "is one file of a fabrication set; give the folder"),
        ("holes.drl", FILES["holes.drl"], "is one file of a fabrication set; give the folder"),
        ("harbour.7z", b"7z\xbc\xaf\x27\x1c\x00\x04", "an archive that is not read (.7z); unpack it"),
        ("harbour.zip", b"PK\x03\x04 cut off", "is not a readable zip; pack it again"),
    ],
)
def test_one_file_that_is_no_set_is_told_apart_from_a_design(tmp_path, name, content, words):
    given = tmp_path / name
    given.write_bytes(content if isinstance(content, bytes) else content.encode())
    for command in ("start", "light", "check", "windows"):
        assert words in refusal(given, command=command)


@pytest.mark.parametrize(
    ("members", "words"),
    [
        (
            {f"sun/{name}": text for name, text in FILES.items()} | {f"moon/{name}": t for name, t in MOON.items()},
            "in the folders moon, sun; give one of them",
        ),
        (
            {f"sun-{name}": text for name, text in FILES.items()} | {f"moon_{name}": t for name, t in MOON.items()},
            "put those of each board into a folder or .zip of its own",
        ),
    ],
    ids=["a folder each", "a name each"],
)
def test_files_of_two_boards_are_not_taken_for_one_with_layers_in_doubt(tmp_path, members, words):
    line = refusal(packed(tmp_path / "both.zip", members))
    assert "holds the files of 2 boards" in line
    assert words in line


def test_a_layer_in_doubt_is_still_asked_for(tmp_path):
    line = refusal(packed(tmp_path / "one.zip", FILES | {"second-top.gbr": FILES["top.gbr"] + "\n"}))
    assert "2 files could be copper_front" in line
