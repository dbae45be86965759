"""What can be swapped unseen is passed by name: public functions take at most two positional arguments."""

import ast
from pathlib import Path

SOURCES = Path(__file__).parents[2] / "src"
POSITIONAL = 2


def positional(node):
    return [arg.arg for arg in (*node.args.posonlyargs, *node.args.args) if arg.arg not in ("self", "cls")]


def test_every_public_function_outside_kernels_takes_at_most_two_positional_arguments():
    crowded = [
        f"{path.relative_to(SOURCES)}: {node.name}{positional(node)}"
        for path in sorted(SOURCES.rglob("*.py"))
        if "kernels" not in path.parts
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_") and len(positional(node)) > POSITIONAL
    ]
    assert crowded == []
