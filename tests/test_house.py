"""The rules of the house, each held by reading the program's own text."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from tickets.calculator import kinds
from tickets.calculator.catalogue import CATALOGUE
from tickets.domain.cautions import CAUTIONS
from tickets.domain.desk.shop_settings import SETTINGS
from tickets.domain.limits import CONDITIONS, LIMITS
from tickets.domain.person import ROLES
from tickets.domain.stages import MOVES

ROOT = Path(__file__).parent.parent
CODE = sorted([*(ROOT / "tickets").rglob("*.py"), *(ROOT / "web").rglob("*.py")])
TEMPLATES = sorted((ROOT / "web" / "templates").rglob("*.html"))

MOST_LINES, MOST_BRANCHES, MOST_LETTERS = 60, 15, 160
BRANCHES = (ast.If, ast.IfExp, ast.For, ast.While, ast.ExceptHandler, ast.match_case)
"""What counts as a branch: if and elif, the if of a value, a loop, an except, a case; no `and`, no comprehension."""
INSIDE = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Lambda)

CALLED_BY_OTHERS = re.compile(r"\.(get|post|route|before_app_request)\(?|^command\(|^migrations\(")
"""Decorators that hand a function to a library, which then calls it."""
BY_LIBRARY = {
    "tickets.cli._Root.list_commands": "click asks it for the names of the commands",
    "web.Shop.redirect": "Flask's own `redirect` asks the program for it",
    "web.Numbered.to_python": "werkzeug reads the number of an address by it",
    "web._LogFile._open": "logging opens its file by it",
    "web._LogFile.handleError": "logging tells it what could not be written",
}
"""What nobody here calls, and why it is there."""

WITH_TAGS = {
    "tickets/cli/service.py": "writes the task that Windows takes, which is XML",
}
"""Python that writes tags, and why."""

TAG = re.compile(r"</?[a-z][a-z0-9]*(\s[^<>]*)?/?>", re.IGNORECASE)


def test_there_is_something_to_look_at() -> None:
    assert len(CODE) > 150 and len(TEMPLATES) > 50


# Functions ------------------------------------------------------------------------------------------------------


def branches_of(function: ast.AST) -> int:
    """The branches of a function, without those of the functions inside it."""
    found = 0
    for inner in ast.iter_child_nodes(function):
        if not isinstance(inner, INSIDE):
            found += isinstance(inner, BRANCHES) + branches_of(inner)
    return found


def too_big(text: str) -> list[str]:
    """Functions that are too long or have too many branches, without a `# whole: why` in the line above."""
    lines, found = text.splitlines(), []
    for one in ast.walk(ast.parse(text)):
        if not isinstance(one, (ast.FunctionDef, ast.AsyncFunctionDef)):
            continue
        long = (one.end_lineno or one.lineno) - one.lineno + 1
        over = long > MOST_LINES or branches_of(one) > MOST_BRANCHES
        first = min([one.lineno, *(decorator.lineno for decorator in one.decorator_list)])
        above = lines[first - 2].strip() if first > 1 else ""
        said = re.fullmatch(r"# whole: .{20,}", above) is not None
        if over and not said:
            found.append(f"{one.name}: {long} lines, {branches_of(one)} branches")
        if said and not over:
            found.append(f"{one.name}: is small by now, and still says why it is not")
    return found


@pytest.mark.parametrize("path", CODE, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_function_is_short_or_says_why_it_is_better_whole(path: Path) -> None:
    assert too_big(path.read_text()) == []


def test_a_long_function_and_a_branching_one_are_found() -> None:
    long = "def one():\n" + "    a = 1\n" * 60
    assert too_big(long) == ["one: 61 lines, 0 branches"]
    assert too_big("# whole: it is one formula, from its top to its end\n" + long) == []
    assert too_big("# whole: no\n" + long) != []
    assert too_big("def one():\n" + "    a = 1\n" * 59) == []
    assert too_big("def one(a):\n" + "    if a: a = 1\n" * 16) == ["one: 17 lines, 16 branches"]
    assert too_big("def one(a):\n" + "    if a: a = 1\n" * 15) == []
    assert too_big("# whole: it was long, once upon a time\ndef one():\n    return 1") != []


# Text of pages --------------------------------------------------------------------------------------------------


def tags_in(text: str) -> list[str]:
    """The tags in the strings of Python code; those of docstrings, addresses (`/jobs/<code>`) and patterns aside."""
    tree, found = ast.parse(text), []
    told = {
        id(one.value) for one in ast.walk(tree) if isinstance(one, ast.Expr) and isinstance(one.value, ast.Constant)
    }
    for one in ast.walk(tree):
        if isinstance(one, ast.Constant) and isinstance(one.value, str) and id(one) not in told:
            said = one.value
            if not re.match(r"/[\w/<>:(), -]*$", said) and "(?P" not in said and TAG.search(said):
                found.append(said)
    return found


@pytest.mark.parametrize("path", CODE, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_page_is_written_in_python(path: Path) -> None:
    found = tags_in(path.read_text())
    assert bool(found) is (str(path.relative_to(ROOT)) in WITH_TAGS), found


def test_a_tag_in_a_string_is_found_and_an_address_is_none() -> None:
    assert tags_in('a = "<b>bold</b>"') == ["<b>bold</b>"]
    assert tags_in('a = f"<a href={b}>"') == [] and tags_in('a = f"<p>{b}</p>"') == ["<p>", "</p>"]
    assert tags_in("a = '<br/>'") == ["<br/>"]
    assert tags_in('"""<b> is told of"""\nb = "/jobs/<code>"; c = "(?P<name>x)"') == []


def test_a_line_of_a_template_fits() -> None:
    long = [line for path in TEMPLATES for line in path.read_text().splitlines() if len(line) > MOST_LETTERS]
    assert not long, sorted(long, key=len)[-5:]


MOST_VALUES = 7
"""What a page hands to its template: a value of what is shown, one or two of who asked and how, and small words."""
STILL_MANY = {
    "web/buckets.py": 14, "web/desk.py": 12, "web/job_form.py": 19, "web/learning.py": 17,
    "web/places.py": 17, "web/printing.py": 13, "web/repeats.py": 11, "web/scan.py": 12,
    "web/screen_life.py": 14, "web/screens.py": 11, "web/settings.py": 14, "web/spec.py": 11, "web/steps.py": 8,
    "web/stocktake.py": 10, "web/trace.py": 12,
}  # fmt: skip
"""Files whose pages hand over more as yet, and the most of one of them: to become less, never more."""


def handed(text: str) -> list[int]:
    """How many values each page of a text hands to its template, by name or in a table that is spread out (`**`)."""
    calls = [one for one in ast.walk(ast.parse(text)) if isinstance(one, ast.Call)]
    named = [one for one in calls if isinstance(one.func, ast.Name) and one.func.id in {"page", "desk_page"}]
    return [len(one.keywords) for one in named]


def test_a_page_hands_few_values_to_its_template() -> None:
    most = {str(path.relative_to(ROOT)): max(handed(path.read_text()), default=0) for path in CODE}
    assert {name: number for name, number in most.items() if number > MOST_VALUES} == STILL_MANY


def test_what_a_page_hands_over_is_counted() -> None:
    assert handed("page('a.html', 200, it=1, form=2)\npage('b.html', **told, it=1)\nother(a=1)") == [2, 2]


# Names ----------------------------------------------------------------------------------------------------------


def classes() -> Iterator[tuple[str, str]]:
    """The classes of the house, each with its file."""
    for path in CODE:
        for one in ast.walk(ast.parse(path.read_text())):
            if isinstance(one, ast.ClassDef):
                yield one.name, str(path.relative_to(ROOT))


def test_a_class_name_means_one_thing() -> None:
    where: dict[str, list[str]] = {}
    for name, file in classes():
        where.setdefault(name, []).append(file)
    assert {name: files for name, files in where.items() if len(files) > 1} == {}


# Who is called --------------------------------------------------------------------------------------------------


def module_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


class Callers:
    """Who uses what in some modules: each function and class by its full name, whatever it was imported as."""

    def __init__(self, texts: Mapping[str, str], pages: str = "") -> None:
        self.trees = {module: ast.parse(text) for module, text in texts.items()}
        self.imported = {module: self._imports(tree) for module, tree in self.trees.items()}
        self.users: dict[str, set[str]] = {}
        self.words = set(re.findall(r"\w+", pages))
        for module, tree in self.trees.items():
            for part in tree.body:
                own = isinstance(part, (ast.FunctionDef, ast.ClassDef))
                self._read(module, part, f"{module}.{part.name}" if own else module)  # type: ignore[attr-defined]

    @staticmethod
    def _imports(tree: ast.Module) -> dict[str, str]:
        found = {}
        for one in ast.walk(tree):
            if isinstance(one, ast.ImportFrom):
                found |= {each.asname or each.name: f"{one.module}.{each.name}" for each in one.names}
            elif isinstance(one, ast.Import):
                found |= {each.asname: each.name for each in one.names if each.asname}
        return found

    def _read(self, module: str, part: ast.AST, user: str) -> None:
        known = self.imported[module]
        for one in ast.walk(part):
            if isinstance(one, ast.Name) and isinstance(one.ctx, ast.Load):
                self._used(known.get(one.id, f"{module}.{one.id}"), user)
            elif isinstance(one, ast.Attribute):
                self.words.add(one.attr)
                names, within = [one.attr], one.value
                while isinstance(within, ast.Attribute):
                    names, within = [within.attr, *names], within.value
                if isinstance(within, ast.Name) and within.id in known:
                    self._used(".".join([known[within.id], *names]), user)

    def _used(self, name: str, user: str) -> None:
        """A use of a thing by its full name, or by that of a module which only hands it on."""
        for _hop in range(5):
            self.users.setdefault(name, set()).add(user)
            module, _dot, last = name.rpartition(".")
            if last not in self.imported.get(module, {}):
                return
            name = self.imported[module][last]

    def unused(self) -> Iterator[str]:
        """Functions and classes that only their own text names, and methods whose name no text and no page has."""
        for module, tree in self.trees.items():
            for part in tree.body:
                if not isinstance(part, (ast.FunctionDef, ast.ClassDef)):
                    continue
                name = f"{module}.{part.name}"
                handed = any(CALLED_BY_OTHERS.search(ast.unparse(one)) for one in part.decorator_list)
                if not handed and not part.name.startswith("__") and self.users.get(name, set()) <= {name}:
                    yield name
                for one in part.body if isinstance(part, ast.ClassDef) else ():
                    method = isinstance(one, ast.FunctionDef) and not one.name.startswith("__")
                    if method and one.name not in self.words:  # type: ignore[union-attr]
                        yield f"{name}.{one.name}"  # type: ignore[union-attr]


def test_nothing_is_there_that_only_tests_call() -> None:
    texts = {module_of(path): path.read_text() for path in CODE}
    pages = " ".join(path.read_text() for path in TEMPLATES)
    assert set(Callers(texts, pages).unused()) == set(BY_LIBRARY)


def test_what_nobody_calls_is_found() -> None:
    rules = "def used(): ...\ndef handed_on(): ...\ndef dead(): return dead()\nclass Told:\n    def quiet(self): ...\n"
    face = "from rules import dead, handed_on\n"
    page = "import rules as r\nfrom face import handed_on as known\nr.used(); known(); r.Told()\n"
    view = "from flask import bp\n@bp.get('/')\ndef view(): ...\n"
    found = Callers({"rules": rules, "face": face, "page": page, "view": view})
    assert list(found.unused()) == ["rules.dead", "rules.Told.quiet"]
    assert list(Callers({"rules": rules, "page": page, "face": face}, "{{ told.quiet() }}").unused()) == ["rules.dead"]


# One fact in one place ------------------------------------------------------------------------------------------


TABLES: dict[str, tuple[set[str], set[str]]] = {
    "limits": (set(LIMITS), {"domain/limits.py", "calculator/defaults.py"}),
    "conditions": (set(CONDITIONS), {"domain/limits.py", "queries/kept_files.py"}),
    "settings": (set(SETTINGS), {"domain/desk/shop_settings.py"}),
    "steps": (set(MOVES), {"domain/stages.py", "domain/steps.py", "domain/screens/screen_log.py"}),
    "calculations": (set(CATALOGUE), {"calculator/catalogue.py"}),
    "kinds of work": (set(kinds.WORK), {"calculator/kinds.py", "calculator/defaults.py"}),
    "frames": (set(kinds.FRAMES), {"calculator/kinds.py"}),
    "emulsions": (set(kinds.EMULSIONS), {"calculator/kinds.py"}),
    "lamps": (set(kinds.LAMPS), {"calculator/kinds.py"}),
    "inks": (set(kinds.INKS), {"calculator/kinds.py", "domain/runs/setup.py"}),
    "places": (set(kinds.PLACES), {"calculator/kinds.py"}),
    "roles": (set(ROLES), {"domain/person.py", "web/people.py", "web/may.py"}),
    "cautions": (set(CAUTIONS), {"domain/cautions.py"}),
}
"""What there is one list of, and where its names may stand as one: there, where each has its case, and where a file to
take along tells of each."""
MOST_OF_A_LIST, FEWEST = 0.6, 3


def typed_again(text: str) -> list[str]:
    """The lists above whose names mostly stand in one literal of a text: tuple, list, set, or the keys of a table."""
    found = []
    for one in ast.walk(ast.parse(text)):
        parts: list[ast.expr | None] = []
        if isinstance(one, (ast.Tuple, ast.List, ast.Set)):
            parts = [each.elts[0] if isinstance(each, ast.Tuple) and each.elts else each for each in one.elts]
        elif isinstance(one, ast.Dict):
            parts = list(one.keys)
        names = {each.value for each in parts if isinstance(each, ast.Constant)}
        if len(names) < FEWEST:
            continue
        for table, (known, _homes) in TABLES.items():
            if len(names & known) >= max(FEWEST, MOST_OF_A_LIST * len(known)):
                found.append(table)
    return found


def test_what_there_is_one_list_of_is_typed_once() -> None:
    again = [
        (table, str(path.relative_to(ROOT)))
        for path in CODE
        for table in typed_again(path.read_text())
        if str(path.relative_to(ROOT)).removeprefix("tickets/") not in TABLES[table][1]
    ]
    assert again == []


def test_a_list_that_is_typed_again_is_found() -> None:
    assert (
        typed_again('a = ("aluminium", "wood", "roller")')
        == ["frames"]
        == typed_again('b = (("wood", 1), ("roller", 2), ("aluminium", 3))')
    )
    assert typed_again('c = {"one-colour": 1, "colours": 2, "halftone": 3}') == ["kinds of work"]
    assert typed_again('d = ("aluminium", "wood")') == []


# What comes from outside ---------------------------------------------------------------------------------------


READERS = {
    "calculator/numerals.py", "calculator/several.py", "calculator/typed.py", "calculator/units.py",
    "calculator/colour_text.py", "domain/outside.py",
}  # fmt: skip
"""Where text of other people becomes a number, a day, a time or data: each with a bound."""
NUMBER = {"int", "float", "complex", "Decimal", "Fraction"}
LIKE_NUMBERS = {"isdigit", "isdecimal", "isnumeric", "fromisoformat", "strptime"}
NUMBERS_OF_OURS = Path(__file__).parent / "numbers_of_ours.txt"


def reads_numbers(text: str) -> list[str]:
    """Where code may make a number, a day or data of a text: what is a number by its look (a sum, a comparison, a
    constant, what `round` or `len` gives) is left out."""
    found = []
    for one in ast.walk(ast.parse(text)):
        if not isinstance(one, ast.Call):
            continue
        called, first = one.func, one.args[0] if one.args else None
        if isinstance(called, ast.Attribute) and called.attr in LIKE_NUMBERS | {"loads", "IntRange", "FloatRange"}:
            found.append(ast.unparse(one))
        elif isinstance(called, ast.Name) and called.id in NUMBER and first is not None and not _a_number(first):
            found.append(ast.unparse(one))
        elif isinstance(called, ast.Name) and called.id == "map" and isinstance(first, ast.Name) and first.id in NUMBER:
            found.append(ast.unparse(one))
    return found


def _a_number(one: ast.expr) -> bool:
    if isinstance(one, ast.Constant):
        return not isinstance(one.value, str)
    by = one.func if isinstance(one, ast.Call) else None
    plain = isinstance(by, ast.Name) and by.id in {"round", "min", "max", "len", "sum", "abs", "any", "all", "bool"}
    return plain or isinstance(one, (ast.BinOp, ast.UnaryOp, ast.Compare))


def test_only_the_readers_make_numbers_of_text() -> None:
    """Whoever reads text from outside calls `numerals.counted`, `typed.whole`, `typed.take` or `outside`; of the rest
    each line of the list was looked at: it is a number already, or text that we wrote (all that the store reads is)."""
    found = sorted(
        f"{path.relative_to(ROOT)}: {one}"
        for path in CODE
        if not str(path.relative_to(ROOT)).removeprefix("tickets/").startswith(("store/", *READERS))
        for one in set(reads_numbers(path.read_text("utf-8")))
    )
    known = NUMBERS_OF_OURS.read_text("utf-8").splitlines()
    assert [one for one in found if one not in known] == [], "read it with numerals.counted, typed.whole or outside"
    assert [one for one in known if one not in found] == [], "is gone: take its line out"


def test_the_store_counts_what_somebody_searches_for_with_the_reader() -> None:
    found = [one for path in CODE if "/store/" in str(path) for one in reads_numbers(path.read_text("utf-8"))]
    assert not [
        one for one in found if re.search(r"group|\.is|fromiso|strp|\b(text|mark|asked)\b", one) and "json" not in one
    ]


def test_a_number_made_of_text_is_found() -> None:
    made = "int(text); float(form.one('x')); text.isdigit(); date.fromisoformat(day); map(int, parts); json.loads(sent)"
    assert len(reads_numbers(made)) == 6
    assert reads_numbers("int(a / b); float(1); int(round(a)); int(len(a)); counted(text); int()") == []
    assert reads_numbers("click.IntRange(1, 4)") == ["click.IntRange(1, 4)"]


# What is sent is data ---------------------------------------------------------------------------------------------

NO_DATA = {"pickle", "marshal", "shelve", "dill", "ctypes", "xml", "http.client", "urllib.request", "ftplib", "smtplib"}
RUN = {"eval", "exec", "compile", "__import__", "system", "popen", "urlopen", "Template", "from_string"}
PROCESSES = {"tickets/actions/picture_reader.py", "web/nights.py", "tickets/cli/service.py"}
"""Which begin a process of this program, or at the machine itself ask what starts services, with arguments of their
own and no shell."""
SENDS = {"tickets/actions/mail_server.py": {"smtplib"}}
"""What speaks with another machine: the shop's mail server, where one is set."""


def runs_what_is_sent(text: str) -> Iterator[str]:
    """Whatever in it could run, unpack or fetch what somebody sent, as it is called."""
    for one in ast.walk(ast.parse(text)):
        named = [one.module or ""] if isinstance(one, ast.ImportFrom) else []
        named += [alias.name for alias in one.names] if isinstance(one, ast.Import) else []
        yield from (name for name in named if name == "subprocess" or {name, name.split(".")[0]} & NO_DATA)
        if isinstance(one, ast.Call):
            called = one.func.id if isinstance(one.func, ast.Name) else getattr(one.func, "attr", "")
            compiles = called == "compile" and isinstance(one.func, ast.Attribute)  # a pattern
            yield from ([called] if called in RUN and not compiles else [])
            yield from ("shell" for keyword in one.keywords if keyword.arg == "shell")


def test_nothing_that_is_sent_is_run_unpacked_or_fetched() -> None:
    found = {str(path.relative_to(ROOT)): set(runs_what_is_sent(path.read_text("utf-8"))) for path in CODE}
    asks = {"tickets/queries/ipp.py": {"http.client"}}  # of printers, at the addresses that the manager typed
    runs = {path: {"subprocess"} for path in PROCESSES}
    assert {path: what for path, what in found.items() if what} == SENDS | runs | asks
    seen = "import pickle; from urllib.request import urlopen; eval(x); run(x, shell=True); re.compile(x); os.system(x)"
    assert sorted(runs_what_is_sent(seen)) == ["eval", "pickle", "shell", "system", "urllib.request"]


def test_nothing_is_shown_unescaped() -> None:
    """Jinja escapes whatever a template shows; none says that it should not."""
    for path in TEMPLATES:
        assert not re.search(r"\|\s*safe\b|autoescape", path.read_text("utf-8")), path
