"""Facts out of shapes: the rows of maps, put to their wounds and visits like everything else that comes in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from woundfhir.catalogue import PATHS
from woundfhir.fhir import form, leaves
from woundfhir.fhir.came import Resource
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.resources import people
from woundfhir.fhir.term import Term
from woundfhir.intake import questions
from woundfhir.intake.belonging import Belonging
from woundfhir.intake.founding import only_wounds
from woundfhir.maps import Table
from woundfhir.maps.fhirpath import Node
from woundfhir.maps.shapes import EACH, Row
from woundfhir.record import dates

Json = Any
Path = tuple[Any, ...]
_LISTS = {"photo": "photos", "supply": "supplies"}


class Shaped:
    """The rows of one reading."""

    def __init__(self, source: ReadContext, belonging: Belonging, table: Table) -> None:
        self.source = source
        self.terms = source.terms
        self.belonging = belonging
        self.table = table

    # -- the wound itself ----------------------------------------------------------------------

    def wound(self, resource: Resource, wound: dict[str, Json]) -> None:
        """Put what the shapes find of the wound itself beside what was read of it."""
        for row in self._rows(resource):
            term = self._term(row)
            if (
                term is not None
                and term.concept.group == "wound"
                and (answer := self._answer(term, row, resource)) is not None
            ):
                self.source.put(wound, term.concept.key, answer, resource, _place(row))
                self._mark(resource, row, term)

    # -- everything else -----------------------------------------------------------------------

    def read(self) -> None:
        """Read every other row of every resource of others."""
        for resource in list(self.source.resources):
            why = self.source.reasons.get(id(resource))
            if resource.get("resourceType") == "Goal" and id(resource) in self.source.places:
                continue  # its plan says it already, at the visit of the plan
            if self.source.place(resource) is None and (why is None or why.kind == "kept"):
                for row in self._rows(resource):
                    self._fact(resource, row)

    def _rows(self, resource: Resource) -> Iterator[Row]:
        shapes = self.table.shapes.get(str(resource.get("resourceType")), ())
        found: Iterator[Row] = (row for shape in shapes for row in shape.rows(resource))
        if resource.get("resourceType") == questions.RESPONSE and not form.is_form(resource):
            found = iter(questions.of_one_wound(resource, [*found, *questions.answered(self.source, resource)]))
        yield from found

    def _fact(self, resource: Resource, row: Row) -> None:
        term, listed = self._term(row), self._list(row)
        if not listed and (term is None or term.concept.group == "wound"):
            return
        spot = self._spot(resource, row, term)
        if spot is None:
            return
        if term is not None:
            taken = self._put(resource, row, spot, term)
        else:
            said = self._item(row, self.terms.groups[listed], resource)
            taken = bool(said) and _add(spot.entry.setdefault(_LISTS[listed], []), said)
        if taken:
            self.belonging.hold(spot)
            self.source.reasons.pop(id(resource), None)
            self.source.places.setdefault(id(resource), None)
            # Whose visit is known by an Encounter takes no author from here.
            known = spot.visit["id"] in self.belonging.dated
            self._mark(resource, row if known else {k: v for k, v in row.items() if k != "author"}, term)

    def _put(self, resource: Resource, row: Row, spot: RecordPlace, term: Term) -> bool:
        answers = spot.answers(term.concept.group)
        if answers is None:
            return False
        key = term.concept.key
        if term.fields:
            item = self._item(row, term.fields, resource)
            if not item:
                return False
            return _add(answers.setdefault(key, []), item) if term.concept.many else _merge(answers, key, item)
        answer = self._answer(term, row, resource)
        if answer is None:
            return False
        if term.shape.spread == "each" and isinstance(answer, str):
            return _add(answers.setdefault(key, []), answer)
        return self.source.put(answers, key, answer, resource, _place(row))

    # -- what a row says -----------------------------------------------------------------------

    def _list(self, row: Row) -> str:
        found = row.get("concept")
        return str(found[0].value) if found and found[0].value in _LISTS else ""

    def _term(self, row: Row) -> Term | None:
        found = row.get("concept")
        name = str(found[0].value) if found else ""
        if "|" in name:
            system, _, code = name.partition("|")
            targets = [one.target for one in self.table.meaning(system, code) if one.read]
            name = next((one.name for one in targets if one is not None and one.kind == "concept"), "")
        group, _, rest = name.partition(".")
        key, _, field = rest.partition(".")
        term = self.terms.groups.get(group, {}).get(key)
        return term.fields.get(field) if term is not None and field else term

    def _answer(self, term: Term, row: Row, resource: Resource) -> Json:
        return self._value(term, row["value"][0], resource) if row.get("value") else None

    def _item(self, row: Row, fields: dict[str, Term], resource: Resource) -> dict[str, Json]:
        known = ((name, nodes[0]) for name, nodes in row.items() if nodes and name in fields)
        found = {name: self._value(fields[name], node, resource) for name, node in known}
        return {name: found[name] for name in fields if found.get(name) not in (None, "")}

    def _value(self, term: Term, node: Node, resource: Resource) -> Json:
        value = node.value
        if isinstance(value, dict) and "reference" in value:
            found = self.source.follow(value, resource)
            why = self.source.reasons.get(id(found))
            if found is None or found.get("resourceType") != "Device" or (why is not None and why.kind != "kept"):
                by = people.read_author(self.source, value, resource)
                return None if by is None else by.get("name") or by.get("organisation") or by.get("id")
            self.source.reasons.pop(id(found), None)
            self.source.placed(found, None)
            value = found.get("type") or {}
            self.source.mark(found, *self._taken(found, term, Node(("type",), value)))
        if isinstance(value, dict) and "code" in value and "system" in value and "value" not in value:
            value = {"coding": [value]}
        if term.concept.shape == "text" and isinstance(value, dict) and "value" not in value:
            return term.codec.read({"valueCodeableConcept": value})
        return term.codec.read({_member(term, value): value})

    # -- where it belongs ----------------------------------------------------------------------

    def _spot(self, resource: Resource, row: Row, term: Term | None) -> RecordPlace | None:
        """Where a row belongs: as an Observation would that says the same, of that wound, time and author."""
        said: Resource = {"resourceType": "Observation", "valueString": "said"}
        for key in ("subject", "patient", "encounter", "context"):
            if key in resource:
                said["subject" if key == "patient" else key] = resource[key]
        for name, key in (("wound", "focus"), ("author", "performer")):
            if nodes := [node.value for node in row.get(name, ())]:
                said[key] = nodes
        time = next((node.value for node in row.get("time", ()) if isinstance(node.value, str)), None)
        if time is not None and dates.is_fhir(time):
            said["effectiveDateTime"] = time
        self.belonging.links.stand_for(said, resource)
        self.source.came[id(said)] = replace(self.source.came[id(resource)], view=said)
        own = self.belonging.links.wound_of.get(id(resource))
        if own is not None:  # of the wound's own Condition, that has no other time than the row's
            return self.belonging.at(self.belonging.visit(said), own) if time is not None else None
        path = term.concept.path if term is not None else ""
        return self.belonging.spot(said, only_wounds([(PATHS, path)]), path.startswith("client."))

    def _mark(self, resource: Resource, row: Row, term: Term | None) -> None:
        if chosen := row.get(EACH):
            self.source.mark(resource, *_chosen(chosen[0]))
        for name in row.keys() - {EACH}:
            for node in row[name][: 1 if name not in ("wound", "author") else None]:
                field = term.fields.get(name, term) if term is not None else None
                self.source.mark(resource, *self._taken(resource, field, node))

    def _taken(self, resource: Resource, term: Term | None, node: Node) -> list[Path]:
        """The leaves of a value by which it was read: codes that are known, else words; a unit in one form."""
        value, at = node.value, node.path
        if not at:
            return []
        if not isinstance(value, dict) or "reference" in value:
            return [path for path, _ in leaves.every(value, at) if path[-1] != "display"]
        if "value" in value:
            return [
                (*at, key) for key in ("value", "comparator", "unit" if "unit" in value else "code") if key in value
            ]
        coding = value.get("coding", [value])
        places = [(*at, "coding", n) for n in range(len(coding))] if "coding" in value else [at]
        answers = getattr(term.codec, "answers", getattr(term.codec, "words", None)) if term is not None else None
        known = answers.by_code if answers is not None else {}
        mapped = self.source.mapped(resource)
        for place, one in zip(places, coding, strict=True):
            if place in mapped or (one.get("system"), one.get("code")) in known:
                return [(*place, "system"), (*place, "code")]
        return [(*at, "text")] if "text" in value else [(*place, "display") for place in places[:1]]


def _chosen(node: Node) -> Iterator[Path]:
    """The leaves by which a part was chosen: the address of an extension, a code, the one code of what has one."""
    value, at = node.value, node.path
    if not isinstance(value, dict):
        return
    if "url" in value:
        yield (*at, "url")
    if isinstance(value.get("code"), str) and "system" in value:
        yield from ((*at, "system"), (*at, "code"))
    codings = value["code"].get("coding", ()) if isinstance(value.get("code"), dict) else ()
    if len(codings) == 1:
        yield from ((*at, "code", "coding", 0, "system"), (*at, "code", "coding", 0, "code"))


def _member(term: Term, value: Json) -> str:
    """The name of ``value[x]`` for a value of any element."""
    if isinstance(value, bool):
        return "valueBoolean"
    if isinstance(value, dict):
        return "valueQuantity" if "value" in value else "valueCodeableConcept"
    if isinstance(value, str):
        return "valueDateTime" if term.concept.shape == "date" and dates.is_fhir(value) else "valueString"
    return "valueInteger"


def _place(row: Row) -> str:
    """The path of a row's value in words, for a conflict."""
    path = row["value"][0].path if row.get("value") else ()
    return leaves.words(path)


def _add(items: Json, item: Json) -> bool:
    """Add to a list what it does not say yet."""
    if not isinstance(items, list):
        return False
    if item not in items:
        items.append(item)
    return True


def _merge(answers: dict[str, Json], key: str, item: dict[str, Json]) -> bool:
    known = answers.setdefault(key, item)
    return bool(known == item)
