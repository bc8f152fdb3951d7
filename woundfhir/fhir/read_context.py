"""What the readers share while resources are taken in: what came, what stands where, what was placed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from contextlib import suppress
from decimal import Decimal
from typing import Any
from uuid import UUID

from woundfhir.catalogue import Concept
from woundfhir.fhir.came import Arrived, Came, Json, Resource
from woundfhir.fhir.elements import first
from woundfhir.fhir.ids import id_by_content, shortened, unescape, uuid5
from woundfhir.fhir.keys import in_record_form
from woundfhir.fhir.listed import Listed, at_numbers
from woundfhir.fhir.reasons import Kind, Reason
from woundfhir.fhir.references import identifiers_of, references
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import Terms
from woundfhir.record.answers import StructureError, canonical
from woundfhir.record.quantity import parse, tidy


class RecordPlace:
    """The place in the record that a resource belongs to: a visit, or one wound at a visit."""

    __slots__ = ("entry", "place", "visit")

    def __init__(self, visit: dict[str, Json], entry: dict[str, Json], place: str) -> None:
        self.visit = visit
        self.entry = entry
        self.place = place

    def answers(self, group: str) -> dict[str, Json] | None:
        """Return the answers of a group at this place; None where the group does not belong here."""
        if (group == "client") != (self.entry is self.visit):
            return None
        found: dict[str, Json] = self.entry.setdefault(group, {})
        return found


class ReadContext(Arrived):
    """All resources that came in, and the record that grows from them."""

    def __init__(self, came: Iterable[Came], terms: Terms) -> None:
        super().__init__(came)
        self.terms = terms
        self.own: dict[int, str | None] = {}
        self.places: dict[int, str | None] = {}
        self.system: str | None = None
        self._literals: set[str] | None = None
        self.parts: dict[int, list[Resource]] = {}
        #: Leaves that readers took where our own writing does not show it; and our writing of what has another shape.
        self.marks: dict[int, set[tuple[Any, ...]]] = {}
        self.shown: dict[int, Resource] = {}
        #: Resources that say what another one says too.
        self.again: set[int] = set()
        #: Resources that say that there is none of a list: what says one outweighs them.
        self.none_known: dict[str, list[Resource]] = {}
        self._ours: dict[int, set[str]] = {}
        self.standing: dict[int, list[Json]] = {}
        #: Fields of a group that stand as resources of their own: how many of each, by place, group and field.
        self.loose: Counter[tuple[str, str, str]] = Counter()
        self._said: dict[tuple[int, str], list[tuple[Resource, str]]] = {}
        self._lists: dict[int, Listed] = {}
        self._terms: dict[int, Term | None] = {}

    # -- where it belongs ----------------------------------------------------------------------

    def numbered(self, kind: str, key: str, *, contained: bool = False) -> list[Resource]:
        """Return the resources of a list that count in the order of the list.

        Ours stand at the number in their place, others between them in the order in which they came.
        """
        ours: dict[int, Resource] = {}
        others: list[Resource] = []
        for resource in self.open(kind, contained=contained):
            place, _, number = (self.place(resource) or "").rpartition("/")
            if place == key and number.isascii() and number.isdigit() and len(number) < 6 and int(number) not in ours:
                ours[int(number)] = resource
            else:
                others.append(resource)
        return at_numbers(ours, others)

    def place(self, resource: Resource) -> str | None:
        """Return the place that our own identifier names, or None for a resource that others wrote."""
        key = id(resource)
        if key in self.own:
            return self.own[key]
        named = identifiers_of(resource) if self.system else ()
        value = next((i.get("value") for i in named if i.get("system") == self.system), None)
        self.own[key] = found = value if isinstance(value, str) else None
        return found

    def named_already(self, kind: str, place: str) -> bool:
        """Whether a reference names what we would write for a place: that one did not come, and is not to be made."""
        if self._literals is None:
            literals = (one for came in self.resources for one in references(came))
            self._literals = {one.rpartition("/")[2].removeprefix("urn:uuid:") for one in literals}
        with suppress(ValueError):
            space = UUID((self.system or "").removeprefix("urn:uuid:")).bytes
            return uuid5(space, f"{kind}/{place}") in self._literals
        return False

    def term(self, resource: Resource) -> Term | None:
        """Return the term that a resource's ``code`` names, worked out once."""
        key = id(resource)
        if key not in self._terms:
            self._terms[key] = self.terms.named(self.keys(resource))
        return self._terms[key]

    def index(self, resource: Resource) -> int | None:
        """Return the number at the end of our own place, or None."""
        place = self.place(resource)
        if place is None:
            return None
        first, _, last = place.rpartition("/")
        listed = "/" in first or first in ("allergies", "conditions")
        return int(last) if last.isascii() and last.isdigit() and listed else None

    def placed(self, resource: Resource, place: str | None) -> None:
        """Note that a resource is understood: the place where our writer puts the same, or None for another shape."""
        self.places[id(resource)] = place

    def refuse(self, resource: Resource, why: str, kind: Kind = "kept") -> None:
        """Note why a resource is not understood."""
        self.reasons.setdefault(id(resource), Reason(kind, why))

    def mark(self, resource: Resource, *paths: tuple[Any, ...]) -> None:
        """Note leaves that were taken: each changes the record when it changes."""
        self.marks.setdefault(id(resource), set()).update(paths)

    def mark_ref(self, resource: Resource, path: tuple[Any, ...], ref: Json) -> None:
        """Note a Reference that was followed, or by which somebody who did not come is named."""
        self.mark(resource, (*path, "reference"), (*path, "identifier", "value"), (*path, "identifier", "system"))
        if self.follow(ref, resource) is None:
            self.mark(resource, (*path, "display"))

    def show(self, resource: Resource, *members: tuple[str, Json]) -> None:
        """Note how we write what was taken from a resource that has another shape than ours."""
        self.shown.setdefault(id(resource), {}).update(members)

    def stands(self, resource: Resource, spot: RecordPlace, concept: Concept, answer: Json) -> None:
        """Note where the answer of a resource of another shape stands: it goes out as it came while it stands there.

        The answer is noted as the record spells it ("3 o'clock" is "3" there), or it would never be found again. Of a
        resource that gives several, each must stand there.
        """
        key, field = (str(concept.of), concept.key) if concept.of else (concept.key, "")
        item = concept.shape == "choices" and isinstance(answer, str)
        said = answer if item else spelt(concept, answer)
        where = [spot.visit["id"], spot.entry.get("wound", ""), concept.group, key, field, said]
        known = self.standing.get(id(resource))
        if known is None:
            self.standing[id(resource)] = where
        elif where not in (several := known if isinstance(known[0], list) else [known]):
            self.standing[id(resource)] = [*several, where]

    def joins(self, spot: RecordPlace, parent: Term, term: Term) -> bool:
        """Whether a field that stands as a resource of its own can be put to an item of its group.

        Where every field stands once, beside one item at most, they are one item. Else each item stands for itself,
        each of the first field where there is none, and nothing says to which of them another field belongs.
        """
        key = parent.concept.key
        here = {name: n for name in ("", *parent.fields) if (n := self.loose[spot.place, key, name])}
        return max(here.values(), default=0) <= 1 or next(iter(here)) == term.concept.key

    def leave(self, resource: Resource, path: str, why: str, kind: Kind) -> None:
        """Note a part of a resource that is not read as a fact; "" is all of it."""
        if path:
            self.came[id(resource)].left.append((path, Reason(kind, why)))
        else:
            self.refuse(resource, why, kind)

    def left(self, resource: Resource) -> list[tuple[str, str]]:
        """Return the parts that are not read as facts, and why."""
        one = self.came.get(id(resource))
        return [(path, reason.words) for path, reason in one.left] if one is not None else []

    # -- one value a place ---------------------------------------------------------------------

    def put(self, answers: dict[str, Json], key: str, value: Json, resource: Resource, path: str = "") -> bool:
        """Put one answer to its place; False where another one contradicts it.

        Two values for one place are a conflict: neither is chosen, the record says so, and both are kept.
        """
        known = answers.get(key)
        if known is None:
            answers[key] = value
            self._said[id(answers), key] = [(resource, path)]
            return True
        if known == value or same_quantity(known, value) or (value == CONFLICT and self.place(resource) is not None):
            if (said := self._said.get((id(answers), key))) is not None and said[0][0] is not resource:
                self.again |= {id(resource), id(said[0][0])}
                said.append((resource, path))
            return True
        if known != CONFLICT:
            for one, where in self._said.get((id(answers), key), ()):
                self.leave(one, where, _CONFLICT, "conflict")
            answers[key] = dict(CONFLICT)
        self.leave(resource, path, _CONFLICT, "conflict")
        return False

    def add(self, items: list[Json], item: Json) -> None:
        """Add an item that is made of loose parts, and has no place of a resource."""
        self._lists.setdefault(id(items), Listed(items)).take(item, None, "", None)

    def same_of_ours(self, items: list[dict[str, Json]], concept: Concept, answer: Json) -> bool:
        """Whether an item that a resource of ours said holds what a loose resource of others says, each taken once.

        What came stands beside what we made of it: read together again, they are one item and not two. Both are
        compared as the record spells them: theirs may be "3 o'clock" where ours is "3".
        """
        key, said = concept.key, spelt(concept, answer)
        for item in items:
            used = self._ours.get(id(item))
            if used is not None and key not in used and key in item and spelt(concept, item[key]) == said:
                used.add(key)
                return True
        return False

    # -- lists, in the order that our own places name -----------------------------------------

    def append(self, answers: dict[str, Json], key: str, item: Json, resource: Resource, place: str) -> bool:
        """Add one item to a list answer in its order; False where the answer is already something else."""
        items = answers.setdefault(key, [])
        if not isinstance(items, list):
            return False
        listed = self._lists.setdefault(id(items), Listed(items))
        if isinstance(item, dict) and self.place(resource) is not None:
            self._ours[id(item)] = set()
        listed.take(item, resource, place, self.index(resource))
        return True

    def settle_lists(self) -> None:
        """Note where the items of lists stand, now that all of them are there."""
        for listed in self._lists.values():
            for resource, place in listed.places():
                self.placed(resource, place)


#: What stands at a place for which two different values came.
CONFLICT = {"absent": "two different values came"}
_CONFLICT = "another value came for the same place; neither was chosen"


def spelt(concept: Concept, answer: Json) -> Json:
    """Return an answer as the record spells it; as it is where no record can hold it, which is refused in a moment."""
    try:
        return canonical(concept, answer, None, lambda path, value: None)
    except StructureError:
        return answer


def same_quantity(one: Json, other: Json) -> bool:
    """Whether two quantities are one number of one unit, however many zeros are written."""
    if not isinstance(one, str) or not isinstance(other, str):
        return False
    a, b = parse(tidy(one)), parse(tidy(other))
    if a is None or b is None or (a.comparator, a.unit) != (b.comparator, b.unit):
        return False
    return Decimal(a.number) == Decimal(b.number)


def own_id(source: ReadContext, resource: Resource) -> str:
    """Return the record's id for a wound or a visit: from our identifier, else their identifier, else their id.

    Of several identifiers it is the one of the system that the site names, where one is.
    """
    place = source.place(resource)
    if place is not None:
        return shortened(unescape(place))
    site = source.terms.catalogue.site
    system = site.identifiers.get("wound" if resource.get("resourceType") == "Condition" else "visit") if site else None
    ours = [one for one in identifiers_of(resource) if system and one.get("system") == system]
    named = (ours[0] if ours else first(resource.get("identifier"))).get("value")
    one = source.came.get(id(resource))
    if not named and one is not None and one.holder is not None:
        return shortened(source.name_of(resource))
    names = (str(name) for name in (named, resource.get("id"), one.full_url if one is not None else None) if name)
    if (name := next((name for name in names if name.strip()), None)) is not None:  # a blank names nothing
        return shortened(name)
    return id_by_content(in_record_form(one.original if one is not None else resource))
