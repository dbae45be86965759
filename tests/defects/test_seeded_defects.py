"""Every defect of the table is found, with kind, place, severity and remedy; clean boards say only what is listed."""

import hashlib
import math
from functools import cache

import pytest

from defects.folders import FOLDERS, REAL_BOARDS, Folder
from defects.table import DEFECTS
from paneglow import pipeline
from paneglow.board import build as board_build

PLACE_MM = 2.5  # a finding stands at most this far from the place that the table names

# What is said of each folder as it stands: code, subject
CLEAN = {
    "harbour": {
        ("mark-against-legend", "D14"),
        ("window-shadowed", "beam"),
        ("same-lands-opposite-marks", "D14"),
        ("lens-down-unsteady", "D2"),
        ("supply-limit-passed", "board"),
        ("led-starved", "D13"),
        ("led-starved", "D15"),
        ("led-starved", "D16"),
        ("window-under-mask", "wave-blue"),
        ("mark-hidden-once-mounted", "D13"),
        ("built-by-hand", "D1"),
        ("built-by-hand", "D2"),
        ("laminate-assumed", "board"),
    },
    "reels": {
        ("hole-missing", "D1"),
        ("hole-missing", "D2"),
        ("hole-missing", "D3"),
        ("copper-at-opening", "D1"),
        ("window-shadowed", "w4"),
        ("window-shadowed", "w5"),
        ("window-shadowed", "w6"),
        ("window-under-mask", "w4"),
        ("window-under-mask", "w5"),
        ("window-under-mask", "w6"),
        ("windows-not-in-design", "board"),
        ("mark-unverified", "D1"),
        ("legend-mark-missing", "D1"),
        ("tape-unknown", "D1"),
        ("laminate-assumed", "board"),
    },
    "sheep": {
        ("hole-too-tight", "led-1"),
        ("led-without-window", "led-1"),
        ("legend-mark-missing", "led-1"),
        ("mark-unverified", "led-1"),
        ("land-missing", "led-1"),
        ("built-by-hand", "led-1"),
        ("laminate-assumed", "board"),
    },
    "disc": {
        ("mark-unverified", "led-1"),
        ("window-shadowed", "w2"),
        ("window-shadowed", "w6"),
        ("window-shadowed", "w14"),
        ("windows-not-in-design", "board"),
        ("legend-mark-missing", "led-1"),
        ("built-by-hand", "led-1"),
        ("laminate-assumed", "board"),
    },
}


@pytest.fixture(scope="module", autouse=True)
def _read_each_set_once():
    """Maps, windows and nets of one set of files are worked out once, whatever else a defect changes."""
    kept = {}
    patch = pytest.MonkeyPatch()
    for name in ("build_face_maps", "survey_windows", "build_nets"):
        real = getattr(board_build, name)

        def once(first, *args, real=real, name=name, **keywords):
            digest = hashlib.sha256(repr((name, _digest(first), args, keywords)).encode()).hexdigest()
            if digest not in kept:
                kept[digest] = real(first, *args, **keywords)
            return kept[digest]

        patch.setattr(board_build, name, once)
    yield
    patch.undo()


def _digest(first):
    source = getattr(first, "source", None)
    if source is None:
        return id(first)
    return hashlib.sha256(b"".join(path.read_bytes() for path in sorted(source.iterdir()))).hexdigest()


def checked(folder, path):
    """The folder written to a path, and what is found in it."""
    if folder != "harbour" and not REAL_BOARDS.is_dir():
        pytest.skip(f"no board sets in {REAL_BOARDS}; name their folder in PANEGLOW_BOARDS")
    path.mkdir()
    FOLDERS[folder](path)
    return Folder(path)


@pytest.mark.parametrize("folder", CLEAN)
def test_a_clean_folder_gives_the_listed_findings_and_no_more(folder, tmp_path):
    design = checked(folder, tmp_path / "design").design_file
    found = {(one.code, one.subject) for one in pipeline.check_design(design).findings}
    assert found == CLEAN[folder]


@pytest.mark.parametrize("defect", DEFECTS, ids=lambda one: f"{one.folder}: {one.name}")
def test_a_seeded_defect_is_found(defect, tmp_path):
    folder = checked(defect.folder, tmp_path / "design")
    if defect.folder == "harbour":
        folder.board("pitch_mm = 0.1")  # a quarter of the pixels: what is seeded shows all the same
    defect.make(folder)
    findings = pipeline.check_design(folder.design_file).findings
    met = [one for one in findings if (one.code, one.subject) == (defect.code, defect.subject)]
    assert met, [(one.severity, one.code, one.subject) for one in findings]
    found = max(met, key=lambda one: sum(words in one.reason for words in defect.says))
    assert found.severity == defect.severity
    assert [words for words in defect.says if words not in found.reason] == [], found.reason
    assert [words for words in defect.remedy if words not in found.remedy] == [], found.remedy
    if defect.near_mm is not None:
        assert found.at_mm is not None
        assert math.dist(found.at_mm, defect.near_mm) <= PLACE_MM, found.at_mm


def test_every_entry_of_the_table_is_one_of_a_kind():
    assert len({(one.folder, one.name) for one in DEFECTS}) == len(DEFECTS)


@cache
def _severities():
    from paneglow.judge.findings import BOARD_RULES, CIRCUIT_RULES

    return {rule.code: rule.severities for rule in (*BOARD_RULES, *CIRCUIT_RULES)}


def test_every_entry_names_a_rule_and_one_of_its_severities():
    for one in DEFECTS:
        assert one.severity in _severities()[one.code], one.name
