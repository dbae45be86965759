"""The report in a real browser: what stands on the first screen, what overflows, prints, folds and is read aloud."""

import re
import shutil
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from cost_cases import PERFECT, make_bill, make_costing
from paneglow.judge import build_changes
from paneglow.report import write_report
from paneglow.results import build_results
from sample_board import make_board, make_catalog
from sample_evaluation import make_evaluation, make_verdict
from unit.report.test_cost_section import RANGED, SALE, make_results
from unit.report.test_drive_part import DRIVE

CHROMIUM = shutil.which("chromium")
if CHROMIUM is None:
    pytest.skip("no chromium here; on Debian: apt-get install chromium", allow_module_level=True)
sync_api = pytest.importorskip("playwright.sync_api", reason="no playwright here; it is in the extra dev")
axe_api = pytest.importorskip("axe_playwright_python.sync_playwright", reason="no axe here; it is in the extra dev")

SCREENS = ((1280, 720), (390, 844))
WIDTHS = (320, 360, 390, 600, 736, 768, 1024, 1100, 1280, 1920)
LONG_REMEDY = "Turn the part about its long axis until the mark that means the cathode lies over the negative land"


@pytest.fixture(scope="module")
def browser() -> Iterator[object]:
    with sync_api.sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield launched
        launched.close()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A report of a draft that rests on assumptions, with money, drive and several long findings."""
    evaluation = make_evaluation()
    verdict = make_verdict()
    error = verdict.findings[1]
    findings = (
        *verdict.findings,
        *(
            error.model_copy(update={"code": code, "remedy": f"{LONG_REMEDY}; {code}."})
            for code in ("one", "two", "three")
        ),
    )
    changes = build_changes(findings, goals=verdict.goals, board=make_board(make_catalog()))
    given = {
        "verdict": verdict.model_copy(update={"findings": findings, "changes": changes}),
        "cost": make_results(make_costing(RANGED + PERFECT + SALE, bill=make_bill()), on=date(2027, 6, 1)),
        "drive": DRIVE,
        "provisional": tuple(f"LED {number}: proposed behind the middle of its window." for number in range(30)),
        "other_picture": evaluation.pictures.dark_adapted,
        "provenance": evaluation.provenance.model_copy(update={"quality": "draft"}),
    }
    for field, value in given.items():
        object.__setattr__(evaluation, field, value)
    out = tmp_path_factory.mktemp("report")
    write_report(evaluation, results=build_results(evaluation), out=out)
    return out


def opened(browser, path: Path, *, width: int = 1280, height: int = 720, scheme: str = "light"):
    page = browser.new_page(viewport={"width": width, "height": height}, color_scheme=scheme)
    page.goto(path.as_uri())
    return page


@pytest.mark.parametrize("size", SCREENS)
@pytest.mark.parametrize("name", ["report.html", "report-short.html"])
def test_the_first_screen_holds_picture_verdict_and_three_changes(browser, folder, name, size):
    page = opened(browser, folder / name, width=size[0], height=size[1])
    for place in (".portrait img", ".verdict", *(f".todo li:nth-child({number})" for number in (1, 2, 3))):
        box = page.locator(place).bounding_box()
        assert box["height"] > 15, place
        assert box["y"] + box["height"] <= size[1], place


@pytest.mark.parametrize("name", ["report.html", "report-short.html", "bench.html"])
def test_nothing_scrolls_sideways_with_every_fold_open(browser, folder, name):
    page = opened(browser, folder / name)
    page.evaluate("document.querySelectorAll('details').forEach(fold => fold.open = true)")
    wider = {}
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 800})
        over = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if over > 0:
            wider[width] = over
    assert wider == {}


def pages_of(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def test_the_short_version_prints_on_two_pages_and_the_long_one_whole(browser, folder):
    assert pages_of(opened(browser, folder / "report-short.html").pdf(format="A4")) <= 2
    assert pages_of(opened(browser, folder / "report-short.html").pdf(format="Letter")) <= 2
    page = opened(browser, folder / "report.html")
    page.emulate_media(media="print")
    # What is folded on the screen is on the paper
    for fold in page.locator("details").all():
        head = fold.locator("> summary")
        assert fold.bounding_box()["height"] > head.bounding_box()["height"] + 20, head.inner_text()


def test_every_link_leads_somewhere(browser, folder):
    for name in ("report.html", "report-short.html"):
        page = opened(browser, folder / name)
        for link in page.locator("a").all():
            goal = link.get_attribute("href")
            if goal.startswith("#"):
                link.focus()
                page.keyboard.press("Enter")
                assert page.locator(goal).count() == 1, goal
                top = page.locator(goal).bounding_box()["y"]
                at_end = page.evaluate("innerHeight + scrollY >= document.documentElement.scrollHeight - 2")
                assert -2 <= top <= 60 or at_end, goal
            else:
                assert (folder / goal).is_file(), goal


def test_every_fold_opens_and_closes_by_the_keyboard(browser, folder):
    page = opened(browser, folder / "report.html")
    folds = page.locator("details").all()
    assert len(folds) >= 8
    page.evaluate("document.querySelectorAll('details').forEach(fold => fold.open = true)")
    for fold in folds:
        summary = fold.locator("> summary")
        for state in (False, True):
            summary.focus()
            page.keyboard.press("Enter")
            assert fold.evaluate("fold => fold.open") is state, summary.inner_text()
        assert fold.bounding_box()["height"] > summary.bounding_box()["height"] + 10


@pytest.mark.parametrize(("size", "scheme"), [(SCREENS[0], "dark"), (SCREENS[1], "light")])
@pytest.mark.parametrize("name", ["report.html", "report-short.html", "bench.html"])
def test_axe_finds_nothing_serious(browser, folder, name, size, scheme):
    page = opened(browser, folder / name, width=size[0], height=size[1], scheme=scheme)
    page.evaluate("document.querySelectorAll('details').forEach(fold => fold.open = true)")
    found = axe_api.Axe().run(page).response["violations"]
    grave = {
        one["id"]: [node["html"][:160] for node in one["nodes"][:3]]
        for one in found
        if one["impact"] in ("serious", "critical")
    }
    assert grave == {}
