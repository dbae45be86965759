"""Pages of docs/ that are written from the code, so that the two cannot disagree."""

from docpages.findings import findings_page
from docpages.nomenclature import nomenclature_page, unexplained_fields, unused_meanings

PAGES = {"findings.md": findings_page, "nomenclature.md": nomenclature_page}

__all__ = ["PAGES", "findings_page", "nomenclature_page", "unexplained_fields", "unused_meanings"]
