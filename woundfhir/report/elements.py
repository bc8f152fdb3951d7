"""From a place in the record to the element of a FHIR resource, as a simple FHIRPath expression.

R4 (OperationOutcome.issue.expression) asks for element names, indexes and the child accessor alone, so every
expression is ``Bundle.entry[12].resource.component[0].value`` or, for a resource on its own, ``Observation.value``.
What is not written has no element: the expression then names the nearest thing that exists.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import chain
from typing import Any

from woundfhir.catalogue import ENTRY_LISTS
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.fhir.came import Came
from woundfhir.fhir.ids import escape
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.terms import code_keys, terms
from woundfhir.intake.gather import Gathered
from woundfhir.intake.reading import Reading
from woundfhir.intake.resources import gathered
from woundfhir.record import History
from woundfhir.report.within import answered, named

Json = Any
Resource = dict[str, Json]
#: Where a resource stood in a list of several; FHIRPath begins at the resource or the Bundle itself.
_IN_LIST = re.compile(r"^\[\d+\]\.?")
_STEP = re.compile(r"([^.\[\]]+)(?:\[(\d+)\])?")
_ENCOUNTER = {"at": "period", "setting": "class", "purpose": "type", "by": "participant"}
_PATIENT = {"name": "name", "born": "birthDate", "sex": "gender", "identifiers": "identifier"}
_PATIENT |= {"phone": "telecom", "email": "telecom", "address": "address", "language": "communication"}
#: Element of a Condition that holds an answer about the wound, by the catalogue's ``native``.
_CONDITION = {
    "code": "code",
    "bodySite": "bodySite",
    "side": "bodySite",
    "onset": "onset",
    "abatement": "abatement",
    "stage": "stage",
}


class Elements:
    """The resources of one input (or, for a record, those that ``convert --to fhir-json`` writes), by place.

    Parameters
    ----------
    history
        The record.
    kind, content
        What the input was and its bytes; for anything but FHIR the record is converted.
    """

    def __init__(self, history: History, kind: str, content: bytes) -> None:
        self._history = history
        self._terms = terms()
        resources = _came(kind, content)
        if resources is None:
            resources = [{"resourceType": "Bundle", "entry": [{"resource": one} for one in to_fhir(history)]}]
        self._roots = [str(one.get("resourceType")) for one in resources]
        source = gathered(resources, self._read)
        self._at: dict[str, list[tuple[str, Resource]]] = {}
        for resource in source.resources:
            prefix = _prefix(source.came[id(resource)])
            place = source.places.get(id(resource)) or self._guessed(source, resource)
            if place is not None:
                self._at.setdefault(place, []).append((prefix, resource))

    def _read(self, found: Gathered) -> ReadContext:
        source = ReadContext(found.came, self._terms)
        Reading(source).data()
        return source

    def _guessed(self, source: ReadContext, resource: Resource) -> str | None:
        """The place of a resource in another guide's shape: its encounter, its wound, and the concept of its code."""
        if not source.counts(resource):  # it may be broken
            return None
        encounter = source.follow(resource.get("encounter"), resource)
        visit = source.places.get(id(encounter)) if encounter is not None else None
        # Of a type that the record does not read, nobody has looked whether its structure is whole.
        codes = [key for key in code_keys(resource.get("code")) if all(isinstance(part, str) for part in key)]
        term = self._terms.named(codes)
        if visit is None or term is None:
            return None
        lists = (one for key in ("focus", "reasonReference") if isinstance(one := resource.get(key), list))
        for ref in chain.from_iterable(lists):
            found = source.follow(ref, resource)
            wound = source.places.get(id(found)) if found is not None else None
            if wound is not None:
                return f"{visit}/{wound}/{term.concept.of or term.concept.key}"
        return None

    def expression(self, path: str) -> str:
        """Return the expression for a place in the record, or for the nearest place around it that exists.

        Examples
        --------
        >>> record = {"woundfhir": 1, "patient": {"born": "1948"}, "wounds": [{"id": "W1", "kind": "burn"}]}
        >>> Elements(History.of(record), "record", b"").expression("wounds[0].kind")
        'Bundle.entry[1].resource.code'
        """
        for place, kind, field, number in self._places(path):
            for prefix, resource in self._at.get(place, ()):
                if kind is None or resource.get("resourceType") == kind:
                    inner = field(resource, number) if field is not None else ""
                    if inner is not None:
                        return prefix + inner
        return self._roots[0] if self._roots else "Bundle"

    def _places(self, path: str) -> Iterator[tuple[str, str | None, Any, int | None]]:
        """Yield (place, kind of resource, how to find the element, index) from the nearest to the widest."""
        steps = [(found[1], int(found[2]) if found[2] else None) for found in _STEP.finditer(path)]
        if steps and steps[0][0] == "visits" and steps[0][1] is not None:
            visit = self._history.visits[steps[0][1]]
            yield from self._in_visit(visit, steps[1:])
        elif steps and steps[0][0] == "wounds" and steps[0][1] is not None:
            yield from self._in_wound(self._history.wounds[steps[0][1]]["id"], steps[1:])
        elif len(steps) > 1 and steps[1][0] in ("allergies", "conditions") and steps[1][1] is not None:
            yield f"{steps[1][0]}/{steps[1][1] + 1}", None, named("code"), None
        elif len(steps) > 1:
            yield "patient", "Patient", named(_PATIENT.get(steps[1][0], "")), steps[1][1]
        yield "patient", "Patient", None, None

    def _in_visit(self, visit: Mapping[str, Json], steps: Sequence[tuple[str, int | None]]) -> Iterator[Any]:
        here = escape(visit["id"])
        if steps and steps[0][0] == "wounds" and steps[0][1] is not None:
            wound = visit["wounds"][steps[0][1]]["wound"]
            there = f"{here}/{escape(wound)}"
            if len(steps) > 1 and steps[1][0] in ENTRY_LISTS:
                yield from self._listed(there, steps[1:])
            elif len(steps) > 2:
                yield from self._answer(there, steps[1][0], steps[2:])
            group = steps[1][0] if len(steps) > 1 else "assessment"
            yield from ((f"{there}/{key}", None, None, None) for key in dict.fromkeys((group, "assessment", "care")))
            yield here, "Encounter", None, None
            yield from self._in_wound(wound, ())
        elif len(steps) > 1 and steps[0][0] == "client":
            yield from self._answer(here, "client", steps[1:])
            yield here, "Encounter", None, None
        else:
            element = _ENCOUNTER.get(steps[0][0], "") if steps else ""
            yield here, "Encounter", named(element), steps[0][1] if steps else None
            yield here, "Encounter", None, None

    def _in_wound(self, wound: str, steps: Sequence[tuple[str, int | None]]) -> Iterator[Any]:
        place = escape(wound)
        if steps and steps[0][0] in self._terms.groups["wound"]:
            term = self._terms.groups["wound"][steps[0][0]]
            yield place, "Condition", named(_CONDITION.get(term.concept.native or "", "")), None
            yield place, "Condition", answered(self._terms, term, None), None
        yield place, "Condition", None, None

    def _listed(self, place: str, steps: Sequence[tuple[str, int | None]]) -> Iterator[Any]:
        """Yield the places of one supply or photo, and of an answer in it."""
        (name, number), rest = steps[0], steps[1:]
        there = f"{place}/{ENTRY_LISTS[name]}/{(number or 0) + 1}"
        term = self._terms.groups[ENTRY_LISTS[name]].get(rest[0][0]) if rest else None
        if term is not None:
            yield there, None, answered(self._terms, term, None), None
        yield there, None, None, None

    def _answer(self, place: str, group: str, steps: Sequence[tuple[str, int | None]]) -> Iterator[Any]:
        """Yield the places of one answer of a group, and of a field of it."""
        (key, number), rest = steps[0], steps[1:]
        term = self._terms.groups.get(group, {}).get(key)
        if term is None:
            return
        field = term.fields.get(rest[0][0]) if rest else None
        finder = answered(self._terms, term, field)
        names = [f"{place}/{key}"] if number is None else [f"{place}/{key}/{number + 1}", f"{place}/{key}"]
        names += sorted(one for one in self._at if one.startswith(f"{place}/{key}/"))
        if around := term.concept.parent or term.concept.within:
            names.append(f"{place}/{around}")
        if group == "plan":
            names.append(f"{place}/plan")
        for name in names:
            yield name, None, finder, number
        for name in names:
            yield name, None, None, None


def _came(kind: str, content: bytes) -> list[Resource] | None:
    """Return the resources of an input that was FHIR, else None."""
    from woundfhir.intake.formats import FORMATS

    found = FORMATS[kind]
    if not found.media:
        return None
    try:
        return found.resources(content, "input", [])
    except InputError:  # It was read once already: whoever changed the bytes since gets the record's own elements.
        return None


def _prefix(came: Came) -> str:
    """Return the expression of a resource within the input that it stood in."""
    at = _IN_LIST.sub("", came.at)
    return f"{at}.resource" if at else str(came.original.get("resourceType"))
