"""Folders show what they mean to show, and others use only that."""

import ast
import importlib
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest

import paneglow

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "src" / "paneglow"
FOLDERS = sorted(info.name for info in pkgutil.iter_modules(paneglow.__path__) if info.ispkg)
SOURCES = sorted(PACKAGE.rglob("*.py"))


def imports(path):
    """Every imported module of ours in a file, as a list of its parts."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            yield (node.module or "").split(".")
        elif isinstance(node, ast.Import):
            yield from (alias.name.split(".") for alias in node.names)


def imported_names(path):
    """Names that a file's top level imports from our own files, for types alone or not, or defines for others."""
    body = ast.parse(path.read_text(encoding="utf-8")).body
    for node in [*body, *(inner for outer in body if isinstance(outer, ast.If) for inner in outer.body)]:
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("paneglow"):
            yield from (alias.asname or alias.name for alias in node.names)
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name


@pytest.mark.parametrize("folder", FOLDERS)
def test_all_lists_exactly_what_a_folder_brings_together(folder):
    module = importlib.import_module(f"paneglow.{folder}")
    listed = getattr(module, "__all__", [])
    brought = {name for name in imported_names(PACKAGE / folder / "__init__.py") if not name.startswith("_")}
    if hasattr(module, "__getattr__"):  # brings together what is asked for, when it is asked for
        brought |= {name for name in listed if hasattr(module, name)}
    assert len(listed) == len(set(listed))
    assert set(listed) == brought


def test_a_folder_is_imported_as_a_whole_by_all_others():
    reached_into = [
        f"{path.relative_to(PACKAGE)}: {'.'.join(parts)}"
        for path in SOURCES
        for parts in imports(path)
        if parts[0] == "paneglow"
        and len(parts) > 2
        and parts[1] in FOLDERS
        and parts[1] != path.relative_to(PACKAGE).parts[0]
    ]
    assert reached_into == []


def test_imports_point_down_and_libraries_stay_in_their_rooms():
    linter = Path(sys.executable).with_name("lint-imports")
    result = subprocess.run(
        [linter, "--config", "pyproject.toml", "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert result.returncode == 0, result.stdout + result.stderr
