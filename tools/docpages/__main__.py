"""Write the generated pages, or with --check say which of them have drifted and exit 1."""

import sys
from pathlib import Path

from docpages import PAGES

DOCS = Path(__file__).parents[2] / "docs"


def main(arguments: list[str]) -> int:
    """Write or check every page; the exit code."""
    drifted = [name for name, page in PAGES.items() if not _same(DOCS / name, page())]
    if "--check" in arguments:
        for name in drifted:
            sys.stderr.write(f"docs/{name} does not agree with the code: run make docs\n")
        return 1 if drifted else 0
    for name in drifted:
        (DOCS / name).write_text(PAGES[name](), encoding="utf-8")
        sys.stdout.write(f"wrote docs/{name}\n")
    return 0


def _same(path: Path, text: str) -> bool:
    return path.exists() and path.read_text(encoding="utf-8") == text


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
