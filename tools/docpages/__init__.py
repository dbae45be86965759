"""Pages of docs/ that are written from the code, so that the two cannot disagree."""

from docpages.cli import cli_page
from docpages.findings import findings_page
from docpages.nomenclature import nomenclature_page, unexplained_fields, unused_meanings
from docpages.schema import schema_page

PAGES = {
    "cli.md": cli_page,
    "findings.md": findings_page,
    "nomenclature.md": nomenclature_page,
    "results.schema.json": schema_page,
}

__all__ = ["PAGES", "unexplained_fields", "unused_meanings"]
