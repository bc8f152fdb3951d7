"""The part of FHIRPath that shapes use, compiled once to Python functions over the nodes of a resource.

Paths, indexers, literals, ``= != and or & |``, and the functions of ``_FUNCTIONS`` (HL7 FHIRPath 2.0; the subset of
SQL-on-FHIR's ViewDefinition with ``where``, ``exists``, ``first``, ``extension``, ``ofType`` and strings). A node knows
where it stands in the resource. Tests hold the results against another implementation.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from functools import lru_cache
from typing import Any, NamedTuple

from woundfhir.errors import InputError

Json = Any


class Node(NamedTuple):
    """One value, and where it stands; () for what is computed."""

    path: tuple[Any, ...]
    value: Json


Nodes = list[Node]
Compiled = Callable[[Nodes], Nodes]
_TOKEN = re.compile(
    r"\s*(?:(?P<text>'(?:[^'\\]|\\.)*')|(?P<number>\d+(?:\.\d+)?)|(?P<constant>%\w+)|(?P<name>[A-Za-z_]\w*|\$this)"
    r"|(?P<sign>!=|[.()\[\],=&|]))"
)
_BLANK = re.compile(r"\s*")


@lru_cache(maxsize=4096)
def compiled(expression: str, constants: tuple[tuple[str, Json], ...] = ()) -> Compiled:
    """Return an expression as a function from nodes to nodes.

    Raises
    ------
    InputError
        For what is no expression, or is not of this part of FHIRPath: names the expression.

    Examples
    --------
    >>> came = {"code": {"coding": [{"system": "s", "code": "a"}]}}
    >>> compiled("code.coding.where(system = 's').code")([Node((), came)])
    [Node(path=('code', 'coding', 0, 'code'), value='a')]
    """
    return _Parser(expression, dict(constants)).whole()


class _Parser:
    """Recursive descent; each step returns a function."""

    def __init__(self, text: str, constants: Mapping[str, Json]) -> None:
        self.text = text
        self.constants = constants
        self.tokens: list[tuple[str, str]] = []
        at = 0
        while _BLANK.match(text, at).end() < len(text):  # type: ignore[union-attr]  # it matches nothing too
            found = _TOKEN.match(text, at)
            if found is None:
                raise self.wrong()
            self.tokens.append((str(found.lastgroup), found[str(found.lastgroup)]))
            at = found.end()
        self.at = 0

    def wrong(self) -> InputError:
        fix = "Paths, indexers, literals, = != and or & |, " + ", ".join(f"{name}()" for name in _FUNCTIONS)
        return InputError(self.text, "an expression of FHIRPath", fix)

    def peek(self) -> str:
        return self.tokens[self.at][1] if self.at < len(self.tokens) else ""

    def take(self, expected: str = "") -> str:
        if self.at >= len(self.tokens) or (expected and self.peek() != expected):
            raise self.wrong()
        self.at += 1
        return self.tokens[self.at - 1][1]

    def whole(self) -> Compiled:
        found = self.binary(0)
        if self.at < len(self.tokens):
            raise self.wrong()
        return found

    def binary(self, level: int) -> Compiled:
        """Operators, those that bind loosely first."""
        if level == len(_OPERATORS):
            return self.path()
        left = self.binary(level + 1)
        while self.peek() in _OPERATORS[level] and self.peek():
            left = _OPERATORS[level][self.take()](left, self.binary(level + 1))
        return left

    def path(self) -> Compiled:
        steps = [self.term()]
        while self.peek() in (".", "["):
            if self.take() == "[":
                steps.append(_index(int(self.take())))
                self.take("]")
            else:
                steps.append(self.member())
        return steps[0] if len(steps) == 1 else lambda nodes: _chain(steps, nodes)

    def term(self) -> Compiled:
        if self.at >= len(self.tokens):
            raise self.wrong()
        kind, text = self.tokens[self.at]
        if kind == "text":
            self.at += 1
            return _constant(re.sub(r"\\(.)", r"\1", text[1:-1]))
        if kind == "number":
            self.at += 1
            return _constant(Decimal(text) if "." in text else int(text))
        if kind == "constant":
            self.at += 1
            if text[1:] not in self.constants:
                raise self.wrong()
            return _constant(self.constants[text[1:]])
        if text == "(":
            self.take()
            inner = self.binary(0)
            self.take(")")
            return inner
        if text in ("true", "false"):
            self.at += 1
            return _constant(text == "true")
        return self.member()

    def member(self) -> Compiled:
        if self.at >= len(self.tokens) or self.tokens[self.at][0] != "name":
            raise self.wrong()
        name = self.take()
        if name == "$this":
            return lambda nodes: nodes
        if self.peek() != "(":
            return _child(name)
        if name not in _FUNCTIONS:
            raise self.wrong()
        self.take("(")
        args: list[Compiled] = []
        if name == "ofType":
            args.append(_constant(self.take()))
        while self.peek() != ")":
            if args:
                self.take(",")
            args.append(self.binary(0))
        self.take(")")
        low, high, make = _FUNCTIONS[name]
        if not low <= len(args) <= high:
            raise self.wrong()
        return make(*args)


def _chain(steps: list[Compiled], nodes: Nodes) -> Nodes:
    for step in steps:
        nodes = step(nodes)
    return nodes


def _constant(value: Json) -> Compiled:
    return lambda nodes: [Node((), value)]


def _index(number: int) -> Compiled:
    return lambda nodes: nodes[number : number + 1]


def _child(name: str) -> Compiled:
    """A member; ``value`` also finds ``valueQuantity`` and its like (FHIR's choice of types)."""
    choice = re.compile(rf"{name}[A-Z]\w*")

    def step(nodes: Nodes) -> Nodes:
        found: Nodes = []
        for path, value in nodes:
            if not isinstance(value, dict):
                continue
            if not path and value.get("resourceType") == name:
                found.append(Node(path, value))
                continue
            key = name if name in value else next((one for one in value if choice.fullmatch(one)), "")
            if key:
                found.extend(_items((*path, key), value[key]))
        return found

    return step


def _items(path: tuple[Any, ...], value: Json) -> Iterator[Node]:
    if isinstance(value, list):
        yield from (Node((*path, number), item) for number, item in enumerate(value) if item is not None)
    elif value is not None:
        yield Node(path, value)


def _truth(nodes: Nodes) -> bool:
    return bool(nodes) and (nodes[0].value is not False or len(nodes) > 1)


def _bool(value: bool) -> Nodes:
    return [Node((), value)]


def _equal(same: bool) -> Callable[[Compiled, Compiled], Compiled]:
    def make(left: Compiled, right: Compiled) -> Compiled:
        def step(nodes: Nodes) -> Nodes:
            one, two = [n.value for n in left(nodes)], [n.value for n in right(nodes)]
            return [] if not one or not two else _bool((one == two) is same)

        return step

    return make


def _text(nodes: Nodes) -> str:
    value = nodes[0].value if nodes else ""
    return {True: "true", False: "false"}[value] if isinstance(value, bool) else str(value)


def _where(test: Compiled) -> Compiled:
    return lambda nodes: [node for node in nodes if _truth(test([node]))]


def _exists(test: Compiled | None = None) -> Compiled:
    return lambda nodes: _bool(bool(nodes if test is None else _where(test)(nodes)))


def _extension(url: Compiled) -> Compiled:
    def step(nodes: Nodes) -> Nodes:
        return [one for one in _child("extension")(nodes) if one.value.get("url") == _text(url(nodes))]

    return step


def _of_type(name: Compiled) -> Compiled:
    def step(nodes: Nodes) -> Nodes:
        kind = _text(name([]))
        tails = (kind, f"{kind[0].upper()}{kind[1:]}")
        return [
            node
            for node in nodes
            if (isinstance(node.value, dict) and node.value.get("resourceType") == kind)
            or str(next((step for step in reversed(node.path) if isinstance(step, str)), "")).endswith(tails)
        ]

    return step


def _replace(old: Compiled, new: Compiled) -> Compiled:
    return lambda nodes: [
        Node(node.path, str(node.value).replace(_text(old([node])), _text(new([node])))) for node in nodes
    ]


def _starts(head: Compiled) -> Compiled:
    return lambda nodes: [] if not nodes else _bool(_text(nodes).startswith(_text(head(nodes))))


#: Name -> fewest and most arguments, and what makes the step: this table is where a function is added.
_FUNCTIONS: dict[str, tuple[int, int, Callable[..., Compiled]]] = {
    "where": (1, 1, _where),
    "exists": (0, 1, _exists),
    "empty": (0, 0, lambda: lambda nodes: _bool(not nodes)),
    "not": (0, 0, lambda: lambda nodes: _bool(not _truth(nodes)) if nodes else []),
    "first": (0, 0, lambda: _index(0)),
    "extension": (1, 1, _extension),
    "ofType": (1, 1, _of_type),
    "replace": (2, 2, _replace),
    "startsWith": (1, 1, _starts),
}
#: Loosest first; FHIRPath's own order of these.
_OPERATORS: tuple[dict[str, Callable[[Compiled, Compiled], Compiled]], ...] = (
    {"or": lambda a, b: lambda nodes: _logic(True, a(nodes), b(nodes))},
    {"and": lambda a, b: lambda nodes: _logic(False, a(nodes), b(nodes))},
    {"=": _equal(True), "!=": _equal(False)},
    {"|": lambda a, b: lambda nodes: _union(a(nodes), b(nodes))},
    {"&": lambda a, b: lambda nodes: [Node(_where_from(a(nodes), b(nodes)), _text(a(nodes)) + _text(b(nodes)))]},
)


def _logic(decides: bool, one: Nodes, two: Nodes) -> Nodes:
    """FHIRPath's logic of three values: one that decides, else nothing where one says nothing, else the other."""
    if any(nodes and _truth(nodes) is decides for nodes in (one, two)):
        return _bool(decides)
    return _bool(not decides) if one and two else []


def _union(one: Nodes, two: Nodes) -> Nodes:
    return [*one, *(node for node in two if all(node.value != other.value for other in one))]


def _where_from(*parts: Nodes) -> tuple[Any, ...]:
    """A text put together stands where its first part does that stands anywhere."""
    return next((node.path for part in parts for node in part if node.path), ())
