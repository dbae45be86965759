"""docs/findings.md: every rule of the judge, what it looks for and where its thresholds come from."""

import inspect
from collections.abc import Iterable

from paneglow.judge.cautions import CAUTION_KINDS
from paneglow.judge.findings import BOARD_RULES, CIRCUIT_RULES, COST_RULES, LIGHT_RULES, Rule, Threshold

HEAD = """# Findings and cautions

Written from the marked rules of `src/paneglow/judge` by `make docs`; do not edit by hand.

A finding has a stable code, a severity, a place, a reason with the measured amount, and a remedy. An *error* means that
the board will not do what the design asks: the verdict does not pass. A *warning* will be seen or regretted. A *note*
is worth knowing. Errors block release, and so do a few rules beside them. Thresholds are numbers somebody chose: each
says where it comes from.
"""


def findings_page() -> str:
    """Text of the page."""
    return "\n".join(
        [
            HEAD,
            "## Before light is traced\n",
            *(_rule_section(rule) for rule in BOARD_RULES),
            "## From the solved circuit\n",
            *(_rule_section(rule) for rule in CIRCUIT_RULES),
            "## From the traced light\n",
            *(_rule_section(rule) for rule in LIGHT_RULES),
            "## About money\n",
            "Where a `cost.toml` lies beside the design: in `paneglow cost` and in the report's section on cost.\n",
            *(_rule_section(rule) for rule in COST_RULES),
            "## Cautions\n",
            "Shown beside the result where they apply. They repeat what is usual; local rules and qualified advice",
            "come first.\n",
            "| code | source |",
            "|---|---|",
            *(f"| `{kind.code}` | {kind.source} |" for kind in CAUTION_KINDS),
            "",
        ]
    )


def _rule_section(rule: Rule) -> str:
    summary, _, detail = inspect.getdoc(rule.look).partition("\n\n")
    release = "; blocks release" if rule.blocks_release else ""
    lines = [f"### {rule.code}\n", f"{summary} ({' or '.join(rule.severities)}{release})\n"]
    if detail:
        lines.append(f"{detail}\n")
    lines.extend(_threshold_rows(rule.thresholds))
    return "\n".join(lines)


def _threshold_rows(thresholds: Iterable[Threshold]) -> list[str]:
    rows = [
        f"| {row.what} | {row.value:g} {'' if row.unit == '1' else row.unit} | {row.source} |" for row in thresholds
    ]
    return ["| threshold | value | source |", "|---|---|---|", *rows, ""] if rows else []
