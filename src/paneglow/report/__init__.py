"""The report: one self-contained page and the result files."""

from paneglow.report.building_rows import build_building_rows, to_minutes_text
from paneglow.report.cost_csv import to_curve_csv, to_lines_csv
from paneglow.report.cost_section import cost_sentences, to_both
from paneglow.report.drive import build_load_row, life_sentences, match_sentence, supply_sentence
from paneglow.report.files import render_bench_sheet, write_report
from paneglow.report.images import to_png
from paneglow.report.numbers import (
    to_digits,
    to_percent_text,
    to_range_text,
    to_refs_text,
    to_subjects_text,
    with_signs,
)
from paneglow.report.polarity_rows import to_way_round_text
from paneglow.report.selection import CHANGES_SHOWN, split_windows

__all__ = [
    "with_signs",
    "CHANGES_SHOWN",
    "build_building_rows",
    "cost_sentences",
    "build_load_row",
    "life_sentences",
    "match_sentence",
    "to_minutes_text",
    "render_bench_sheet",
    "split_windows",
    "supply_sentence",
    "to_both",
    "to_curve_csv",
    "to_digits",
    "to_lines_csv",
    "to_percent_text",
    "to_png",
    "to_range_text",
    "to_refs_text",
    "to_subjects_text",
    "to_way_round_text",
    "write_report",
]
