"""The files of a set come from a folder or a zip alike, and a hostile zip is refused before it costs anything."""

import stat
import struct
import zipfile
from pathlib import Path

import pytest

from paneglow.errors import FabricationError
from paneglow.fab import archive
from paneglow.fab.archive import SetFile, read_files, to_text
from tiny_sets import write_folder, write_zip

TWO = {"a b.gbr": "first", ".gtl": "second"}


def names(files: tuple[SetFile, ...]) -> list[str]:
    return [file.name for file in files]


def patched_directory(path: Path, *, offset: int, value: bytes) -> Path:
    """Zip with the first central directory record changed at an offset of its layout (APPNOTE 6.3.9, 4.3.12)."""
    content = bytearray(path.read_bytes())
    start = content.index(b"PK\x01\x02") + offset
    content[start : start + len(value)] = value
    path.write_bytes(bytes(content))
    return path


def test_folder_and_zip_give_the_same_files(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "fab", TWO)
    packed = write_zip(tmp_path / "fab.zip", TWO)
    assert read_files(folder) == read_files(packed)
    assert names(read_files(folder)) == [".gtl", "a b.gbr"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["fab", "fab.zip"]  # nothing was unpacked


def test_order_in_the_zip_does_not_matter(tmp_path: Path) -> None:
    forward = write_zip(tmp_path / "1.zip", {"a": "1", "b": "2", "c": "3"})
    backward = write_zip(tmp_path / "2.zip", {"c": "3", "b": "2", "a": "1"})
    assert read_files(forward) == read_files(backward)


def test_single_top_folders_are_left_out_of_names(tmp_path: Path) -> None:
    packed = write_zip(tmp_path / "deep.zip", {"job/fab/top.gbr": "1", "job/fab/drill/holes.drl": "2"})
    assert names(read_files(packed)) == ["drill/holes.drl", "top.gbr"]


def test_system_litter_is_skipped(tmp_path: Path) -> None:
    litter = {"__MACOSX/._top.gbr": "x", "._top.gbr": "x", ".DS_Store": "x", "Thumbs.db": "x", ".git/config": "x"}
    assert names(read_files(write_zip(tmp_path / "a.zip", {"top.gbr": "1", **litter}))) == ["top.gbr"]
    assert names(read_files(write_folder(tmp_path / "a", {"top.gbr": "1", **litter}))) == ["top.gbr"]


def test_spreadsheet_beside_the_layers_is_no_nested_archive(tmp_path: Path) -> None:
    packed = write_zip(tmp_path / "a.zip", {"top.gbr": "1", "parts.xlsx": b"PK\x03\x04rest"})
    assert names(read_files(packed)) == ["parts.xlsx", "top.gbr"]


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("../up.gbr", "climbs out"),
        ("fab/../../up.gbr", "climbs out"),
        ("fab\\..\\..\\up.gbr", "climbs out"),
        ("/etc/up.gbr", "absolute path"),
        ("C:\\up.gbr", "absolute path"),
        ("inner.zip", "another archive"),
        ("inner.7z", "another archive"),
    ],
)
def test_path_that_leaves_the_zip_or_nests_is_refused(tmp_path: Path, name: str, message: str) -> None:
    with pytest.raises(FabricationError, match=message):
        read_files(write_zip(tmp_path / "bad.zip", {"top.gbr": "1", name: "2"}))


def test_archive_under_another_name_is_refused(tmp_path: Path) -> None:
    inner = write_zip(tmp_path / "inner.zip", {"a": "1"}).read_bytes()
    with pytest.raises(FabricationError, match="another archive, top.gbr"):
        read_files(write_zip(tmp_path / "bad.zip", {"top.gbr": inner}))


def test_bomb_is_refused_by_its_ratio(tmp_path: Path) -> None:
    bomb = write_zip(tmp_path / "bomb.zip", {"top.gbr": b"0" * 8_000_000})
    assert bomb.stat().st_size < 20_000
    with pytest.raises(FabricationError, match=r"top.gbr unpacks to \d+ times its packed size; allowed is at most 200"):
        read_files(bomb)


def test_small_file_may_pack_tightly(tmp_path: Path) -> None:
    assert len(read_files(write_zip(tmp_path / "a.zip", {"blank.gbr": b"0" * 1_000_000}))) == 1


def test_single_file_over_the_limit_is_refused_by_the_table_of_contents(tmp_path: Path) -> None:
    packed = write_zip(tmp_path / "large.zip", {"top.gbr": "1"})
    size = archive.MAX_FILE_BYTES + 2**20
    patched_directory(packed, offset=20, value=struct.pack("<LL", size, size))
    with pytest.raises(FabricationError, match="top.gbr has 65 MiB; allowed is at most 64 MiB"):
        read_files(packed)


def test_total_over_the_limit_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive, "MAX_TOTAL_BYTES", 2**20)
    half = {"a.gbr": b"a" * 600_000, "b.gbr": b"b" * 600_000}
    for path in (write_zip(tmp_path / "a.zip", half), write_folder(tmp_path / "a", half)):
        with pytest.raises(FabricationError, match="unpacks to more than 1 MiB"):
            read_files(path)


def test_too_many_files_are_refused(tmp_path: Path) -> None:
    many = {f"{number}.gbr": "" for number in range(archive.MAX_FILES + 1)}
    for path in (write_zip(tmp_path / "a.zip", many), write_folder(tmp_path / "a", many)):
        with pytest.raises(FabricationError, match="501 files or more; allowed are at most 500"):
            read_files(path)


def test_size_that_lies_is_refused(tmp_path: Path) -> None:
    packed = write_zip(tmp_path / "lie.zip", {"top.gbr": "a" * 5000})
    patched_directory(packed, offset=24, value=struct.pack("<L", 100))
    with pytest.raises(FabricationError, match="lie.zip"):
        read_files(packed)


def test_encrypted_file_is_refused(tmp_path: Path) -> None:
    packed = write_zip(tmp_path / "secret.zip", {"top.gbr": "1"})
    patched_directory(packed, offset=8, value=b"\x01\x00")
    with pytest.raises(FabricationError, match="encrypted; pack it without a password"):
        read_files(packed)


def test_damaged_file_is_refused(tmp_path: Path) -> None:
    packed = write_zip(tmp_path / "torn.zip", {"top.gbr": "G04 some text*" * 500})
    content = bytearray(packed.read_bytes())
    content[60:70] = b"\xff" * 10
    packed.write_bytes(bytes(content))
    with pytest.raises(FabricationError, match="not a readable zip"):
        read_files(packed)


def test_packing_whose_output_cannot_be_bounded_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "odd.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_BZIP2) as packed:
        packed.writestr("top.gbr", "1")
    with pytest.raises(FabricationError, match="allowed is deflate"):
        read_files(path)


def test_link_is_refused(tmp_path: Path) -> None:
    link = zipfile.ZipInfo("top.gbr")
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    path = tmp_path / "link.zip"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr(link, "/etc/hostname")
    with pytest.raises(FabricationError, match="holds a link"):
        read_files(path)


@pytest.mark.filterwarnings("ignore:Duplicate name")  # the test makes one on purpose
def test_one_name_twice_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "twice.zip"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("top.gbr", "1")
        packed.writestr("top.gbr", "2")
    with pytest.raises(FabricationError, match="two files named top.gbr"):
        read_files(path)


def test_what_is_neither_folder_nor_zip_is_refused(tmp_path: Path) -> None:
    text = tmp_path / "board.gbr"
    text.write_text("M02*")
    with pytest.raises(FabricationError, match="not a readable zip"):
        read_files(text)
    with pytest.raises(FabricationError, match="no such folder or .zip file"):
        read_files(tmp_path / "missing")
    (tmp_path / "empty").mkdir()
    with pytest.raises(FabricationError, match="holds no files"):
        read_files(tmp_path / "empty")


def test_text_is_read_whatever_its_encoding() -> None:
    assert to_text("X1 µ".encode("utf-8-sig")) == "X1 µ"
    assert to_text("X1\tY2".encode("utf-16")) == "X1\tY2"
    assert to_text("X1 µ".encode("latin-1")) == "X1 µ"
    assert to_text(b"%PDF-1.4") is None
    assert to_text(b"\x00\x01\x02") is None
