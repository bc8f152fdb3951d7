"""A form of others answered: which finding a question asks, by the codes of the Questionnaire that holds it.

R4: QuestionnaireResponse has no codes; Questionnaire.item.code has, and both are held together by linkId. The form may
be contained, or come beside its answers under the address and version that they name.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

from woundfhir.fhir.came import Resource
from woundfhir.fhir.read_context import ReadContext
from woundfhir.maps.fhirpath import Node
from woundfhir.maps.shapes import Row

Json = Any
Path = tuple[Any, ...]
RESPONSE = "QuestionnaireResponse"
_DONE = ("completed", "amended")


def answered(source: ReadContext, response: Resource) -> Iterator[Row]:
    """Yield a row for each answer to a question to which its form gives one code.

    Of a code that the form asks twice nothing says for which wound each is asked: it is not read.
    """
    form = form_of(source, response) if response.get("status") in _DONE else None
    if form is None:
        return
    codes = dict(_codes(form.get("item")))
    asked = Counter(codes.values())
    about = {
        name: [Node((key,), response[key])]
        for name, key in (("time", "authored"), ("author", "author"))
        if key in response
    }
    for path, item in _items(response.get("item"), ("item",)):
        code = codes.get(str(item.get("linkId")))
        if code is None or asked[code] > 1:
            continue
        for number, answer in enumerate(_dicts(item.get("answer"))):
            for key, value in answer.items():
                if key.startswith("value"):
                    yield {**about, "concept": [Node((), code)], "value": [Node((*path, "answer", number, key), value)]}


def of_one_wound(response: Resource, rows: list[Row]) -> list[Row]:
    """Return the rows that do not stand in a group that came several times: each may be of another wound."""
    several: set[Path] = set()
    for above in [(), *(path for path, _ in _items(response.get("item"), ("item",)))]:
        inner = _at(response, above)
        inner = _dicts(inner.get("item")) if isinstance(inner, dict) else []
        counts = Counter(str(one.get("linkId")) for one in inner if one.get("item"))
        several |= {
            (*above, "item", n) for n, one in enumerate(inner) if one.get("item") and counts[str(one.get("linkId"))] > 1
        }
    return [row for row in rows if not any(_stands_in(row, path) for path in several)]


def _stands_in(row: Row, path: Path) -> bool:
    return any(node.path[: len(path)] == path for node in row.get("value", ()))


def form_of(source: ReadContext, response: Resource) -> Resource | None:
    """Return the form that answers name, where exactly one that came is it."""
    named = response.get("questionnaire")
    if not isinstance(named, str) or not named:
        return None
    url, _, version = named.partition("|")
    found = source.follow({"reference": url}, response)
    if found is not None:
        return found if found.get("resourceType") == "Questionnaire" else None
    of_url = [one for one in source.of("Questionnaire") if one.get("url") == url]
    alike = [one for one in of_url if not version or one.get("version") == version]
    return alike[0] if len(alike) == 1 else None


def _codes(items: Json) -> Iterator[tuple[str, str]]:
    """Yield the linkId of each question that has one code, with its system and code."""
    for _, item in _items(items, ("item",)):
        codes = [one for one in _dicts(item.get("code")) if one.get("system") and one.get("code")]
        if len(codes) == 1 and item.get("type") != "group":
            yield str(item.get("linkId")), f"{codes[0]['system']}|{codes[0]['code']}"


def _items(items: Json, path: Path) -> Iterator[tuple[Path, Resource]]:
    """Yield every item below, with its path."""
    for number, item in enumerate(_dicts(items)):
        here = (*path, number)
        yield here, item
        yield from _items(item.get("item"), (*here, "item"))
        for place, answer in enumerate(_dicts(item.get("answer"))):
            yield from _items(answer.get("item"), (*here, "answer", place, "item"))


def _dicts(found: Json) -> list[Resource]:
    """Return the objects of a list; a list with anything else has no places that can be counted."""
    return found if isinstance(found, list) and all(isinstance(one, dict) for one in found) else []


def _at(found: Json, path: Path) -> Json:
    for step in path:
        found = found[step]
    return found
