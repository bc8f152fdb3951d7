"""Everything together: the files of ``profiles/`` as bytes."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from woundfhir.definitions import care, documents, examples, extensions, guide, observations, record, terminology, views
from woundfhir.definitions.questionnaire import questionnaire
from woundfhir.fhir.terms import Terms
from woundfhir.fhir.terms import terms as compiled

Json = Any
#: How many levels are laid out line by line; below that a value stands on one line, so that a change in one element
#: of a snapshot is a change in one line of the file.
_DEPTH = 3


def resources() -> list[dict[str, Json]]:
    """Return every conformance resource, the ImplementationGuide last.

    Raises
    ------
    ValueError
        When two resources of one type have one id.
    """
    terms = compiled()
    site = terms.catalogue.site
    made = list(_resources(terms) if site is None else _of_site(terms, site.base))
    names = [guide.file_name(found) for found in made]
    if twice := {name for name in names if names.count(name) > 1}:
        raise ValueError(f"two resources of one name: {sorted(twice)}")
    shown = [(one, examples.claimed(one)) for one in examples.resources()] if site is None else []
    return [*made, guide.guide(terms, made, shown)]


def _resources(terms: Terms) -> Iterator[dict[str, Json]]:
    yield from record.profiles(terms)
    yield from observations.profiles(terms)
    yield from care.profiles(terms)
    yield from documents.profiles(terms)
    yield from extensions.definitions(terms)
    yield from terminology.resources(terms)
    yield questionnaire(terms)


def _of_site(terms: Terms, base: str) -> Iterator[dict[str, Json]]:
    """What a site adds, and the whole form; the rest stands in the package that it depends on."""
    for part in (observations, care, extensions, terminology):
        yield from part.of_site(terms, base)
    yield questionnaire(terms)


def files() -> dict[str, bytes]:
    """Return the content of every file of the package by its name; of the site's, where one holds."""
    made = resources()
    out = {guide.file_name(found): found for found in made}
    out["package.json"] = guide.package_json(compiled())
    out[".index.json"] = guide.index(made)
    return {name: (layout(found) + "\n").encode("utf-8") for name, found in sorted(out.items())}


def view_files() -> dict[str, bytes]:
    """Return the content of every ViewDefinition by the name of its file; they are no resources of R4."""
    return {
        f"ViewDefinition-{one['url'].rsplit('/', 1)[1]}.json": (layout(one) + "\n").encode("utf-8")
        for one in views.views(compiled())
    }


def layout(value: Json, depth: int = 0) -> str:
    """Return JSON that is laid out line by line down to a depth.

    Examples
    --------
    >>> print(layout({"a": {"b": [{"c": {"d": [1, 2]}}]}}))
    {
     "a": {
      "b": [
       {"c": {"d": [1, 2]}}
      ]
     }
    }
    """
    if depth >= _DEPTH or not isinstance(value, dict | list) or not value:
        return json.dumps(value, ensure_ascii=False)
    blank = "\n" + " " * (depth + 1)
    if isinstance(value, dict):
        inner = [f"{json.dumps(key)}: {layout(item, depth + 1)}" for key, item in value.items()]
        return "{" + blank + ("," + blank).join(inner) + blank[:-1] + "}"
    return "[" + blank + ("," + blank).join(layout(item, depth + 1) for item in value) + blank[:-1] + "]"
