"""Pages of docs/ agree with the code they are written from."""

import re
from pathlib import Path

import pytest

import docpages

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
LINK = re.compile(r"\]\(([^)#:]+)(?:#[^)]*)?\)")
ANCHOR = re.compile(r"\]\(([\w./-]*\.md)?#([^)]*)\)")
HEADING = re.compile(r"^#+ (.*)$", re.MULTILINE)


def anchors_of(page):
    """Anchors of a page's headings, as GitHub makes them."""
    headings = HEADING.findall(page.read_text(encoding="utf-8"))
    return {re.sub(r"[^\w\- ]", "", heading).strip().lower().replace(" ", "-") for heading in headings}


@pytest.mark.parametrize("name", docpages.PAGES)
def test_a_generated_page_has_not_drifted(name):
    assert (DOCS / name).read_text(encoding="utf-8") == docpages.PAGES[name](), "run make docs"


def test_every_field_that_others_meet_has_one_meaning_written_beside_it():
    assert docpages.faults_of([*docpages.public_records(), *docpages.page_records()]) == []


def test_a_unit_in_a_meaning_agrees_with_the_unit_in_the_name():
    disagreeing = [
        f"{record.__name__}.{row.name}: {by_name} by its name, {row.unit} by its meaning"
        for record in [*docpages.public_records(), *docpages.page_records()]
        for row in docpages.field_texts(record)
        if row.unit != (by_name := docpages.unit_of(row.name, annotation="")) and by_name
    ]
    assert disagreeing == []


@pytest.mark.parametrize(
    "page", sorted([*ROOT.glob("*.md"), *DOCS.rglob("*.md")]), ids=lambda page: str(page.relative_to(ROOT))
)
def test_every_link_to_a_file_leads_somewhere(page):
    text = page.read_text(encoding="utf-8")
    assert [target for target in LINK.findall(text) if not (page.parent / target).exists()] == []


@pytest.mark.parametrize("page", sorted(DOCS.rglob("*.md")), ids=lambda page: str(page.relative_to(DOCS)))
def test_every_link_to_a_heading_leads_to_one(page):
    lost = [
        f"{target}#{anchor}"
        for target, anchor in ANCHOR.findall(page.read_text(encoding="utf-8"))
        if anchor not in anchors_of(page.parent / target if target else page)
    ]
    assert lost == []


def test_the_map_of_the_docs_names_every_page():
    index = (DOCS / "index.md").read_text(encoding="utf-8")
    pages = {str(page.relative_to(DOCS)) for page in DOCS.rglob("*.md")} - {"index.md"}
    assert pages - set(LINK.findall(index)) == set()
