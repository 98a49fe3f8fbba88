"""The layers: imports run one way, and each foreign thing is known in one place only."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
RULES = {"tickets.calculator", "tickets.i18n"}
DOMAIN = {
    "tickets.domain",
    *(f"tickets.domain.{name}" for name in ("jobs", "runs", "screens", "desk", "lists", "papers")),
}
LAYERS: dict[str, set[str]] = {
    "tickets.i18n": set(),
    "tickets.calculator": {"tickets.i18n"},
    "tickets.domain": RULES,
    "tickets.domain.jobs": {"tickets.domain", *RULES},
    "tickets.domain.runs": {"tickets.domain.jobs", "tickets.domain", *RULES},
    "tickets.domain.screens": {"tickets.domain.runs", "tickets.domain.jobs", "tickets.domain", *RULES},
    "tickets.domain.desk": {"tickets.domain", *RULES},
    "tickets.domain.lists": {"tickets.domain", *RULES},
    "tickets.domain.papers": {*DOMAIN, *RULES},
    "tickets.store": {*DOMAIN, *RULES},
    "tickets.paper": {*DOMAIN, *RULES},
    "tickets.queries": {"tickets.store", "tickets.paper", *DOMAIN, *RULES},
    "tickets.actions": {"tickets.queries", "tickets.store", "tickets.paper", *DOMAIN, *RULES},
}
TOP = {"tickets.demo", "tickets.cli", "web"}
BELOW_WEB = {*LAYERS, "tickets"}
ALLOWED: dict[str, set[str]] = {
    **LAYERS,
    "tickets.demo": BELOW_WEB,
    "web": {*BELOW_WEB, "tickets.demo"},
    "tickets.cli": {*BELOW_WEB, "tickets.demo", "web"},
    "tickets": set(),
}
"""Which parts of the program each part may import, itself aside."""

HOMES = {
    "sqlite3": {"tickets.store"},
    "sqlite_utils": {"tickets.store"},
    "flask": {"web"},
    "werkzeug": {"web"},
    "jinja2": {"web"},
    "markupsafe": {"web"},
    "reportlab": {"tickets.paper"},
    "segno": {"tickets.paper"},
    "fontpkg_noto_sans": {"tickets.paper"},
    "pint": {"tickets.calculator"},
    "coloraide": {"tickets.calculator"},
    "click": {"tickets.cli"},
    "waitress": {"web", "tickets.cli"},
    "platformdirs": {"tickets.cli", "tickets.store", "tickets.actions"},
    "PIL": {"tickets.actions", "tickets.paper"},
    "openpyxl": {"tickets.domain.lists"},
}
"""Where each foreign package may be imported."""


def files() -> list[Path]:
    found = [*(ROOT / "tickets").rglob("*.py"), *(ROOT / "web").rglob("*.py")]
    assert len(found) > 30
    return found


def module_of(path: Path) -> str:
    parts = list(path.relative_to(ROOT).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def part_of(module: str) -> str:
    names = module.split(".")
    if names[0] != "tickets" or len(names) == 1:
        return names[0]
    return ".".join(names[: 3 if ".".join(names[:3]) in DOMAIN else 2])


def imports(path: Path, *, types: bool = True) -> list[tuple[str, list[str]]]:
    """(module, names) of every import of a file, those inside functions too; without `types`, not those under
    TYPE_CHECKING."""
    found: list[tuple[str, list[str]]] = []
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped: set[ast.AST] = set()
    for node in ast.walk(tree):
        if not types and isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            skipped |= {inner for statement in node.body for inner in ast.walk(statement)}
    for node in ast.walk(tree):
        if node in skipped:
            continue
        if isinstance(node, ast.Import):
            found += [(alias.name, []) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports are absolute"
            found.append((node.module or "", [alias.name for alias in node.names]))
    return found


def reached(module: str, names: list[str]) -> set[str]:
    """The parts of the program that an import reaches: `from tickets import demo` reaches tickets.demo."""
    if module == "tickets" and names:
        folder = ROOT / "tickets"
        known = {name for name in names if (folder / name).is_dir() or (folder / f"{name}.py").is_file()}
        return {f"tickets.{name}" for name in known} or {"tickets"}
    if module == "tickets.domain":
        return {part_of(f"tickets.domain.{name}") for name in names}
    return {part_of(module)}


@pytest.mark.parametrize("path", files(), ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_run_one_way(path: Path) -> None:
    own = part_of(module_of(path))
    assert own in ALLOWED, f"{own} is a new part: give it its place among the layers"
    for module, names in imports(path):
        if module.split(".")[0] not in {"tickets", "web"}:
            continue
        wrong = reached(module, names) - ALLOWED[own] - {own, "tickets"}
        assert not wrong, f"{own} imports {', '.join(sorted(wrong))}"


def test_no_file_imports_itself_by_way_of_others() -> None:
    """No circle among the files, imports inside functions included."""
    paths = {module_of(path): path for path in files()}
    wanted = {name: {one for one in asked_by(path, paths) if one != name} for name, path in paths.items()}
    while free := {name for name, others in wanted.items() if not others & wanted.keys()}:
        wanted = {name: others for name, others in wanted.items() if name not in free}
    circles = {name: sorted(others & wanted.keys()) for name, others in wanted.items()}
    assert not circles


def asked_by(path: Path, paths: Mapping[str, Path]) -> set[str]:
    """The files of the program that a file imports."""
    found = set()
    for module, names in imports(path, types=False):
        for name in names or [""]:
            whole = f"{module}.{name}"
            found.add(whole if whole in paths else module)
    return found & paths.keys()


@pytest.mark.parametrize("path", files(), ids=lambda path: str(path.relative_to(ROOT)))
def test_each_foreign_package_has_its_home(path: Path) -> None:
    own = part_of(module_of(path))
    for module, names in imports(path, types=False):
        package = module.split(".")[0]
        if package == "sqlite_utils" and names == ["Database"] and own in {
            "tickets.queries", "tickets.actions", "tickets.cli", "web", "tickets.demo",
        }:  # fmt: skip
            continue  # the handle that the store gives out, as a type
        if package == "sqlite3" and only_its_errors(path):
            continue
        if module == "werkzeug.security" and own == "tickets.actions":
            continue  # the hashing of secrets, which knows nothing of pages
        if package in HOMES:
            assert own in HOMES[package], f"{own} imports {package}"
        elif package not in {"tickets", "web"}:
            assert package in sys.stdlib_module_names or package == "__future__", f"{package} has no home yet"


def only_its_errors(path: Path) -> bool:
    """True when a file uses nothing of sqlite3 but the names of its errors, and its version to tell it."""
    used = [
        node.attr
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "sqlite3"
    ]
    return bool(used) and all(name.endswith("Error") or name == "sqlite_version" for name in used)


@pytest.mark.parametrize("path", files(), ids=lambda path: str(path.relative_to(ROOT)))
def test_only_the_store_speaks_sql(path: Path) -> None:
    if part_of(module_of(path)) == "tickets.store":
        return
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            assert node.func.attr not in {"execute", "executemany", "executescript", "query"}, f"line {node.lineno}"
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            words = node.value.split()
            assert not (len(words) > 2 and words[0] in {"SELECT", "INSERT", "UPDATE", "DELETE"}), f"line {node.lineno}"


def test_the_command_line_starts_light() -> None:
    """What every command loads imports only click and the standard library at its top, the rest when it is used; the
    module of a command is loaded when that command is asked for."""
    folder = ROOT / "tickets" / "cli"
    for path in [*folder.glob("*.py")]:
        if path.name in {"calc.py", "__main__.py"}:  # the calculator is what `tickets calc` is there for
            continue
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.Import):
                modules = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                whole = node.module == "tickets"  # `from tickets import i18n` names a module of it
                modules = [f"tickets.{alias.name}" for alias in node.names] if whole else [node.module or ""]
            else:
                continue
            for module in modules:
                package = module.split(".")[0]
                ours = module in {"tickets.i18n", "tickets.cli"} or module.startswith("tickets.cli.")
                assert ours or package in {*sys.stdlib_module_names, "click"}, f"{path.name}: {module}"


def test_the_calculator_loads_no_other_command() -> None:
    code = "import sys; from tickets.cli import root; root.get_command(None, 'calc'); print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, capture_output=True, text=True)
    loaded = done.stdout.split()
    others = {f"tickets.cli.{path.stem}" for path in (ROOT / "tickets" / "cli").glob("*.py")}
    light = ("__init__", "__main__", "calc", "given", "options", "output", "refused", "reply", "spoken")
    others -= {f"tickets.cli.{name}" for name in light}
    assert "tickets.cli.calc" in loaded and not others & set(loaded)
    assert not {"flask", "sqlite_utils", "reportlab"} & set(loaded)


def test_the_pure_rules_take_the_clock_as_an_argument() -> None:
    """No file of the rules or the calculator asks the system for the time, the folder or the network."""
    for path in [*(ROOT / "tickets/domain").rglob("*.py"), *(ROOT / "tickets/calculator").rglob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute):
                assert node.attr not in {"now", "utcnow", "today"}, f"{path.name}, line {node.lineno}"
        modules = {module.split(".")[0] for module, _names in imports(path)}
        assert not modules & {"os", "socket", "subprocess", "urllib.request", "sqlite3", "requests"}, path.name
