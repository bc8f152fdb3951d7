"""What was measured, from ``figures.toml``: each figure with the command that gives it."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from importlib.resources import files

from woundfhir.guide.markdown import block, page, plain, table


def pages() -> Iterator[tuple[str, str, Callable[[], str]]]:
    """Yield the page of the figures."""
    yield "figures", "Figures", _page


def _page() -> str:
    read = tomllib.loads((files("woundfhir.guide") / "figures.toml").read_text("utf-8"))
    parts = [plain(read["about"])]
    for group in read["group"]:
        rows = ((plain(one["what"]), plain(one["value"])) for one in group.get("figure", ()))
        made = "" if not group.get("command") else f"The command:\n\n{block(group['command'])}"
        head = f"## {group['title']}"
        parts += [head, plain(group["about"]), table(("what", "measured"), rows), made]
    return page("Figures", *parts)
