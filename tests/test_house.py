"""The house stands: arrows go one way, files keep one idea, and the words of an older house do not return."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

from tests.lanes import FOLDERS
from tests.paths import ROOT

PACKAGE = ROOT / "woundfhir"
#: Folders of the package, and what each imports of the others: the table of DEVELOPERS.md.
_ROW = re.compile(r"^\| `woundfhir/(\w+)/` \| .* \| ([^|]*) \|$", re.MULTILINE)
MAY = {
    folder: set() if names == "nothing" else set(names.split(", "))
    for folder, names in _ROW.findall((ROOT / "DEVELOPERS.md").read_text("utf-8"))
    if names != "all"
}


def modules() -> list[Path]:
    return sorted(path for path in PACKAGE.rglob("*.py"))


def imports(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("woundfhir."):
            found.add(node.module.split(".")[1])
        elif isinstance(node, ast.Import):
            found |= {alias.name.split(".")[1] for alias in node.names if alias.name.startswith("woundfhir.")}
    return found


#: Modules beside the folders that any folder may import.
_COMMON = {
    "border",
    "collector",
    "errors",
    "extras",
    "language",
    "likeness",
    "limits",
    "messages",
    "packed",
    "precedence",
    "scratch",
    "secret",
    "site_file",
    "texts",
    "_version",
}


@pytest.mark.parametrize("folder", sorted(MAY))
def test_each_folder_imports_what_the_table_says(folder: str) -> None:
    found = {path: imports(path) - {folder} - _COMMON for path in (PACKAGE / folder).rglob("*.py")}
    wrong = {str(path.relative_to(ROOT)): extra for path, names in found.items() if (extra := names - MAY[folder])}
    assert wrong == {}
    assert MAY[folder] - set().union(*found.values()) == set(), "DEVELOPERS.md names what is not imported"


def test_the_table_has_every_folder() -> None:
    folders = {path.parent.name for path in PACKAGE.glob("*/__init__.py")}
    assert folders - {"cli"} == set(MAY)


# -- inside folders ----------------------------------------------------------------------------------


def _name(path: Path) -> str:
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def arrows() -> dict[str, set[str]]:
    """Module -> the modules of ours that it imports: at its top, inside a function, and for types alone."""
    names = {_name(path) for path in modules()}
    found: dict[str, set[str]] = {}
    for path in modules():
        named: set[str] = set()
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "woundfhir":
                here = node.module.partition(".")[2]
                named |= {inner if (inner := f"{here}.{one.name}".strip(".")) in names else here for one in node.names}
            elif isinstance(node, ast.Import):
                named |= {one.name.partition(".")[2] for one in node.names if one.name.startswith("woundfhir.")}
        found[_name(path)] = (named & names) - {_name(path), ""}
    return found


def reaches(graph: dict[str, set[str]], start: str, end: str) -> bool:
    waiting, seen = [start], {start}
    while waiting:
        for one in graph[waiting.pop()]:
            if one == end:
                return True
            if one not in seen:
                seen.add(one)
                waiting.append(one)
    return False


def test_no_module_imports_itself_in_a_circle() -> None:
    graph = arrows()
    assert {(name, one) for name, named in graph.items() for one in named if reaches(graph, one, name)} == set()


def test_a_circle_is_found() -> None:
    assert reaches({"a": {"b"}, "b": {"c"}, "c": {"a"}}, "b", "a")
    assert not reaches({"a": {"b"}, "b": {"c"}, "c": set()}, "b", "a")
    assert "catalogue.load" in arrows()["catalogue"]  # through the folder's own file
    assert "fhir.terms" in arrows()["intake.resources"]


def test_tests_read_nothing_beside_the_checkout() -> None:
    """What they need from outside lives in tests/data, so that a clone is whole."""
    shared = "shared" + "/reference"
    found = [path.name for path in (ROOT / "tests").rglob("*.py") if shared in path.read_text("utf-8")]
    assert found == []


@pytest.mark.parametrize("lane", FOLDERS)
def test_a_marked_test_lies_where_its_lane_looks(lane: str) -> None:
    """CI looks for the tests of a mark in the folders of ``tests/lanes.py`` alone; one elsewhere would never run."""
    mark = re.compile(rf"\bmark\.{lane}\b")
    files = [path for path in (ROOT / "tests").rglob("*.py") if mark.search(path.read_text("utf-8"))]
    inside = {path for folder in FOLDERS[lane] for path in (ROOT / folder).rglob("*.py")}
    assert [str(path.relative_to(ROOT)) for path in files if path not in inside] == []


def test_r4_is_a_general_library() -> None:
    """It imports nothing of ours but three general modules, and so could be a package of its own."""
    may = {"r4", "errors", "limits", "precedence"}
    wrong = {str(path.relative_to(ROOT)): imports(path) - may for path in (PACKAGE / "r4").rglob("*.py")}
    assert {path: extra for path, extra in wrong.items() if extra} == {}


def test_nothing_imports_the_tools() -> None:
    assert [
        p.name for p in modules() if "import tools" in p.read_text("utf-8") or "from tools" in p.read_text("utf-8")
    ] == []


def test_the_record_knows_no_fhir() -> None:
    for path in (PACKAGE / "record").rglob("*.py"):
        tree = ast.parse(path.read_text("utf-8"))
        names = {n.id for n in ast.walk(tree) if isinstance(n, ast.Name)} | {
            n.attr for n in ast.walk(tree) if isinstance(n, ast.Attribute)
        }
        assert not names & {"Observation", "Procedure", "CarePlan", "Bundle", "resourceType"}, path.name
