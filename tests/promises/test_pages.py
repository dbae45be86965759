"""Pages of docs/ agree with the code they are written from."""

import re
from pathlib import Path

import pytest

import docpages

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
LINK = re.compile(r"\]\(([^)#:]+)(?:#[^)]*)?\)")


@pytest.mark.parametrize("name", docpages.PAGES)
def test_a_generated_page_has_not_drifted(name):
    assert (DOCS / name).read_text(encoding="utf-8") == docpages.PAGES[name](), "run make docs"


def test_every_field_of_every_public_record_is_explained():
    assert docpages.unexplained_fields() == []


def test_every_meaning_is_of_a_field_that_exists():
    assert docpages.unused_meanings() == []


@pytest.mark.parametrize(
    "page", sorted([*ROOT.glob("*.md"), *DOCS.rglob("*.md")]), ids=lambda page: str(page.relative_to(ROOT))
)
def test_every_link_to_a_file_leads_somewhere(page):
    targets = LINK.findall(page.read_text(encoding="utf-8"))
    assert [target for target in targets if not (page.parent / target).exists()] == []


def test_the_map_of_the_docs_names_every_page():
    index = (DOCS / "index.md").read_text(encoding="utf-8")
    pages = {str(page.relative_to(DOCS)) for page in DOCS.rglob("*.md")} - {"index.md"}
    assert pages - set(LINK.findall(index)) == set()
