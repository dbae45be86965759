"""What the package holds serves a command: a function, class or constant that only tests name is not of the package."""

import ast
import re
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "src" / "paneglow"
# Called by a framework that finds them by their mark or their place
FOUND_BY_MARK = re.compile(r"rule|command|callback|register|kernel|validator|serializer|lower_getattr")
# Public doors that no command opens yet: file, and who comes in by it
DOORS = {
    "design/write.py": "places found by a search are written back into the design (a planned command)",
    "fab/write.py": "the demonstration's fabrication files; test boards and packs (planned commands)",
    "fab/write_records.py": "the same",
    "scene/plain.py": "other programs, to referee the light: docs/referee.md",
    "transport/response/ask.py": "the search of places and the fit of lots (planned commands)",
    "transport/response/ready.py": "the same",
    "transport/response/levels.py": "the same",
    "transport/response/trace.py": "the same",
    "transport/kernels/compile.py": "numba calls these by name",
    "transport/kernels/reference.py": "the same",
    "cli/group.py": "the command-line library calls these by name",
}


def named_anywhere():
    """How often each name is used, or imported from a file, in the package; words of templates count."""
    used = Counter()
    for path in PACKAGE.rglob("*.py"):
        whole = path.name != "__init__.py"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            match node:
                case ast.Name(id=name, ctx=ast.Load()) | ast.Attribute(attr=name):
                    used[name] += 1
                case ast.ImportFrom(names=aliases) if whole:
                    used.update(alias.name for alias in aliases)
                case ast.Constant(value=str(words)) if whole and words.isidentifier():
                    used[words] += 1
    for path in (PACKAGE / "report").rglob("*.html*"):
        used.update(re.findall(r"\w+", path.read_text(encoding="utf-8")))
    return used


def defined(body):
    """Name, and node, of what a file defines: functions, classes with their methods, constants."""
    for node in body:
        match node:
            case ast.FunctionDef(name=name) | ast.ClassDef(name=name):
                yield name, node
                if isinstance(node, ast.ClassDef):
                    yield from defined([inner for inner in node.body if isinstance(inner, ast.FunctionDef)])
            case ast.Assign(targets=[ast.Name(id=name)]) | ast.AnnAssign(target=ast.Name(id=name), value=ast.expr()):
                yield name, node


def test_every_function_class_and_constant_is_used_by_the_package_itself():
    used = named_anywhere()
    idle = []
    for path in sorted(PACKAGE.rglob("*.py")):
        file = str(path.relative_to(PACKAGE))
        for name, node in defined(ast.parse(path.read_text(encoding="utf-8")).body):
            marks = " ".join(ast.unparse(mark) for mark in getattr(node, "decorator_list", []))
            if used[name] or file in DOORS or re.match(r"__\w+__$", name) or FOUND_BY_MARK.search(marks):
                continue
            idle.append(f"{file}: {name}")
    assert idle == []


def test_a_public_class_has_a_name_of_its_own():
    names = Counter(
        node.name
        for path in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
    )
    assert [name for name, count in names.items() if count > 1] == []


def test_a_folder_brings_together_only_what_others_ask_it_for():
    others = [path for folder in ("tests", "tools", "examples", "benchmarks") for path in (ROOT / folder).rglob("*.py")]
    texts = {path: path.read_text(encoding="utf-8") for path in [*PACKAGE.rglob("*.py"), *others]}
    words = {path: set(re.findall(r"\w+", text)) for path, text in texts.items()}
    unasked = []
    for path in PACKAGE.rglob("__init__.py"):
        if path.parent.name == "response":  # its commands come later
            continue
        outside = set().union(*(found for other, found in words.items() if path.parent not in other.parents))
        listed = re.findall(r'^    "(\w+)",$', texts[path], re.MULTILINE)
        unasked += [f"{path.parent.relative_to(PACKAGE)}: {name}" for name in listed if name not in outside]
    assert unasked == []


def test_every_door_is_still_there():
    used = named_anywhere()
    assert [file for file in DOORS if not (PACKAGE / file).exists()] == []
    assert all(
        any(not used[name] for name, _ in defined(ast.parse((PACKAGE / file).read_text()).body)) for file in DOORS
    )
