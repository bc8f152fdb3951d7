"""The pages of the guide: which there are, in which order, and where the text of each comes from.

A written page is a file below ``pages/``; the others are made from what they are about (the catalogue, the rules, the
commands, the definitions, the docstrings), so that they cannot say anything else. Links between pages are relative to
the folder of the guide: ``rules/PK03.md``, with an anchor where one is meant.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator
from difflib import get_close_matches
from functools import partial
from importlib.resources import files
from typing import NamedTuple

from woundfhir.catalogue import per_catalogue
from woundfhir.errors import InputError
from woundfhir.guide import api, commands, concepts, figures, profiles, rules

#: So long a word is looked for in the pages themselves.
_WORTH_SEARCHING = 3
#: The name of the first page.
HOME = "index"


class Page(NamedTuple):
    """One page: its name (``rules/PK03``), title, section, the page that lists it, and what makes its Markdown."""

    name: str
    title: str
    section: str
    parent: str
    make: Callable[[], str]

    @property
    def listed(self) -> bool:
        """Whether the contents name it; the others are named by a page that does."""
        return "/" not in self.name


#: What makes the pages that contents.toml calls by one name; the first page of each lists the others.
_MADE: dict[str, Callable[[], Iterator[tuple[str, str, Callable[[], str]]]]] = {
    "commands": commands.pages,
    "concepts": concepts.pages,
    "rules": rules.pages,
    "profiles": profiles.pages,
    "python": api.pages,
    "figures": figures.pages,
}


@per_catalogue()
def book() -> dict[str, Page]:
    """Return every page by its name, in the order of the contents.

    Examples
    --------
    >>> book()["rules/PK03"].title
    'PK03: packing-count-out'
    """
    out: dict[str, Page] = {}
    contents = tomllib.loads(_read("contents.toml"))
    for section in contents["section"]:
        for name in section["pages"]:
            made = _MADE.get(name)
            found = made() if made is not None else [(name, title_of(_written(name)), partial(_written, name))]
            parent = ""
            for one, title, make in found:
                parent = one if "/" not in one else parent
                out[one] = Page(one, title, section["title"], parent, make)
    return out


def find(topic: str) -> Page:
    """Return the page of a topic: its name, that of a verb, a rule, a concept or a profile.

    Raises
    ------
    InputError
        For a topic without a page; it names the nearest ones.

    Examples
    --------
    >>> find("pk03").name, find("assessment.length").name, find("check").name
    ('rules/PK03', 'concepts/assessment.length', 'commands/check')
    """
    wanted = topic.strip().casefold().removesuffix(".md").replace(" ", "-")
    names = {name.casefold(): page for name, page in book().items()}
    short = {name.rpartition("/")[2]: page for name, page in reversed(names.items())}
    found = names.get(wanted) or short.get(wanted)
    if found is None:
        close = _about(topic.strip().casefold()) or get_close_matches(wanted, [*names, *short], 3)
        listed = "`woundfhir guide` lists the pages, `woundfhir explain` the rules, `woundfhir catalogue` the concepts"
        raise InputError(
            "TOPIC", "a page of the guide", f"Did you mean {' or '.join(dict.fromkeys(close))}?" if close else listed
        )
    return found


def _about(words: str) -> list[str]:
    """Return the pages with these words in their title, else the written pages that use them most; three at most."""
    titled = [page.name for page in book().values() if words in page.title.casefold()]
    if titled or len(words) < _WORTH_SEARCHING:
        return titled[:3]
    whole = re.compile(rf"\b{re.escape(words)}\b")
    written = (name for name, page in book().items() if isinstance(page.make, partial) and page.make.func is _written)
    uses = {name: len(whole.findall(_written(name).casefold())) for name in written}
    return sorted((name for name, number in uses.items() if number), key=lambda name: -uses[name])[:3]


def title_of(markdown: str) -> str:
    """Return the words of the first heading.

    Examples
    --------
    >>> title_of("# A first minute\\n\\nText")
    'A first minute'
    """
    found = re.match(r"# (.+)", markdown)
    assert found is not None, "a page begins with its title"
    return found[1]


def contents() -> str:
    """Return the list of all sections and of the pages that they name, in Markdown."""
    out: list[str] = []
    section = ""
    for page in book().values():
        if page.listed and page.name != HOME:
            if page.section != section:
                section = page.section
                out += ["", f"## {section}", ""]
            out.append(f"- [{page.title}]({page.name}.md)")
    return "\n".join(out).strip()


def _written(name: str) -> str:
    return _read(f"pages/{name}.md")


def _read(name: str) -> str:
    return (files("woundfhir.guide") / name).read_text("utf-8")
