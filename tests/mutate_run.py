"""Which tests run a line of the rules, and whether they notice a fault in it: no file is written in the checkout.

The program and the tests are loaded once. Each fault is put into a fork of that process: a function gets the code of
the file with the fault; what is worked out while a file is loaded (tables, classes) is loaded with the fault in a fork
that had loaded nothing of the program. Which test runs which line is seen once for each test file, and kept until that
file changes.
"""

from __future__ import annotations

import ast
import functools
import gc
import hashlib
import importlib
import importlib.abc
import importlib.machinery
import importlib.util
import json
import operator
import os
import pickle
import resource
import signal
import sys
import tempfile
import threading
import time
import traceback
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import accumulate
from pathlib import Path
from types import CodeType, FrameType, FunctionType, ModuleType
from typing import Any, Protocol

import pytest

ROOT = Path(__file__).parent.parent
RULES = ("tickets/domain", "tickets/calculator")
OURS = ("tickets", "web")
LONG = {
    "test_simulated_shop", "test_cli_process", "test_backup", "test_nightly", "test_whole_way", "test_imports",
    "test_house", "test_words", "test_eight_heads_both_ways",
}  # fmt: skip
"""They take long, or look at the files: what runs here is not in them."""
WITHOUT = ("slow", "browser")
BUDGET_S = 15
"""So many seconds of a processor the tests of one fault may take; if none failed by then, it counts as not noticed."""
MOST_S = 60
"""A fault that keeps one test busy until here is noticed too."""
SIDE_BY_SIDE = 2

Bits = int
"""A set of tests of one file: bit N is the Nth."""


# -- forks


@dataclass(frozen=True)
class Done:
    """What a fork gave back, whether it was ended by force, and the seconds of a processor that it took."""

    given: Any
    by_force: bool
    seconds: float


def forked(jobs: Iterable[Callable[[], Any]], quiet: bool = True) -> Iterator[tuple[int, Done]]:
    """Runs jobs in forks of this process, two at a time; (number of the job, what came of it) as they end."""
    running: dict[int, tuple[int, Path]] = {}
    with tempfile.TemporaryDirectory() as made:

        def one_ended() -> tuple[int, Done]:
            pid, status, used = os.wait4(-1, 0)
            number, file = running.pop(pid)
            by_force = os.WIFSIGNALED(status)
            given = None if by_force else pickle.loads(file.read_bytes())
            file.unlink(missing_ok=True)
            if isinstance(given, Broken):
                raise RuntimeError(given.why)
            return number, Done(given, by_force, used.ru_utime + used.ru_stime)

        for number, job in enumerate(jobs):
            if len(running) == SIDE_BY_SIDE:
                yield one_ended()
            file = Path(made) / str(number)
            sys.stdout.flush()
            pid = os.fork()
            if not pid:
                _work(job, file, quiet)
            running[pid] = number, file
        while running:
            yield one_ended()


@dataclass(frozen=True)
class Broken:
    """What a fork gives that could not do its work: why."""

    why: str


def _work(job: Callable[[], Any], file: Path, quiet: bool) -> None:
    """The work of a fork, from which it does not come back."""
    try:
        if quiet:
            nothing = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nothing, 1)
            os.dup2(nothing, 2)
        try:
            given = job()
        except BaseException:
            given = Broken(traceback.format_exc())
        part = file.with_suffix(".part")
        part.write_bytes(pickle.dumps(given))
        part.rename(file)
    finally:
        os._exit(0)


# -- which test runs which line


class Ran:
    """The lines of the rules that ran, and the functions of the whole program, since it was last asked."""

    ENOUGH = 400
    """After so many calls of a function in one test its lines are known."""

    def __init__(self, by_line: bool = True) -> None:
        self.by_line = by_line
        self.known: dict[int, Any] = {}
        self.codes: list[CodeType] = []  # so that no two ever have the same id
        self.lines: dict[str, set[int]] = defaultdict(set)
        self.calls: dict[int, int] = defaultdict(int)

    def __call__(self, frame: FrameType, _event: str, _arg: object) -> Any:
        code = frame.f_code
        at = id(code)
        if at not in self.known:
            self.codes.append(code)
            self.known[at] = self._watch(code)
        watch = self.known[at]
        return None if watch is None else watch()

    def _watch(self, code: CodeType) -> Any:
        name = name_of(code)
        if name is None:
            return None
        lines, calls, at, first = self.lines, self.calls, id(code), code.co_firstlineno
        if not (self.by_line and name.startswith(RULES)):
            return lambda: lines[name].add(0)

        def line(frame: FrameType, _event: str, _arg: object) -> Any:
            lines[name].add(frame.f_lineno - first)
            return line

        def watch() -> Any:
            calls[at] += 1
            if calls[at] > self.ENOUGH:
                return None
            lines[name].add(0)
            return line

        return watch

    def taken(self) -> dict[str, set[int]]:
        """What ran; from here on nothing did."""
        found = dict(self.lines)
        self.lines.clear()
        self.calls.clear()
        return found


def name_of(code: CodeType) -> str | None:
    """`tickets/domain/bucket.py:Bucket.fits`: a function of the program; None: not of it."""
    file = code.co_filename
    if not file.startswith(f"{ROOT}/"):
        return None
    file = file[len(str(ROOT)) + 1 :]
    return f"{file}:{code.co_qualname}" if file.startswith(OURS) else None


@dataclass
class Seen:
    """Of one test file: its tests with the seconds each took, and for each function which of them ran which line."""

    file: str
    tests: list[tuple[str, float]]
    ran: dict[str, dict[int, Bits]]


def kept_in() -> Path:
    """Where what was seen is kept: no part of the checkout."""
    folder = Path(tempfile.gettempdir()) / f"which-test-runs-what-{hashlib.sha256(str(ROOT).encode()).hexdigest()[:12]}"
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder


def kept(file: Path) -> Path:
    """The file in which what was seen of a test file is kept, named after what is in it. What its shops are built from
    is not in the name: a line that other tests run by now costs a test that could have noticed a fault, no more."""
    return kept_in() / f"{file.stem}-{hashlib.sha256(file.read_bytes()).hexdigest()[:16]}.json"


def kept_of(file: Path) -> list[Path]:
    """What is kept of a test file, whatever was in it when it was seen."""
    return [one for one in kept_in().glob(f"{file.stem}-*.json") if one.name.rpartition("-")[0] == file.stem]


@functools.cache
def test_files() -> list[Path]:
    """The test files that speak of the rules, those first that ask them directly, not through pages or commands."""
    found = []
    for file in sorted((ROOT / "tests").glob("test_*.py")):
        text, _tree = _test_file(file.name)
        if file.stem not in LONG and any(f"from {top.replace('/', '.')}" in text for top in RULES):
            found.append(file)
    return sorted(found, key=lambda file: (through_pages(file.name), file))


@functools.cache
def through_pages(file: str) -> bool:
    """Whether the tests of a file ask the rules through pages or commands, not directly."""
    text, _tree = _test_file(file)
    return any(word in text for word in ("Flask", "CliRunner", "commands("))


def see(items: list[pytest.Item]) -> Seen:
    """Runs the tests of one file and sees which lines they run; those that fail are left out."""
    by_itself(items[0])
    ran, tests = Ran(), []
    rows: dict[str, dict[int, Bits]] = defaultdict(lambda: defaultdict(int))
    for item, after in zip(items, [*items[1:], None], strict=True):
        began = time.process_time()
        threading.settrace(ran)
        sys.settrace(ran)
        failed = fails(item, after)
        sys.settrace(None)
        threading.settrace(None)  # type: ignore[arg-type]
        found = ran.taken()
        if failed:
            continue
        for name, lines in found.items():
            for line in lines:
                rows[name][line] |= 1 << len(tests)
        tests.append((item.nodeid, time.process_time() - began))
    return Seen(items[0].path.name, tests, {name: dict(lines) for name, lines in rows.items()})


def write(file: Path, seen: Seen) -> None:
    """Keeps what was seen, in the place of what was seen earlier of the same test file."""
    for earlier in kept_of(file):
        earlier.unlink()
    said = {name: {line: hex(bits) for line, bits in lines.items()} for name, lines in seen.ran.items()}
    kept(file).write_text(json.dumps({"tests": seen.tests, "ran": said}), encoding="utf-8")


@functools.cache
def all_seen() -> list[Seen]:
    """What is kept of every test file; of one that changed since it was seen, what was seen of it before."""
    found = []
    for file in test_files():
        for one in [kept(file)] if kept(file).exists() else kept_of(file):
            read = json.loads(one.read_text(encoding="utf-8"))
            ran = {
                name: {int(line): int(bits, 16) for line, bits in lines.items()} for name, lines in read["ran"].items()
            }
            found.append(Seen(file.name, [(name, took) for name, took in read["tests"]], ran))
    return found


# -- where a fault is, and who runs it


@dataclass(frozen=True)
class Place:
    """The outermost function that a fault is in (empty: none) with its first line, and the lines that would run it."""

    file: str
    function: str
    first: int
    inner: str
    inner_first: int
    lines: range
    names: frozenset[str]
    """Outside of functions: what is given a value there, by which others know it."""


def place_of(file: str, tree: ast.Module, line: int) -> Place:
    """Where a line is."""
    outer, inner, names, statement = "", "", set(), range(line, line + 1)
    outer_first = inner_first = 0
    around: ast.AST = tree
    path = ""
    while True:
        inside = [
            one for one in _parts(around)
            if _first(one) <= line <= (one.end_lineno or 0)
        ]  # fmt: skip
        if not inside:
            break
        around = inside[0]
        if isinstance(around, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            body_first = around.body[0].lineno
            path = f"{path}.{around.name}" if path else around.name
            names.add(around.name)
            if isinstance(around, ast.FunctionDef | ast.AsyncFunctionDef) and line >= body_first:
                if not outer:
                    outer, outer_first = path, _first(around)
                inner, inner_first = path, _first(around)
                path += ".<locals>"
        else:
            targets = around.targets if isinstance(around, ast.Assign) else [getattr(around, "target", None)]
            names |= {one.id for one in targets if isinstance(one, ast.Name)}
            compound = getattr(around, "body", None) or getattr(around, "cases", None)
            last = around.end_lineno or around.lineno
            statement = range(around.lineno, last + 1) if not compound else statement
    return Place(file, outer, outer_first, inner, inner_first, statement, frozenset(names))


def _parts(node: ast.AST) -> Iterator[Any]:
    """The statements right inside a statement."""
    for _name, value in ast.iter_fields(node):
        for one in value if isinstance(value, list) else [value]:
            if isinstance(one, ast.stmt):
                yield one
            elif isinstance(one, ast.excepthandler | ast.match_case):
                yield from _parts(one)


def _first(node: ast.stmt) -> int:
    return min([node.lineno, *(one.lineno for one in getattr(node, "decorator_list", []))])


@functools.cache
def known_by(name: str) -> frozenset[str]:
    """The functions of the program whose code speaks of that name."""
    found = set()
    for file in sorted(one for top in OURS for one in (ROOT / top).rglob("*.py")):
        text = file.read_text(encoding="utf-8")
        if name not in text:
            continue
        codes = [compile(text, str(file), "exec", dont_inherit=True)]
        while codes:
            code = codes.pop()
            codes += [one for one in code.co_consts if isinstance(one, CodeType)]
            if name in {*code.co_names, *code.co_varnames}:
                found.add(name_of(code) or "")
    return frozenset(found - {""})


def tests_for(place: Place, line: int) -> list[str]:
    """The tests that run a place, those first that are likeliest to notice a fault there (that ask the rules directly,
    in a file named after that subject), quick ones before slow ones and no file before another for long; as many as
    there is time for."""
    word = Path(place.file).stem.rstrip("s").replace("_", "")
    if place.inner and not any(f"{place.file}:{place.inner}" in seen.ran for seen in all_seen()):
        place = replace(place, inner="", names=frozenset({place.inner.rpartition(".")[2]}))  # by who calls it
    whole = f"{place.file}:{place.inner}"
    ranked = []
    for seen in all_seen():
        near = _near(
            seen, place, line
        )  # then those that run the function: its lines may have moved since they were seen
        far = _all(seen.ran.get(whole, {}).values()) if place.inner else _of_file(seen, place.file)
        named = word in Path(seen.file).stem.replace("_", "")
        weight = (0.2 if named else 1) * (1 if through_pages(seen.file) else 0.2)
        for bits, behind in (near, 0.0), (far & ~near, 1000.0):
            so_far = behind
            for took, name in sorted((took, name) for at, (name, took) in enumerate(seen.tests) if bits >> at & 1):
                so_far += took
                ranked.append((so_far * weight, name, took))
    ranked.sort()
    sums = accumulate(took for _so_far, _name, took in ranked)
    return [name for (_so_far, name, _took), so_far in zip(ranked, sums, strict=True) if so_far < 2 * BUDGET_S]


def _near(seen: Seen, place: Place, line: int) -> Bits:
    """The tests of a file that run a line of a function; outside of functions: that run a function which speaks of what
    is given a value there, or speak of it themselves."""
    if place.inner:
        lines = seen.ran.get(f"{place.file}:{place.inner}", {})
        of_line = lines.get(line - place.inner_first, 0)
        return of_line or _all(lines.get(one - place.inner_first, 0) for one in place.lines)
    speak = frozenset().union(*(known_by(name) for name in place.names))
    bits = _all(_all(seen.ran[name].values()) for name in speak & seen.ran.keys())
    said = frozenset().union(*(spoken_of(seen.file, name) for name in place.names))
    for at, (test, _took) in enumerate(seen.tests):
        bits |= (test.partition("::")[2].partition("[")[0] in said) << at
    return bits


def _of_file(seen: Seen, file: str) -> Bits:
    """The tests that run anything of a file."""
    return _all(_all(lines.values()) for name, lines in seen.ran.items() if name.startswith(f"{file}:"))


def _all(several: Iterable[Bits]) -> Bits:
    return functools.reduce(operator.or_, several, 0)


@functools.cache
def _test_file(file: str) -> tuple[str, ast.Module]:
    text = (ROOT / "tests" / file).read_text(encoding="utf-8")
    return text, ast.parse(text)


@functools.cache
def spoken_of(file: str, name: str) -> frozenset[str]:
    """The tests of a file that speak of that name; all of them, where it is what they share that does."""
    text, tree = _test_file(file)
    if name not in text:
        return frozenset()
    tests = {one.name for one in tree.body if isinstance(one, ast.FunctionDef) and one.name.startswith("test_")}
    speak = {
        getattr(one, "name", "")
        for one in tree.body
        if not isinstance(one, ast.Import | ast.ImportFrom)
        and any(name in (getattr(part, "id", ""), getattr(part, "attr", "")) for part in ast.walk(one))
    }
    return frozenset(tests & speak if speak <= tests else tests)


# -- faults put in


def put_into_functions(file: str, place: Place, tree: ast.Module) -> bool:
    """Gives the function that is running here the code of that tree; False: that cannot be done to it."""
    path = str(ROOT / file)
    new = [
        code for code in _codes(compile(tree, path, "exec", dont_inherit=True))
        if (code.co_qualname, code.co_firstlineno) == (place.function, place.first)
    ]  # fmt: skip
    functions, kept_answers = loaded()
    old = functions.get((path, place.function, place.first), [])
    if len(new) != 1 or not old or any(len(one.__code__.co_freevars) != len(new[0].co_freevars) for one in old):
        return False
    for one in old:
        one.__code__ = new[0]
    for answers in kept_answers:
        answers.cache_clear()
    return True


@functools.cache
def loaded() -> tuple[dict[tuple[str, str, int], list[FunctionType]], list[Any]]:
    """The functions of the rules by file, name and first line, and those of the program that keep their answers.

    Worked out once: to look at every object in a fork would copy the whole process.
    """
    functions = defaultdict(list)
    kept_answers = []
    for one in gc.get_objects():
        if isinstance(one, FunctionType) and (name_of(one.__code__) or "").startswith(RULES):
            code = one.__code__
            functions[code.co_filename, code.co_qualname, code.co_firstlineno].append(one)
        elif isinstance(one, functools._lru_cache_wrapper) and str(one.__module__).startswith(OURS):
            kept_answers.append(one)
    return functions, kept_answers


def _codes(code: CodeType) -> Iterator[CodeType]:
    yield code
    for one in code.co_consts:
        if isinstance(one, CodeType):
            yield from _codes(one)


class Loaded(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Loads one module with a fault in it."""

    def __init__(self, file: str, tree: ast.Module) -> None:
        self.file, self.tree = ROOT / file, tree
        self.module = self.name_of(file)

    @staticmethod
    def name_of(file: str) -> str:
        """The name of the module that a file is."""
        return file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")

    def find_spec(self, name: str, *_more: object) -> importlib.machinery.ModuleSpec | None:
        if name != self.module:
            return None
        return importlib.util.spec_from_file_location(name, self.file, loader=self)

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self.tree, str(self.file), "exec", dont_inherit=True), module.__dict__)


# -- tests run


def by_itself(item: pytest.Item) -> None:
    """Gives this fork a folder of its own for what its tests write."""
    factory = item.config._tmp_path_factory  # type: ignore[attr-defined]
    factory._given_basetemp = Path(tempfile.mkdtemp(dir=factory._given_basetemp.parent)) / "t"
    factory._basetemp = None


def fails(item: pytest.Item, after: pytest.Item | None) -> bool:
    """Whether a test fails; what it shares with the test after it is kept."""
    from _pytest.runner import runtestprotocol

    return any(report.failed for report in runtestprotocol(item, log=False, nextitem=after))


def first_failing(items: list[pytest.Item]) -> str | None:
    """The first test that fails."""
    most = round(time.process_time() + MOST_S)
    resource.setrlimit(resource.RLIMIT_CPU, (most, most))
    signal.alarm(10 * MOST_S)  # a test that waits for something that never comes takes no time of the processor
    began = time.process_time()
    if items:
        by_itself(items[0])
    for item, after in zip(items, [*items[1:], None], strict=False):
        over = time.process_time() - began > BUDGET_S
        if fails(item, None if over else after):
            return item.nodeid
        if over:
            break
    return None


class Loop:
    """Takes the place of pytest's own loop over the tests: `act` gets them all."""

    def __init__(self, act: Callable[[list[pytest.Item]], Any]) -> None:
        self.act = act
        self.broken = False

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = [one for one in items if not any(one.get_closest_marker(name) for name in WITHOUT)]

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        self.broken |= report.failed

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        self.act(session.items)
        return True


def with_tests(files: Iterable[str], act: Callable[[list[pytest.Item]], Any]) -> bool:
    """Loads those test files and gives `act` their tests; False: one could not be loaded."""
    os.chdir(ROOT)
    loop = Loop(act)
    with tempfile.TemporaryDirectory() as made:
        said = [
            "-q", "-q", "-s", "-n", "0", "--assert=plain", "-p", "no:cacheprovider", "--no-header", "--no-summary",
            "--continue-on-collection-errors", "-o", "tmp_path_retention_policy=none", "--basetemp", f"{made}/t",
            *files,
        ]  # fmt: skip
        pytest.main(said, plugins=[loop])
    return not loop.broken


# -- faults


class Fault(Protocol):
    """A fault: where it is, and the file with it."""

    @property
    def file(self) -> str: ...
    @property
    def line(self) -> int: ...
    @property
    def place(self) -> Place: ...
    def tree(self) -> ast.Module: ...


@dataclass(frozen=True)
class Came:
    """What came of a fault: what noticed it (empty: nothing), how many tests there were to notice it, and the seconds
    of a processor that it took."""

    fault: Any
    noticed: str
    tests: int
    seconds: float


LOADED_WITH = (
    "click", "coloraide", "flask", "flask.testing", "numpy", "PIL.Image", "pint", "reportlab.pdfgen.canvas",
    "segno", "sqlite_utils", "waitress",
)  # fmt: skip
"""What the program loads of others: loaded once, ahead of the forks that load the program with a fault."""
NEVER_ENDED = "it never came to an end"
NOT_LOADED = "it could not be loaded"


Heard = tuple[str, int]
"""What noticed a fault (empty: nothing), and how many tests there were."""


def noticed(faults: Mapping[int, Fault], told: Callable[[Came, int], None], todo: list[Path]) -> list[Came]:
    """What came of each fault; `told` is called as they come. Of the test files in `todo` it is seen anew which lines
    they run."""
    came = []

    def tell(number: int, heard: Heard, seconds: float) -> None:
        came.append(Came(faults[number], *heard, seconds))
        told(came[-1], number)

    for name in LOADED_WITH:
        importlib.import_module(name)
    inside = {number: fault for number, fault in faults.items() if fault.place.function}
    [(_at, first)] = forked([lambda: _in_functions(inside, told, todo)], quiet=False)
    heard, outside = first.given
    came += [Came(faults[number], *one, seconds) for number, (one, seconds) in heard.items()]
    others = [number for number in faults if number not in heard]
    for at, done in forked([lambda number=number: _while_loading(faults[number]) for number in others]):
        tell(others[at], done.given, done.seconds + outside.get(others[at], 0))
    return came


def _in_functions(
    faults: Mapping[int, Fault], told: Callable[[Came, int], None], todo: list[Path]
) -> tuple[dict[int, tuple[Heard, float]], dict[int, float]]:
    """What came of the faults inside of functions, and the seconds spent on those that must be loaded with the program
    all the same: what they change may have been worked out while it was loaded."""
    came: dict[int, tuple[Heard, float]] = {}
    left: dict[int, float] = {}
    at_load = _run_at_load()

    def act(items: list[pytest.Item]) -> None:
        see_all(items, todo)
        known = {item.nodeid: item for item in items}
        numbers = list(faults)
        chosen = {
            number: [known[test] for test in tests_for(fault.place, fault.line) if test in known]
            for number, fault in faults.items()
        }
        gc.unfreeze()  # what is frozen, as the tests do once they are collected, is not found
        loaded()
        gc.freeze()
        jobs = [lambda number=number: _in_function(faults[number], chosen[number]) for number in numbers]
        for at, done in forked(jobs):
            number, heard = numbers[at], done.given
            fault = faults[number]
            if heard is None or (not heard[0] and f"{fault.file}:{fault.place.function}" in at_load):
                left[number] = done.seconds
                continue
            came[number] = heard, done.seconds
            told(Came(fault, *heard, done.seconds), number)

    if not with_tests([f"tests/{one.name}" for one in test_files()], act):
        print("not every test file could be loaded", flush=True)
    return came, left


def _run_at_load() -> frozenset[str]:
    """The functions that run while the rules are loaded, which this does."""
    ran = Ran(by_line=False)
    sys.settrace(ran)
    for file in sorted(one for top in RULES for one in (ROOT / top).rglob("*.py")):
        importlib.import_module(Loaded.name_of(str(file.relative_to(ROOT))))
    sys.settrace(None)
    return frozenset(ran.taken())


def to_see(afresh: bool, as_seen: bool) -> list[Path]:
    """The test files of which it is to be seen which lines they run: those that changed since, all, or only those of
    which nothing was ever seen."""
    return [file for file in test_files() if afresh or not (kept_of(file) if as_seen else kept(file).exists())]


def see_all(items: list[pytest.Item], todo: list[Path]) -> None:
    """Sees which lines the tests of those files run."""
    by_file: dict[Path, list[pytest.Item]] = defaultdict(list)
    for item in items:
        by_file[item.path].append(item)
    todo = [file for file in todo if file in by_file]
    for at, done in forked([lambda file=file: see(by_file[file]) for file in todo]):
        seen = done.given
        write(todo[at], seen)
        failed = len(by_file[todo[at]]) - len(seen.tests)
        said = f", {failed} FAIL and are left aside" if failed else ""
        print(f"    {seen.file}: {len(seen.tests)} tests seen in {done.seconds:.0f} s{said}", flush=True)


def _in_function(fault: Fault, items: list[pytest.Item]) -> Heard | None:
    """What notices a fault in a function; None: it cannot be put in here."""

    def with_fault() -> tuple[bool, str | None]:
        put_in = put_into_functions(fault.file, fault.place, fault.tree())
        return put_in, first_failing(items) if put_in else None

    number = len(items)
    while True:
        [(_at, done)] = forked([with_fault])
        if done.by_force:
            return NEVER_ENDED, number
        put_in, failed = done.given
        if not put_in:
            return None
        if failed is None:
            return "", number
        alone = [item for item in items if item.nodeid == failed]
        [(_at, done)] = forked([lambda alone=alone: (first_failing(alone),)])
        if done.given == (None,):
            return failed, number
        items = [item for item in items if item.nodeid != failed]  # it fails without the fault too


def _while_loading(fault: Fault) -> Heard:
    """What notices a fault in what is worked out while a file is loaded."""
    tests = tests_for(fault.place, fault.line)

    def run(tests: list[str], finder: Loaded | None) -> str | None:
        if finder:
            sys.meta_path.insert(0, finder)
        failed: list[str | None] = []

        def act(items: list[pytest.Item]) -> None:
            known = {item.nodeid: item for item in items}
            failed.append(first_failing([known[test] for test in tests if test in known]))

        loaded = with_tests(sorted({test.partition("::")[0] for test in tests}), act)
        return failed[0] if loaded and failed else NOT_LOADED

    number = len(tests)
    while True:
        [(_at, done)] = forked([lambda tests=tests: (run(tests, Loaded(fault.file, fault.tree())),)])
        if done.by_force:
            return NEVER_ENDED, number
        (failed,) = done.given
        if failed is None:
            return "", number
        again = tests if failed == NOT_LOADED else [failed]
        [(_at, done)] = forked([lambda again=again: (run(again, None),)])
        if done.given == (None,) or (failed == NOT_LOADED and done.given != (NOT_LOADED,)):
            return failed, number
        if failed == NOT_LOADED:
            return "", number  # nor could they be loaded without the fault: that tells nothing
        tests = [test for test in tests if test != failed]
