"""The page: self-contained, well-formed, complete, and safe against what people write in their files."""

from html.parser import HTMLParser

import pytest

from paneglow.judge import Verdict, build_changes
from paneglow.report.files import encode_pictures, render_pages
from paneglow.results import build_results
from sample_board import make_board, make_catalog
from sample_evaluation import make_evaluation, make_verdict


def render(evaluation) -> str:
    return render_both(evaluation)[0]


def render_both(evaluation) -> tuple[str, str]:
    return render_pages(evaluation, results=build_results(evaluation), pictures=encode_pictures(evaluation))


VOID = frozenset(("meta", "link", "img", "br", "input", "hr"))
LOADING = frozenset(("src", "href", "srcset", "poster", "data", "action", "xlink:href"))


class Reader(HTMLParser):
    """Checks that tags close in order and gathers what tests ask about."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.loads: list[str] = []
        self.images: list[dict[str, str | None]] = []
        self.headings: list[int] = []
        self.ids: list[str] = []
        self.words: list[str] = []
        self.tags: set[str] = set()

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.tags.add(tag)
        self.loads += [value or "" for name, value in attrs if name in LOADING]
        self.ids += [given["id"]] if "id" in given else []
        if tag == "img":
            self.images.append(given)
        if len(tag) == 2 and tag[0] == "h" and tag[1].isdigit():
            self.headings.append(int(tag[1]))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert reader.open == []
    return reader


@pytest.fixture(scope="module")
def page() -> str:
    evaluation = make_evaluation()
    return render(evaluation)


@pytest.fixture(scope="module")
def reader(page) -> Reader:
    return read(page)


def test_nothing_is_loaded_from_anywhere(page, reader):
    beside = ("bench.html", "report-short.html")  # links to what lies beside it, never loaded
    assert all(load.startswith(("data:", "#")) or load in beside for load in reader.loads)
    assert {load[1:] for load in reader.loads if load.startswith("#")} <= set(reader.ids)
    assert "script" not in reader.tags
    assert "http:" not in page
    assert "https:" not in page
    assert "url(" not in page
    assert "@import" not in page


def test_every_window_finding_goal_led_and_caution_is_told(reader):
    results = build_results(make_evaluation())
    told = [
        results.summary,
        *(window.name for window in results.windows),
        *(led.ref for led in results.leds),
        *(finding.reason for finding in results.verdict.findings),
        *(finding.remedy for finding in results.verdict.findings),
        *(caution.text for caution in results.verdict.cautions),
        *(reference.reference for reference in results.provenance.references),
        *(picture.caption for picture in results.pictures),
        results.assumptions,
        results.how_to_narrow,
        results.provenance.design_sha256,
    ]
    assert [words for words in told if words not in reader.text] == []


def test_numbers_of_an_assumed_laminate_are_ranges(reader):
    assert "27–65 cd/m²" in reader.text  # 46 with 40 % to either side, and 0.46 of sampling error at each end
    assert "46 cd/m²" not in reader.text


def test_numbers_of_measured_laminate_and_leds_are_single():
    evaluation = make_evaluation(origin="measured", light_range=(200.0, 200.0))
    text = read(render(evaluation)).text
    assert "46 cd/m²" in text
    assert "To narrow" not in text


def test_every_picture_that_says_something_has_words_for_it(reader):
    silent = [image for image in reader.images if not image.get("alt")]
    assert len(silent) == 1  # the strip of the false-colour scale, which its group describes
    assert all(int(image["width"] or 0) > 0 and int(image["height"] or 0) > 0 for image in reader.images)


def test_headings_start_at_one_and_skip_no_level(reader):
    assert reader.headings[0] == 1
    assert reader.headings.count(1) == 1
    assert all(after - before <= 1 for before, after in zip(reader.headings, reader.headings[1:], strict=False))


def test_ids_are_unique(reader):
    assert len(reader.ids) == len(set(reader.ids))


def test_changes_stand_by_their_effect_and_are_numbered_on_the_map(page, reader):
    # The error blocks release, the note is asked for by a missed goal or none, the laminate by open goals
    places = [reader.text.index(f"{one.severity} {', '.join(one.subjects)}") for one in make_verdict().changes]
    assert len(places) >= 3
    assert places == sorted(places)
    assert page.count('class="marker ') == 2  # the third concerns the whole board


def test_the_short_version_has_the_verdict_the_first_changes_windows_and_cautions_and_no_money():
    evaluation = make_evaluation()
    results = build_results(evaluation)
    text = read(render_both(evaluation)[1]).text
    told = [
        results.summary,
        *(change.effect for change in results.verdict.changes[:3]),
        *(window.name for window in results.windows),
        *(caution.text for caution in results.verdict.cautions),
        results.assumptions,
    ]
    assert [words for words in told if words.replace("cd/m2", "cd/m²") not in text] == []
    assert "What it costs" not in text


def test_a_draft_says_so_on_its_pictures():
    evaluation = make_evaluation()
    assert "Draft: grain is noise" not in read(render(evaluation)).text
    draft = evaluation.provenance.model_copy(update={"quality": "draft"})
    object.__setattr__(evaluation, "provenance", draft)
    assert read(render(evaluation)).text.count("Draft: grain is noise") == 4  # once on each picture


def test_what_people_write_in_their_files_is_never_taken_for_markup():
    finding = make_verdict().findings[0].model_copy(update={"subject": "<script>alert(1)</script>"})
    changes = build_changes((finding,), goals=(), board=make_board(make_catalog()))
    verdict = Verdict(passed=False, goals=(), findings=(finding,), cautions=(), changes=changes)
    evaluation = make_evaluation(verdict=verdict)
    page = render(evaluation)
    assert "<script" not in page
    assert "<script>alert(1)</script>" in read(page).text


def test_a_board_without_goals_and_findings_says_so():
    evaluation = make_evaluation(verdict=Verdict(passed=True, goals=(), findings=(), cautions=()))
    text = read(render(evaluation)).text
    assert "The design states no goals." in text
    assert "No defect was found." in text


def test_windows_that_no_led_is_meant_for_are_listed_apart():
    evaluation = make_evaluation()
    spare = evaluation.look.windows[-1]
    named = tuple(window for window in evaluation.design.window if window.name != spare.name)
    object.__setattr__(evaluation, "design", evaluation.design.model_copy(update={"window": named}))
    object.__setattr__(evaluation, "verdict", Verdict(passed=True, goals=(), findings=(), cautions=()))
    text = read(render(evaluation)).text
    assert "1 more window that no LED is meant for" in text
    assert text.index(spare.name) > text.index("1 more window")
