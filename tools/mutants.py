"""Change one thing in a room's source, and see whether a test notices.

A mutant is the package with one change in it: a comparison, an operator, a number, a sign, a branch. First the tests
that ran the changed function are asked, the quickest first; where none fails, their whole files are, since a fixture is
often made in another test. One failure kills the mutant. One that no test kills is a survivor: a test is missing, or
the change makes no difference to anybody, and then the column `explanation` of `tests/mutants/<room>.csv` says why.
The working tree is copied first and never touched.

    make mutants ROOM=look NUMBER=60 SEED=1
    .venv/bin/python tools/mutants.py --room look --list          # every change there could be
    .venv/bin/python tools/mutants.py --room look --again         # only the recorded survivors, after new tests
    .venv/bin/python tools/mutants.py --room look --file eye.py --number 20
    .venv/bin/python tools/mutants.py --room look --own           # asked of the room's own tests alone
"""

import argparse
import ast
import contextlib
import copy
import csv
import importlib
import json
import math
import os
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
import tomllib
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ROOMS = ("look", "drive", "cost", "judge", "assembly")
RECORDS = ROOT / "tests" / "mutants"
COPIED = ("src", "tests", "tools", "docs", "examples", "pyproject.toml")
# Folders of tests that are asked about a mutant; the rest trace light for minutes or look at no number
ASKED = ("unit", "laws", "published", "shell")
# A test that needs more processor time than this is not asked [s]; neither is a file that needs more than the second
SLOW_TEST_S = 8.0
SLOW_FILE_S = 60.0
# Other work on the machine may slow a child process by this much before it is taken for endless
PATIENCE = 8.0
# Third-party modules loaded once, before any room
LIBRARIES = ("numpy", "scipy.optimize", "scipy.ndimage", "shapely", "pydantic", "tomlkit", "numba", "skia", "PIL.Image",
             "skimage.measure", "matplotlib.pyplot", "typer", "rich", "jinja2")  # fmt: skip
KEY = ("file", "function", "before", "after")
COLUMNS = ("file", "function", "line", "before", "after", "outcome", "explanation")

COMPARISONS = {
    ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.LtE), ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.In: (ast.NotIn,), ast.NotIn: (ast.In,), ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
}  # fmt: skip
OPERATORS = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult, ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.MatMult: ast.Mult,
}  # fmt: skip
NAMES = {
    "min": "max", "max": "min", "sum": "max", "any": "all", "all": "any", "minimum": "maximum", "maximum": "minimum",
    "floor": "ceil", "ceil": "floor", "nanmin": "nanmax", "nanmax": "nanmin", "mean": "max", "median": "max",
    "sqrt": "abs", "hypot": "maximum", "sin": "cos", "cos": "sin", "argmin": "argmax", "argmax": "argmin",
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One change in one file; what stands at `start` to `end` (offsets in the text) becomes `after`."""

    file: str
    function: str
    line: int
    start: int
    end: int
    before: str
    after: str

    @property
    def key(self) -> tuple[str, str, str, str]:
        """What stays the same when lines move."""
        return (self.file, self.function, self.before, self.after)


def find_mutants(path: Path, *, name: str) -> list[Mutant]:
    """Every change of one source file, in the order of the text."""
    text = path.read_text(encoding="utf-8")
    starts = [0]
    for line in text.splitlines(keepends=True):
        starts.append(starts[-1] + len(line.encode()))
    encoded = text.encode()
    found = []
    for function, node, changed in _changes(ast.parse(text)):
        start = starts[node.lineno - 1] + node.col_offset
        end = starts[node.end_lineno - 1] + node.end_col_offset
        before = encoded[start:end].decode()
        after = changed if isinstance(changed, str) else ast.unparse(changed)
        if isinstance(node, ast.expr) and not isinstance(changed, ast.Constant | ast.Name | ast.Attribute | ast.Call):
            after = f"({after})"
        shown = [re.sub(r"\s+", " ", words) for words in (before, after)]
        found.append(Mutant(name, function, node.lineno, start, end, *shown))
    return list({mutant.key: mutant for mutant in reversed(found)}.values())[::-1]


def _changes(tree: ast.Module) -> Iterator[tuple[str, ast.AST, ast.AST | str]]:
    """Function, node and what it becomes; annotations, docstrings and the words of f-strings stay."""

    def walk(node: ast.AST, inside: tuple[str, ...]) -> Iterator[tuple[str, ast.AST, ast.AST | str]]:
        if isinstance(node, ast.JoinedStr | ast.Import | ast.ImportFrom):
            return
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            inside = (*inside, node.name)
        for changed in _changed(node):
            yield ".".join(inside), node, changed
        for field, value in ast.iter_fields(node):
            if field in ("annotation", "returns", "decorator_list"):
                continue
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST):
                    yield from walk(child, inside)

    yield from walk(tree, ())


def _changed(node: ast.AST) -> Iterator[ast.AST | str]:  # noqa: C901, PLR0912 - one table of cases
    def with_(**fields: object) -> ast.AST:
        twin = copy.copy(node)
        for field, value in fields.items():
            setattr(twin, field, value)
        return twin

    match node:
        case ast.Compare(ops=[op]):
            yield from (with_(ops=[other()]) for other in COMPARISONS.get(type(op), ()))
        case ast.Compare(ops=[first, *rest]):
            yield from (with_(ops=[other(), *rest]) for other in COMPARISONS.get(type(first), ()))
        case ast.BinOp(op=op, left=left, right=right) if not _is_text(left) and not _is_text(right):
            if other := OPERATORS.get(type(op)):
                yield with_(op=other())
        case ast.UnaryOp(op=ast.USub() | ast.Not(), operand=operand):
            yield operand
        case ast.BoolOp(op=op):
            yield with_(op=ast.Or() if isinstance(op, ast.And) else ast.And())
        case ast.Constant(value=bool() as value):
            yield ast.Constant(not value)
        case ast.Constant(value=int() as value):
            yield ast.Constant(value + 1)
        case ast.Constant(value=float() as value):
            yield ast.Constant(value * 1.5 if value else 1.0)
        case ast.IfExp(body=body, orelse=orelse):
            yield with_(body=orelse, orelse=body)
        case ast.Call(func=ast.Name(id=name), args=[only]) if name in ("abs", "sorted"):
            yield only
        case ast.Name(id=name, ctx=ast.Load()) if name in NAMES:
            yield ast.Name(NAMES[name])
        case ast.Attribute(value=ast.Name(id="np" | "math" | "numpy"), attr=name) if name in NAMES:
            yield with_(attr=NAMES[name])
        case ast.Raise() | ast.AugAssign() | ast.Expr(value=ast.Call()):
            yield "pass"
    # A branch is removed by a condition that is never true, a filter by one that always is
    if hasattr(node, "condition_becomes"):
        yield ast.Constant(value=node.condition_becomes)
    for condition in [node.test] if isinstance(node, ast.If) else getattr(node, "ifs", []):
        condition.condition_becomes = not isinstance(node, ast.If)  # type: ignore[attr-defined]


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str))


def copy_tree(folder: Path) -> None:
    """A copy of what is needed, with the compiled kernels (their dates are kept, so that nothing is compiled anew)."""
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=_left_behind)
        else:
            shutil.copy2(source, folder / name)


def _left_behind(folder: str, names: list[str]) -> list[str]:
    kernels = "kernels" in Path(folder).parts
    return [name for name in names if name.endswith(".pyc") or (name == "__pycache__" and not kernels)]


def asked_files(room: str, *, root: Path) -> list[str]:
    """Test files that speak of the room, or import a helper of the tests that does; the room's own come first."""
    tests = root / "tests"
    texts = {path: path.read_text(encoding="utf-8") for path in sorted(tests.rglob("*.py"))}
    speaking = {path for path, text in texts.items() if re.search(rf"paneglow(\.| import .*\b){room}\b", text)}
    while True:
        helpers = {path.stem for path in speaking if not path.stem.startswith("test_")}
        imported = re.compile(rf"^(?:from|import) (?:[\w.]*\.)?({'|'.join(helpers) or 'nothing'})\b", re.MULTILINE)
        more = {path for path, text in texts.items() if imported.search(text)} - speaking
        if not more:
            break
        speaking |= more
    names = [
        str(path.relative_to(root))
        for path in speaking
        if path.stem.startswith("test_") and path.relative_to(tests).parts[0] in ASKED
    ]
    own = f"tests/unit/{room}/"
    return sorted(names, key=lambda name: (not name.startswith(own), name))


def preload(room: str, *, root: Path) -> None:
    """Load libraries and the rooms below, so that a child process loads only the room and what stands on it."""
    sys.path[:0] = [str(root / name) for name in ("src", "tests", "tools")]
    os.environ["PYTHONPATH"] = os.pathsep.join(sys.path[:3])
    sys.dont_write_bytecode = True
    os.chdir(root)
    for name in LIBRARIES:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    settings = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    layers = settings["tool"]["importlinter"]["contracts"][0]["layers"]
    place = next(index for index, layer in enumerate(layers) if room in re.findall(r"\w+", layer))
    for layer in reversed(layers[place + 1 :]):
        for name in re.findall(r"\w+", layer):
            importlib.import_module(f"paneglow.{name}")


def in_child(work: Callable[[], int], *, limit_s: float) -> int | None:
    """Exit code of work done in a forked process group; nothing where it took more than the limit of processor time."""
    pid = os.fork()
    if pid == 0:
        os.setpgid(0, 0)
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(limit_s), math.ceil(limit_s) + 1))
        try:
            code = int(work())
        except BaseException:  # whatever happens in a child ends there
            code = 99
        os._exit(code)
    ends = time.monotonic() + PATIENCE * limit_s
    while time.monotonic() < ends:
        done, status = os.waitpid(pid, os.WNOHANG)
        if done:
            code = os.waitstatus_to_exitcode(status)
            return None if code < 0 else code
        time.sleep(0.02)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    return None


def run_tests(tests: list[str], *, root: Path, plugins: tuple[object, ...] = ()) -> int:
    """Exit code of pytest, ended at the first failure."""
    quiet = ["-x", "-q", "-p", "no:cacheprovider", "--rootdir", str(root)]
    return int(pytest.main([*tests, *quiet], plugins=list(plugins)))


class Tracer:
    """Notes which functions of a room each test runs, and its processor time; "" is what runs while tests are read."""

    def __init__(self, within: str) -> None:
        self.within = within
        self.seen: dict[str, set[tuple[str, int]]] = defaultdict(set)
        self.seconds: dict[str, float] = {}
        self.test = ""

    def __call__(self, frame, _event, _argument):  # type: ignore[no-untyped-def]
        """Called at the start of every function of Python."""
        name = frame.f_code.co_filename
        if name.startswith(self.within):
            self.seen[self.test].add((name[len(self.within) :], frame.f_code.co_firstlineno))

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item):  # type: ignore[no-untyped-def]
        """Around one test with its fixtures."""
        self.test, began = item.nodeid, time.process_time()
        try:
            return (yield)
        finally:
            self.seconds[item.nodeid] = time.process_time() - began
            self.test = ""


@dataclass(frozen=True)
class Covered:
    """One test: the functions of the room that it runs, as file and first line."""

    test: str
    seconds: float
    functions: frozenset[tuple[str, int]]


def cover(file: str, *, room: str, root: Path, notes: Path) -> list[Covered]:
    """What the tests of one file run; nothing where the file is slow or fails without a change."""
    tracer = Tracer(str(root / "src" / "paneglow" / room) + os.sep)

    def traced() -> int:
        sys.settrace(tracer)
        code = run_tests([file], root=root, plugins=(tracer,))
        sys.settrace(None)
        notes.write_text(
            json.dumps([(test, tracer.seconds.get(test, 0.0), sorted(seen)) for test, seen in tracer.seen.items()]),
            encoding="utf-8",
        )
        return code

    code = in_child(traced, limit_s=SLOW_FILE_S)
    if code != 0:
        sys.stderr.write(f"  {file}: not asked ({'slow' if code is None else f'exit code {code} without a change'})\n")
        return []
    rows = json.loads(notes.read_text(encoding="utf-8"))
    return [Covered(test, seconds, frozenset(map(tuple, seen))) for test, seconds, seen in rows]


def asked_of(mutant: Mutant, *, coverage: list[Covered], ranges: list[tuple[int, int]]) -> list[Covered]:
    """Tests that ran the changed function, the quickest first; outside of all functions: that ran any of its file."""
    holders = [first for first, last in ranges if first <= mutant.line <= last]
    innermost = max(holders, default=None)
    found = [
        covered
        for covered in coverage
        if any(name == mutant.file and innermost in (None, first) for name, first in covered.functions)
    ]
    return sorted(found, key=lambda covered: covered.seconds)


def function_ranges(path: Path) -> list[tuple[int, int]]:
    """First line (of its first decorator) and last line of every function of a file."""
    return [
        (min([node.lineno, *(mark.lineno for mark in node.decorator_list)]), node.end_lineno or node.lineno)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef)
    ]


def read_records(room: str) -> list[dict[str, str]]:
    """Recorded survivors."""
    return read_rows(RECORDS / f"{room}.csv")


def read_rows(path: Path) -> list[dict[str, str]]:
    """Rows of a CSV file, none where it is not there."""
    return list(csv.DictReader(path.read_text(encoding="utf-8").splitlines())) if path.exists() else []


def write_records(room: str, rows: list[dict[str, str]]) -> None:
    """Survivors, sorted by place."""
    RECORDS.mkdir(parents=True, exist_ok=True)
    with (RECORDS / f"{room}.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(sorted(rows, key=lambda row: (row["file"], int(row["line"]), row["before"], row["after"])))


def record(mutant: Mutant, outcome: str, *, room: str) -> None:
    """Keep a survivor, with the explanation that it had before; drop one that is killed now."""
    rows = {tuple(row[name] for name in KEY): row for row in read_records(room)}
    before = rows.pop(mutant.key, {})
    if outcome != "killed":
        values = (
            *mutant.key[:2],
            str(mutant.line),
            mutant.before,
            mutant.after,
            outcome,
            before.get("explanation", ""),
        )
        rows[mutant.key] = dict(zip(COLUMNS, values, strict=True))
    write_records(room, list(rows.values()))


def write_summary(room: str, **figures: object) -> None:
    """One row a run: what was tried and what became of it."""
    path = RECORDS / "runs.csv"
    rows = read_rows(path)
    row = {"room": room, **{name: str(value) for name, value in figures.items()}}
    rows = [old for old in rows if any(old[name] != row[name] for name in ("room", "seed", "file"))] + [row]
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(row), lineterminator="\n")
        writer.writeheader()
        writer.writerows(sorted(rows, key=lambda row: (row["room"], row["file"], row["seed"])))


def choose(arguments: argparse.Namespace) -> list[Mutant]:
    """Mutants asked for: all, the recorded survivors, or a drawn number."""
    home = ROOT / "src" / "paneglow" / arguments.room
    mutants = [
        mutant
        for path in sorted(home.rglob("*.py"))
        if path.name != "__init__.py" and (arguments.file is None or path.match(arguments.file))
        for mutant in find_mutants(path, name=str(path.relative_to(home)))
    ]
    if arguments.again:
        recorded = {tuple(row[name] for name in KEY) for row in read_records(arguments.room) if not row["explanation"]}
        return [mutant for mutant in mutants if mutant.key in recorded]
    if arguments.list:
        return mutants
    drawn = random.Random(arguments.seed).sample(mutants, min(arguments.number, len(mutants)))
    return sorted(drawn, key=lambda mutant: (mutant.file, mutant.start))


def judge(mutants: list[Mutant], *, room: str, root: Path, own: bool) -> Iterator[tuple[Mutant, str]]:
    """What became of each mutant, one by one: killed, survived, or not run by any test that is asked."""
    copy_tree(root)
    preload(room, root=root)
    files = [file for file in asked_files(room, root=root) if not own or file.startswith(f"tests/unit/{room}/")]
    sys.stderr.write(f"{len(files)} files of tests speak of {room}: finding what each test runs\n")
    coverage = [covered for file in files for covered in cover(file, room=room, root=root, notes=root / "notes.json")]
    home = root / "src" / "paneglow" / room
    ranges = {name: function_ranges(home / name) for name in {mutant.file for mutant in mutants}}
    file_seconds: dict[str, float] = defaultdict(lambda: 5.0)
    for covered in coverage:
        file_seconds[covered.test.partition("::")[0]] += covered.seconds
    for count, mutant in enumerate(mutants, 1):
        asked = asked_of(mutant, coverage=coverage, ranges=ranges[mutant.file])
        quick = [covered.test for covered in asked if covered.test and covered.seconds < SLOW_TEST_S]
        whole = list(dict.fromkeys(covered.test.partition("::")[0] for covered in asked if covered.test))
        path = home / mutant.file
        text = path.read_bytes()
        path.write_bytes(text[: mutant.start] + mutant.after.encode() + text[mutant.end :])
        try:
            outcome = "survived" if quick or whole else "not run"
            for tests, seconds in (
                (quick, sum(covered.seconds for covered in asked)),
                (whole, sum(file_seconds[file] for file in whole)),
            ):
                limit_s = 15.0 + 3.0 * seconds
                if tests and in_child(lambda tests=tests: run_tests(tests, root=root), limit_s=limit_s) != 0:
                    outcome = "killed"
                    break
        finally:
            path.write_bytes(text)
        place = f"{mutant.file}:{mutant.line} {mutant.function}"
        sys.stderr.write(f"{count}/{len(mutants)} {outcome}: {place}: {mutant.before} -> {mutant.after}\n")
        yield mutant, outcome


def main() -> int:
    """Make, run and record mutants; the exit code is 1 where a survivor is not explained."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--room", choices=ROOMS, required=True)
    parser.add_argument("--number", type=int, default=60, help="how many mutants are drawn")
    parser.add_argument("--seed", type=int, default=1, help="which ones")
    parser.add_argument("--file", help="only of files that end like this")
    parser.add_argument("--list", action="store_true", help="print every mutant, run none")
    parser.add_argument("--own", action="store_true", help="ask the room's own tests alone; --again then asks all")
    parser.add_argument("--again", action="store_true", help="run the recorded survivors without an explanation again")
    arguments = parser.parse_args()
    mutants = choose(arguments)
    if arguments.list:
        for mutant in mutants:
            sys.stdout.write(f"{mutant.file}:{mutant.line} {mutant.function}: {mutant.before} -> {mutant.after}\n")
        sys.stdout.write(f"{len(mutants)} mutants\n")
        return 0
    began = time.monotonic()
    counts = {"killed": 0, "survived": 0, "not run": 0}
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        # Recorded one by one: a run that is stopped keeps what it has found
        for mutant, outcome in judge(mutants, room=arguments.room, root=Path(folder).resolve(), own=arguments.own):
            counts[outcome] += 1
            record(mutant, outcome, room=arguments.room)
            if not arguments.again:
                shown = {name.replace(" ", "_"): count for name, count in counts.items()}
                write_summary(
                    arguments.room, file=arguments.file or "", seed=arguments.seed, tried=sum(counts.values()), **shown
                )
    unexplained = sum(not row["explanation"] for row in read_records(arguments.room))
    sys.stdout.write(
        f"{arguments.room}: {sum(counts.values())} mutants, {counts}, {time.monotonic() - began:.0f} s; "
        f"{unexplained} survivors in {RECORDS / f'{arguments.room}.csv'} have no explanation yet\n"
    )
    return 1 if unexplained else 0


if __name__ == "__main__":
    raise SystemExit(main())
