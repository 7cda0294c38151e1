"""The rules of the house: which room may import which, and what every file keeps to."""

import ast
import re
import sys
import tomllib
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "sproutlapse"

# The picture in DEVELOPERS.md, from the ground up. A room may import rooms that stand in a row before its own.
FLOORS = (
    # What everything may use: errors and progress in words, the tray and its file, crop facts, what travels.
    {
        "sproutlapse",
        "errors",
        "plainly",
        "progress",
        "spent",
        "figures",
        "tray",
        "trayfile",
        "trayproblems",
        "crops",
        "results",
    },
    {"frames"},
    {"vision"},
    {"work"},
    {"growth"},
    {"care", "report", "film", "first", "card", "demo"},
    {"compare", "season", "watch"},
    {"outputs"},
    {"job"},
    {"cli", "desk"},
    {""},  # __main__
)
# Modules of the ground floor stand on one another; that they do so without a circle is looked at below.
GROUND = FLOORS[0]


def _sources() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def _all_python() -> list[Path]:
    return [*_sources(), *sorted((ROOT / "scripts").rglob("*.py")), *sorted((ROOT / "tests").rglob("*.py"))]


def _module(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {_module(path): path for path in _sources()}


def _room(module: str) -> str:
    """`sproutlapse.vision.scale` stands in the room vision, `sproutlapse.care_light` in the room care."""
    return module.split(".")[1].partition("_")[0] if "." in module else module


def _imports(path: Path) -> set[str]:
    """All modules of ours that a file imports, inside functions and for types as well."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names if alias.name in MODULES}
        elif isinstance(node, ast.ImportFrom):
            assert not node.level, f"{path.name} imports relatively"
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                found |= {name for name in (whole if whole in MODULES else node.module,) if name in MODULES}
    return found


def _floor(room: str) -> int:
    return next((n for n, rooms in enumerate(FLOORS) if room in rooms), len(FLOORS))


def test_every_module_has_its_place_in_the_house():
    rooms = {_room(module) for module in MODULES}
    assert rooms <= set().union(*FLOORS), "give the new room its floor here and in the picture of DEVELOPERS.md"


def test_nothing_imports_upwards_or_sideways():
    wrong = []
    for module, path in MODULES.items():
        for other in _imports(path):
            here, there = _room(module), _room(other)
            if here != there and not {here, there} <= GROUND and _floor(there) >= _floor(here):
                wrong.append(f"{module} imports {other}")
    assert wrong == []


def test_imports_run_in_no_circle():
    edges = {module: _imports(path) - {module} for module, path in MODULES.items()}
    done: set[str] = set()

    def walk(module: str, trail: tuple[str, ...]) -> None:
        assert module not in trail, " -> ".join((*trail, module))
        if module not in done:
            for other in edges[module]:
                walk(other, (*trail, module))
            done.add(module)

    for module in edges:
        walk(module, ())


@pytest.mark.parametrize("path", _all_python(), ids=lambda path: path.relative_to(ROOT).as_posix())
def test_a_file_stays_below_400_lines(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) < 400


def test_no_file_knows_the_machine_it_was_written_on():
    folders = "|".join(("work", "opt", "home", "root", "Users", "mnt", "tmp", "srv"))
    machine = re.compile(rf"(?<![\w.~/}}-])/(?:{folders})/\w|\b[A-Z]:\\\\?Users")
    texts = [ROOT / name for name in ("README.md", "DEVELOPERS.md", "pyproject.toml", ".ci/run")]
    texts += [path for path in PACKAGE.rglob("*") if path.suffix in (".html", ".css", ".js", ".toml")]
    wrong = [
        f"{path.relative_to(ROOT)}: {found[0]}"
        for path in [*_all_python(), *texts]
        if path.is_file() and (found := machine.search(path.read_text(encoding="utf-8")))
    ]
    assert wrong == []


def test_no_two_test_files_share_a_name():
    names = Counter(path.name for path in (ROOT / "tests").rglob("test_*.py"))
    assert [name for name, count in names.items() if count > 1] == []


def test_the_package_list_matches_the_folders():
    listed = set(tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]["packages"])
    folders = {_module(path) for path in PACKAGE.rglob("__init__.py")}
    assert listed == folders | {"sproutlapse.example"}


def test_nothing_is_used_that_only_some_systems_have():
    unix_only = {"fcntl", "grp", "posix", "pwd", "resource", "termios", "tty"}
    for path in _sources():
        tree = ast.parse(path.read_text(encoding="utf-8"))
        names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
        names |= {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and node.module}
        assert not names & unix_only, path.name


def test_text_is_read_and_written_as_utf_8_by_name():
    """The default differs from system to system."""
    for path in _all_python():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                place = {"read_text": 1, "write_text": 2}.get(node.func.attr)
                if place is not None:
                    named = any(keyword.arg == "encoding" for keyword in node.keywords)
                    assert named or len(node.args) >= place, f"{path.name}, line {node.lineno}"


@pytest.mark.parametrize("name", ["_setup.py", "demo.py", "test.py"])
def test_the_two_commands_need_nothing_but_the_standard_library(name):
    tree = ast.parse((ROOT / "scripts" / name).read_text(encoding="utf-8"))
    modules = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    modules |= {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    tops = {module.partition(".")[0] for module in modules}
    assert tops <= set(sys.stdlib_module_names) | {"_setup"}
