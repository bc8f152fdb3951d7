"""Sentences of errors and reasons as they stand in the code: texts and f-strings that are handed to what makes one.

A slot is named after the expression of the f-string: its last name (``len(found)``: ``found``, ``error.where``:
``where``), numbered where a name comes twice.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from tests.paths import ROOT

#: What raises an error, or makes one, and what says why something is no fact: sentences stand in their arguments.
RAISING = frozenset(
    [
        "InputError",
        "Refused",
        "Refusal",
        "SeveralClients",
        "BundleIssue",
        "WoundfhirError",
        "refuse",
        "_refuse",
        "_refused",
        "Unwritable",
        "missing",
        "need",
        "fault",
        "_fault",
        "wrong",
        "_wrong",
        "bad",
        "__init__",
        "Reason",
        "leave",
    ]
)
_WORDS = re.compile(r"[a-z]{2}.*[a-z]{2}", re.DOTALL)


@cache
def sentences() -> dict[str, set[str]]:
    """Return every sentence, as a template, with the rooms in which it stands: read when a test asks."""
    found: dict[str, set[str]] = {}
    for path in sorted((ROOT / "woundfhir").rglob("*.py")):
        parts = path.relative_to(ROOT / "woundfhir").parts
        for text in _of_module(path):
            if _WORDS.search(re.sub(r"\{.*?\}", "", text)):
                found.setdefault(text, set()).add(parts[0].removesuffix(".py"))
    _tree.cache_clear()  # some hundred thousand objects, which every collection of garbage would look at
    return found


def _of_module(path: Path) -> Iterator[str]:
    tree = _tree(path)
    constants = {**_imported(tree), **_assigned(tree.body)}
    for scope in [tree, *(node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))]:
        local = constants if scope is tree else {**constants, **_assigned(list(ast.walk(scope)))}
        for node in ast.walk(scope):
            if isinstance(node, ast.Call) and _name(node.func) in RAISING:
                for given in (*node.args, *(one.value for one in node.keywords)):
                    yield from _texts(given, local)
            elif path.name == "faults.py" or "structure" in path.parts:
                for given in _of_structure(node):
                    yield from _texts(given, local)


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"))


def _imported(tree: ast.Module) -> dict[str, list[ast.expr]]:
    """Constants of other modules of ours, by the name that they have here."""
    found = {}
    for node in tree.body:
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("woundfhir."):
            path = ROOT / f"{str(node.module).replace('.', '/')}.py"
            there = _assigned(_tree(path).body) if path.is_file() else {}
            found |= {one.asname or one.name: there[one.name] for one in node.names if one.name in there}
    return found


def _of_structure(node: ast.AST) -> Iterator[ast.expr]:
    """Yield what an issue of structure expected and found, and why: handed to ``Issues.add``, or to an invariant."""
    if isinstance(node, ast.Call) and _name(node.func) == "add":
        yield from node.args[2:5]
    elif isinstance(node, ast.Call) and _name(node.func) in ("invariant", "holds"):
        yield from (one.value for one in node.keywords if one.arg in ("text", "found"))
    elif isinstance(node, ast.Yield) and isinstance(node.value, ast.Tuple):
        yield from node.value.elts[1:2]


def _assigned(nodes: list[ast.stmt] | list[ast.AST]) -> dict[str, list[ast.expr]]:
    found: dict[str, list[ast.expr]] = {}
    for node in nodes:
        if isinstance(node, ast.Assign):
            for target in node.targets:
                if isinstance(target, ast.Name):
                    found.setdefault(target.id, []).append(node.value)
                elif isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple):
                    for one, value in zip(target.elts, node.value.elts, strict=False):
                        if isinstance(one, ast.Name):
                            found.setdefault(one.id, []).append(value)
    return found


def _texts(node: ast.expr, local: dict[str, list[ast.expr]], depth: int = 0) -> Iterator[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.JoinedStr):
        yield template(node)
        for part in node.values:
            if isinstance(part, ast.FormattedValue) and not isinstance(part.value, ast.JoinedStr):
                yield from _texts(part.value, local, depth + 1)
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body, local, depth)
        yield from _texts(node.orelse, local, depth)
    elif isinstance(node, ast.BoolOp):
        for one in node.values:
            yield from _texts(one, local, depth)
    elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        yield _joined(node)
    elif isinstance(node, ast.Starred | ast.Subscript):
        yield from _texts(node.value, local, depth)
    elif isinstance(node, ast.Tuple | ast.Dict):
        for one in node.elts if isinstance(node, ast.Tuple) else node.values:
            yield from _texts(one, local, depth)
    elif isinstance(node, ast.Name) and depth < 3:
        for value in local.get(node.id, ()):
            yield from _texts(value, local, depth + 1)


def _joined(node: ast.BinOp) -> str:
    parts = [node.left, node.right]
    return "".join(
        part.value
        if isinstance(part, ast.Constant) and isinstance(part.value, str)
        else template(part)
        if isinstance(part, ast.JoinedStr)
        else _joined(part)
        if isinstance(part, ast.BinOp)
        else f"{{{_slot(part)}}}"
        for part in parts
    )


def template(node: ast.JoinedStr) -> str:
    """Return an f-string as a text with named slots."""
    out, seen = "", set[str]()
    for part in node.values:
        if isinstance(part, ast.Constant):
            out += str(part.value).replace("{", "{{").replace("}", "}}")
        elif isinstance(part, ast.FormattedValue):
            name, number = _slot(part.value), 1
            while (name if number == 1 else f"{name}{number}") in seen:
                number += 1
            name = name if number == 1 else f"{name}{number}"
            seen.add(name)
            out += f"{{{name}}}"
    return out


def _slot(node: ast.expr) -> str:
    names = [one for one in ast.walk(node) if isinstance(one, ast.Name | ast.Attribute)]
    if isinstance(node, ast.Call) and node.args:
        return _slot(node.args[0])
    if isinstance(node, ast.Attribute):
        return node.attr.lstrip("_")
    if isinstance(node, ast.Name):
        return node.id.lstrip("_").lower() or "it"
    if isinstance(node, ast.Subscript | ast.Starred | ast.Await):
        return _slot(node.value)
    if isinstance(node, ast.GeneratorExp | ast.ListComp):
        return _slot(node.generators[0].iter)
    return (_name(names[0]).lstrip("_").lower() or "it") if names else "words"


def _name(node: ast.expr) -> str:
    return node.id if isinstance(node, ast.Name) else node.attr if isinstance(node, ast.Attribute) else ""
