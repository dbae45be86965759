"""Pages of docs/ that are written from the code, so that the two cannot disagree."""

from docpages.choices import choices_page, colours_picture, films_picture, sizes_picture
from docpages.cli import cli_page, commands
from docpages.fields import faults_of, field_texts, public_records, unit_of
from docpages.files import cost_page, design_page, page_records, parts_page, results_page
from docpages.findings import findings_page
from docpages.reference import reference_page
from docpages.schema import schema_page
from paneglow.report import with_signs

TEXTS = {
    "choices.md": choices_page,
    "pictures/choices-sizes.svg": sizes_picture,
    "pictures/choices-colours.svg": colours_picture,
    "pictures/choices-films.svg": films_picture,
    "cli.md": cli_page,
    "findings.md": findings_page,
    "design-file.md": design_page,
    "design-reference.md": reference_page,
    "parts-file.md": parts_page,
    "cost-file.md": cost_page,
    "results.md": results_page,
    "results.schema.json": schema_page,
}

# Units and tolerances on a page bear their signs; a schema keeps plain letters
PAGES = {name: (lambda page=page: with_signs(page())) if name.endswith(".md") else page for name, page in TEXTS.items()}

__all__ = ["PAGES", "commands", "faults_of", "field_texts", "page_records", "public_records", "unit_of"]
