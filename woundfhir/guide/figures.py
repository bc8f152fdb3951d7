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
    parts = [plain(read["about"]), "## What is in it", table(("what", "how many"), _counts())]
    for group in read["group"]:
        rows = ((plain(one["what"]), plain(one["value"])) for one in group.get("figure", ()))
        nothing = "" if group.get("figure") else "No figure stands here yet: run the command."
        when = f"Measured: {plain(group['when'])}" if "when" in group else nothing
        made = f"The command:\n\n{block(group['command'])}" if "command" in group else ""
        parts += [f"## {group['title']}", plain(group["about"]), table(("what", "measured"), rows), when, made]
    return page("Figures", *parts)


def _counts() -> Iterator[tuple[str, str]]:
    """What is counted when the page is made."""
    from woundfhir.catalogue import catalogue
    from woundfhir.guide.profiles import known as definitions
    from woundfhir.guide.rules import known as rules
    from woundfhir.maps import in_force

    words = [word for one in catalogue().answers.values() for word in one.words]
    kinds = [one["resourceType"] for one in definitions().values()]
    yield "things that can be charted, with their fields", str(sum(1 for _ in catalogue().concepts(fields=True)))
    yield "answers in lists", str(len(words))
    yield "rules of the checklist", str(len(rules()))
    yield "profiles and extensions, value sets", f"{kinds.count('StructureDefinition')}, {kinds.count('ValueSet')}"
    yield "codes of others that are read", str(len(in_force().by_code))
