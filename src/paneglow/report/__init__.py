"""The report: one self-contained page and the result files."""
