"""The Python interface in the guide, out of signatures and docstrings."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

import woundfhir
from woundfhir.guide.markdown import block, code, page, plain, table

#: A heading of numpydoc, underlined.
_HEADING = re.compile(r"^([A-Z][\w ]+)\n-{3,}\n", re.MULTILINE)


def pages() -> Iterator[tuple[str, str, Callable[[], str]]]:
    """Yield the name, title and maker of the list of public names and of each."""
    yield "python", "Python", _list
    for name in names():
        yield f"python/{name}", f"woundfhir.{name}", partial(_page, name)


def names() -> list[str]:
    """Return the public names that are documented."""
    return [name for name in woundfhir.__all__ if name != "__version__"]


def _list() -> str:
    rows = ((f"[{name}](python/{name}.md)", plain(_first(getattr(woundfhir, name)))) for name in names())
    return page(
        "Python",
        "Everything that `import woundfhir` offers. The names follow semantic versioning: see "
        "[Versions](versions.md). Every error is a `WoundfhirError`, without a value of a client in it.",
        table(("name", "what it is"), rows),
    )


def _first(found: Any) -> str:
    return (inspect.getdoc(found) or "").split("\n\n", 1)[0].replace("\n", " ").replace("``", "`")


def _page(name: str) -> str:
    found = getattr(woundfhir, name)
    parts = [*_described(found, f"woundfhir.{name}")]
    if inspect.isclass(found) and not issubclass(found, Exception):
        for member in _members(found):
            parts += [f"## {member}", *_described(inspect.getattr_static(found, member), f"{name}.{member}")]
    return page(f"woundfhir.{name}", *parts)


def _members(found: type) -> list[str]:
    """Public methods and properties that have words of their own, in the order of the class."""
    every = (
        name for one in reversed(found.__mro__[:-1]) if one.__module__.startswith("woundfhir") for name in vars(one)
    )
    return [
        name for name in dict.fromkeys(every) if name[0] != "_" and _documented(inspect.getattr_static(found, name))
    ]


def _documented(member: Any) -> bool:
    inner = getattr(member, "fget", None) or getattr(member, "__func__", member)
    return inspect.isfunction(inner) and bool(inner.__doc__)


def _described(found: Any, name: str) -> Iterator[str]:
    inner = getattr(found, "fget", None) or getattr(found, "__func__", found)
    if callable(inner) and not isinstance(found, property) and not _error(found):
        yield block(f"{name}{_signature(inner)}", "text")
    head, *rest = _HEADING.split(inspect.getdoc(inner) or "")
    yield _prose(head)
    for heading, body in zip(rest[::2], rest[1::2], strict=True):
        yield f"**{heading}**"
        yield block(body.strip(), "pycon") if heading == "Examples" else _entries(body)


def _signature(found: Any) -> str:
    """The signature, its annotations as they stand in the code."""
    return re.sub(r"(: |-> )'([^']*)'", r"\1\2", str(inspect.signature(found)))


def _error(found: Any) -> bool:
    return inspect.isclass(found) and issubclass(found, Exception)


def _entries(body: str) -> str:
    """Return names with their descriptions, as numpydoc writes them: the name, its description indented below it."""
    if not re.search(r"^ ", body, re.MULTILINE):
        return _prose(body)
    parts = re.split(r"^(?=\S)", body.strip("\n"), flags=re.MULTILINE)
    rows = (one.strip().partition("\n") for one in parts if one.strip())
    return "\n".join(f"- {code(name)}: {_prose(words)}" for name, _, words in rows)


def _prose(text: str) -> str:
    parts = (" ".join(part.split()) for part in text.strip().split("\n\n"))
    return "\n\n".join(plain(part.replace("``", "`")) for part in parts if part)
