"""The house stands: arrows go one way, files keep one idea, and the words of an older house do not return."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.paths import ROOT

PACKAGE = ROOT / "woundfhir"
#: Folder -> the folders it may import from.
MAY = {
    "catalogue": set(),
    "record": {"catalogue"},
    "chart": {"catalogue", "record"},
    "measures": {"catalogue", "record", "chart"},
    "drawing": {"catalogue", "record", "chart", "measures"},
    "checklist": {"catalogue", "record", "chart", "measures"},
    "r4": set(),
    "fhir": {"catalogue", "record", "r4"},
    "intake": {"catalogue", "record", "r4", "fhir", "handover"},
    "jose": {"r4"},
    "photos": {"record"},
    "report": {"catalogue", "record", "checklist", "r4", "fhir", "intake"},
    "handover": {
        "catalogue",
        "record",
        "chart",
        "measures",
        "drawing",
        "checklist",
        "r4",
        "fhir",
        "intake",
        "jose",
        "photos",
        "report",
    },
    "demo": set(),
    "storage": set(),
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


@pytest.mark.parametrize("folder", sorted(MAY))
def test_arrows_go_one_way(folder: str) -> None:
    allowed = MAY[folder] | {folder, "errors", "limits", "site_file", "storage", "_version"}
    wrong = {
        str(p.relative_to(ROOT)): extra for p in (PACKAGE / folder).rglob("*.py") if (extra := imports(p) - allowed)
    }
    assert wrong == {}


def test_r4_is_a_general_library() -> None:
    """It imports nothing of ours but errors and limits, and so could be a package of its own."""
    wrong = {str(p.relative_to(ROOT)): imports(p) - {"r4", "errors", "limits"} for p in (PACKAGE / "r4").rglob("*.py")}
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
