"""The report: one self-contained page and the result files."""

from paneglow.report.files import PAGE_FILE, RESULTS_FILE, write_report
from paneglow.report.numbers import to_digits, to_percent_text, to_range_text

__all__ = ["PAGE_FILE", "RESULTS_FILE", "to_digits", "to_percent_text", "to_range_text", "write_report"]
