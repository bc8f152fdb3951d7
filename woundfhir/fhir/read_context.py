"""What the readers share while resources are taken in: where things point, what stands where, what was placed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Literal

from woundfhir.catalogue import Concept
from woundfhir.fhir.elements import first
from woundfhir.fhir.ids import unescape
from woundfhir.fhir.terms import Term, Terms, code_keys
from woundfhir.record.answers import canonical
from woundfhir.record.canonical import as_json
from woundfhir.record.quantity import parse

Json = Any
Resource = dict[str, Json]
#: Why something is kept and not read; the first words of its reason, by which reports sort it.
Kind = Literal["kept", "withdrawn", "negated", "not understood", "conflict"]


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a resource is not read as a fact."""

    kind: Kind
    why: str

    @property
    def words(self) -> str:
        """Both in one text, as it stands in the record."""
        return self.why if self.kind == "kept" else f"{self.kind}: {self.why}"


@dataclass(slots=True)
class Came:
    """One resource that came in.

    Parameters
    ----------
    original
        As it came; references to entries of its own Bundle stand as ``Type/id``.
    view
        What readers see of it: without the parts that do not count.
    full_url
        ``Bundle.entry.fullUrl``, if any.
    bundle
        Number of the Bundle that it came in, 0 outside one: ids are names within it.
    reason
        Why it is not read as a fact; None where it is.
    states
        What its statuses say: draft, final, past ...
    left
        Parts that do not count: path in the resource, and why.
    holder
        The resource that contains this one.
    named
        Whether its id was taken from the address of its entry.
    """

    original: Resource
    view: Resource
    full_url: str | None = None
    bundle: int = 0
    reason: Reason | None = None
    states: frozenset[str] = frozenset()
    left: list[tuple[str, Reason]] = field(default_factory=list)
    holder: Resource | None = None
    named: bool = False

    @property
    def base(self) -> str:
        """The server's address in ``full_url``, or ""."""
        url = self.full_url or ""
        return url.rsplit("/", 2)[0] if url.startswith(("http://", "https://")) and url.count("/") > 3 else ""


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


class ReadContext:
    """All resources that came in, and the record that grows from them."""

    def __init__(self, came: Iterable[Came], terms: Terms) -> None:
        self.terms = terms
        self.resources: list[Resource] = []
        self.came: dict[int, Came] = {}
        self.own: dict[int, str | None] = {}
        self.places: dict[int, str | None] = {}
        self.reasons: dict[int, Reason] = {}
        self.system: str | None = None
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
        self._said: dict[tuple[int, str], tuple[Resource, str]] = {}
        self._by_kind: dict[str, list[Resource]] = {}
        self._by_url: dict[str, Resource] = {}
        self._by_name: dict[str, list[Came]] = {}
        self._by_identifier: dict[tuple[str, str, str], list[Resource]] | None = None
        self._order: dict[int, list[tuple[int, Json]]] = {}
        for one in came:
            self._take(one)
        #: Names of which there is one, where nothing came from a server with an address: the plain way for most.
        self.based = any(one.base for one in self.came.values() if one.full_url)
        self._plain = (
            {} if self.based else {name: found[0].view for name, found in self._by_name.items() if len(found) == 1}
        )
        self._keys: dict[int, list[tuple[Any, Any]]] = {}

    # -- what came in --------------------------------------------------------------------------

    def _take(self, one: Came) -> None:
        resource = one.view
        self.came[id(resource)] = one
        if one.reason is not None:
            self.reasons[id(resource)] = one.reason
        kind = str(resource.get("resourceType"))
        if one.holder is not None:
            self._by_kind.setdefault(f"#{kind}", []).append(resource)
            return
        self.resources.append(resource)
        self._by_kind.setdefault(kind, []).append(resource)
        if "id" in resource:
            self._by_name.setdefault(f"{kind}/{resource['id']}", []).append(one)
        if one.full_url:
            self._by_url.setdefault(_versionless(one.full_url), resource)

    def of(self, kind: str) -> list[Resource]:
        """Return the resources of one kind, in the order in which they came, those that do not count among them."""
        return self._by_kind.get(kind, [])

    def open(self, kind: str, *, contained: bool = False) -> Iterator[Resource]:
        """Yield the resources of one kind that count and are not refused yet."""
        found = [*self.of(kind), *(self.of(f"#{kind}") if contained else ())]
        return (resource for resource in found if id(resource) not in self.reasons)

    def counts(self, resource: Resource) -> bool:
        """Whether a resource is read as a fact."""
        return id(resource) not in self.reasons

    def states(self, resource: Resource) -> frozenset[str]:
        """Return what the statuses of a resource say."""
        one = self.came.get(id(resource))
        return one.states if one is not None else frozenset()

    def keys(self, resource: Resource) -> list[tuple[Any, Any]]:
        """Return the (system, code) pairs of a resource's ``code``, worked out once."""
        found = self._keys.get(id(resource))
        if found is None:
            found = self._keys[id(resource)] = code_keys(resource.get("code"))
        return found

    # -- where things point --------------------------------------------------------------------

    def follow(self, ref: Json, holder: Resource | None = None) -> Resource | None:
        """Return the resource that a Reference names, whether it counts or not.

        Relative, absolute, with a version, ``urn:uuid``, contained (``#x``, within its own resource), or by
        identifier alone. An id is a name within one server and one Bundle: two that fit name nothing.
        """
        literal = ref.get("reference") if isinstance(ref, dict) else ref
        if isinstance(literal, str) and literal:
            if (plain := self._plain.get(literal)) is not None:
                return plain
            return self._literal(literal, holder)
        if isinstance(ref, dict) and isinstance(ref.get("identifier"), dict):
            return self._logical(ref)
        return None

    def _literal(self, literal: str, holder: Resource | None) -> Resource | None:
        if literal.startswith("#"):
            return self._inner(literal[1:], holder)
        literal = _versionless(literal)
        found = self._by_url.get(literal)
        if found is not None or literal.startswith("urn:"):
            return found
        here = self.came.get(id(holder)) if holder is not None else None
        absolute = literal.startswith(("http://", "https://"))
        if here is not None and not absolute and here.base:
            found = self._by_url.get(f"{here.base}/{literal}")
            if found is not None:
                return found
        base = literal.rsplit("/", 2)[0] if absolute else here.base if here is not None else ""
        named = self._by_name.get("/".join(literal.rsplit("/", 2)[-2:]) if absolute else literal, ())
        fits = [one for one in named if not base or not one.base or one.base == base]
        if len(fits) > 1 and here is not None:
            fits = [one for one in fits if one.bundle == here.bundle] or fits
        return fits[0].view if len(fits) == 1 else None

    def _inner(self, name: str, holder: Resource | None) -> Resource | None:
        here = self.came.get(id(holder)) if holder is not None else None
        around = holder if here is None or here.holder is None else here.holder
        if around is None or not name:
            return around
        return next((c for c in around.get("contained", ()) if isinstance(c, dict) and c.get("id") == name), None)

    def _logical(self, ref: Resource) -> Resource | None:
        named = ref["identifier"]
        system, value = named.get("system"), named.get("value")
        if not system or not value:
            return None
        if self._by_identifier is None:
            self._by_identifier = {}
            for resource in self.resources:
                for one in _identifiers(resource):
                    key = (str(resource.get("resourceType")), str(one.get("system")), str(one.get("value")))
                    self._by_identifier.setdefault(key, []).append(resource)
        kinds = (ref["type"],) if "type" in ref else sorted({key[0] for key in self._by_identifier})
        found = [r for kind in kinds for r in self._by_identifier.get((kind, system, value), ())]
        return found[0] if len(found) == 1 else None

    def name(self, ref: Json, holder: Resource) -> str | None:
        """Return what a Reference names, as one text: two References of one name mean one thing.

        A resource that did not come has a name too, by which everything that names it is held together.
        """
        found = self.follow(ref, holder)
        if found is not None:
            return self.name_of(found)
        if not isinstance(ref, dict):
            return None
        literal = ref.get("reference")
        here = self.came.get(id(holder))
        if isinstance(literal, str) and literal:
            if literal.startswith("#"):
                return None
            literal = _versionless(literal)
            if here is not None and here.base and not literal.startswith(("http://", "https://", "urn:")):
                return f"{here.base}/{literal}"
            return literal
        named = ref.get("identifier")
        if isinstance(named, dict) and named.get("value"):
            return "identifier:" + as_json([named.get("system"), named["value"]])
        return None

    def name_of(self, resource: Resource) -> str:
        """Return the name of a resource that came: its address, else type and id."""
        one = self.came.get(id(resource))
        if one is None:
            return f"#{id(resource)}"
        if one.holder is not None:
            return f"{self.name_of(one.holder)}#{resource.get('id', '')}"
        if one.base:
            return _versionless(str(one.full_url))
        named = f"{resource.get('resourceType')}/{resource['id']}" if "id" in resource else None
        if named is not None and len(self._by_name.get(named, ())) == 1:
            return named
        return one.full_url or f"#{id(resource)}"

    # -- where it belongs ----------------------------------------------------------------------

    def place(self, resource: Resource) -> str | None:
        """Return the place that our own identifier names, or None for a resource that others wrote."""
        key = id(resource)
        if key not in self.own:
            self.own[key] = next(
                (i.get("value") for i in _identifiers(resource) if self.system and i.get("system") == self.system), None
            )
        return self.own[key]

    def index(self, resource: Resource) -> int | None:
        """Return the number at the end of our own place, or None."""
        place = self.place(resource)
        last = place.rsplit("/", 1)[-1] if place else ""
        return int(last) if last.isascii() and last.isdigit() and place and place.count("/") > 1 else None

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

        The answer is noted as the record spells it ("3 o'clock" is "3" there), or it would never be found again.
        """
        key, field = (str(concept.of), concept.key) if concept.of else (concept.key, "")
        written = canonical(concept, answer, None, lambda path, value: None)
        where = [spot.visit["id"], spot.entry.get("wound", ""), concept.group, key, field, written]
        self.standing[id(resource)] = where

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
            self._said[id(answers), key] = (resource, path)
            return True
        if known == value or same_quantity(known, value) or (value == CONFLICT and self.place(resource) is not None):
            if (said := self._said.get((id(answers), key))) is not None and said[0] is not resource:
                self.again |= {id(resource), id(said[0])}
            return True
        if known != CONFLICT:
            first_said = self._said.get((id(answers), key))
            if first_said is not None:
                self.leave(first_said[0], first_said[1], _CONFLICT, "conflict")
            answers[key] = dict(CONFLICT)
        self.leave(resource, path, _CONFLICT, "conflict")
        return False

    def add(self, items: list[Json], item: Json) -> None:
        """Add an item that is made of loose parts at the end of a list, so that what follows is counted behind it."""
        ranked = self._order.setdefault(id(items), [])
        ranked.append((len(ranked) + 1, item))
        items.append(item)

    def same_of_ours(self, items: list[dict[str, Json]], key: str, answer: Json) -> bool:
        """Whether an item that a resource of ours said holds what a loose resource of others says, each taken once.

        What came stands beside what we made of it: read together again, they are one item and not two.
        """
        for item in items:
            used = self._ours.get(id(item))
            if used is not None and key not in used and item.get(key) == answer:
                used.add(key)
                return True
        return False

    # -- lists, in the order that our own places name -----------------------------------------

    def append(self, answers: dict[str, Json], key: str, item: Json, resource: Resource, place: str) -> bool:
        """Add one item to a list answer in its order; False where the answer is already something else."""
        items = answers.setdefault(key, [])
        if not isinstance(items, list):
            return False
        ranked = self._order.setdefault(id(items), [])
        rank = self.index(resource) or len(ranked) + 1
        ranked.append((rank, item))
        if isinstance(item, dict) and self.place(resource) is not None:
            self._ours[id(item)] = set()
        items.append(item)
        if len(ranked) > 1 and ranked[-2][0] > rank:
            ranked.sort(key=lambda pair: pair[0])
            items[:] = [one for _, one in ranked]
        self.placed(resource, f"{place}/{rank}")
        return True


#: What stands at a place for which two different values came.
CONFLICT = {"absent": "two different values came"}
_CONFLICT = "another value came for the same place; neither was chosen"


def same_quantity(one: Json, other: Json) -> bool:
    """Whether two quantities are one number of one unit, however many zeros are written."""
    if not isinstance(one, str) or not isinstance(other, str):
        return False
    a, b = parse(one), parse(other)
    if a is None or b is None or (a.comparator, a.unit) != (b.comparator, b.unit):
        return False
    return Decimal(a.number) == Decimal(b.number)


def _versionless(literal: str) -> str:
    return literal.split("/_history/", 1)[0]


def _identifiers(resource: Mapping[str, Json]) -> list[Mapping[str, Json]]:
    named = resource.get("identifier") or ()
    return [one for one in (named if isinstance(named, list) else [named]) if isinstance(one, Mapping)]


def rename(value: Json, names: Mapping[str, str]) -> Json:
    """Return a copy in which every literal reference is renamed."""
    if isinstance(value, dict):
        return {
            key: names.get(item, item) if key == "reference" and isinstance(item, str) else rename(item, names)
            for key, item in value.items()
        }
    if isinstance(value, list):
        return [rename(item, names) for item in value]
    return value


def own_id(source: ReadContext, resource: Resource) -> str:
    """Return the record's id for a wound or a visit: from our identifier, else their identifier, else their id."""
    place = source.place(resource)
    if place is not None:
        return unescape(place)
    named = first(resource.get("identifier")).get("value")
    one = source.came.get(id(resource))
    if not named and one is not None and one.holder is not None:
        return source.name_of(resource)
    return str(named or resource.get("id") or (one.full_url if one is not None else None) or "")
