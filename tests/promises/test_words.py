"""One name for one thing, in everything a person reads: docs/design.md holds the choices."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from paneglow.units import Record

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "paneglow"
# What must not be said, and what is said instead. Codes of findings (land-missing) and names in JSON stay as they are
WORDS = {
    r"(?<![-\w.])lands?(?![-\w])": "pad (of the board) or terminal (of the part)",
    r"\bland patterns?\b": "footprint",
    r"\bsilk ?screen\b": "legend",
    r"\bpractitioners?\b": "common practice, no source",
    r"\bsolder ?resist\b": "solder mask",
    r"\bcentroid files?\b(?<!placement \(centroid\) file)": "placement file",
    r"\bpaneglow part (new|import|export)\b": "paneglow parts",
    r"\bin no window\b": "what covers the place",
    r"\b(whilst|thereof|wherein|henceforth)\b": "plain words",
}
PAGES = [ROOT / "README.md", *(ROOT / "docs").rglob("*.md"), *(ROOT / "examples").rglob("*.md")]
# design.md names the words that are not used; decisions and sources quote others
QUOTING = {"design.md", "sources.md", *(page.name for page in (ROOT / "docs" / "decisions").glob("*.md"))}


def shown_texts(path: Path) -> Iterator[str]:
    """String literals of a module, and the docstrings that pages are written from: of records, rules and commands."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    of_pages = {"cli", "findings"} & set(path.parts)
    hidden = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and ast.get_docstring(node):
            is_record = isinstance(node, ast.ClassDef) and any(Record.__name__ in ast.unparse(b) for b in node.bases)
            if not (is_record or (of_pages and isinstance(node, ast.FunctionDef))):
                hidden.add(id(node.body[0].value))
    for node in ast.walk(tree):
        if (
            isinstance(node, ast.Constant)
            and isinstance(node.value, str)
            and id(node) not in hidden
            and " " in node.value
        ):
            yield node.value


def faults(text: str) -> list[str]:
    return [
        f"{found[0]!r}: say {instead}" for word, instead in WORDS.items() for found in re.finditer(word, text, re.I)
    ]


@pytest.mark.parametrize(
    "folder", sorted(path.name for path in SOURCE.iterdir() if path.is_dir() and path.name[0] != "_")
)
def test_messages_and_help_use_the_chosen_words(folder):
    told = {
        f"{path.relative_to(SOURCE)}: {fault}"
        for path in (SOURCE / folder).rglob("*.py")
        for text in shown_texts(path)
        for fault in faults(text)
    }
    told |= {
        f"{path.relative_to(SOURCE)}: {fault}"
        for path in (SOURCE / folder).rglob("*.j2")
        for text in re.findall(r">([^<>{}]+)<", path.read_text(encoding="utf-8"))
        for fault in faults(text)
    }
    assert told == set()


@pytest.mark.parametrize("page", [page for page in PAGES if page.name not in QUOTING], ids=lambda page: page.name)
def test_pages_use_the_chosen_words(page):
    prose = re.sub(r"```.*?```|`[^`]*`|\]\([^)]*\)", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert faults(prose) == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_pages_write_units_and_tolerances_with_their_signs(page):
    prose = re.sub(r"```.*?```|`[^`]*`|\$.*?\$", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert re.findall(r"\bcd/m2\b|\bmm2\b|\+-\d", prose) == []
