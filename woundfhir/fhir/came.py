"""What came in: each resource, whether it counts, and where its references point."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any

from woundfhir.fhir.reasons import EARLIER, SUPERSEDED, Reason
from woundfhir.fhir.references import address, base_of, conditional, identifiers_of
from woundfhir.fhir.terms import code_keys
from woundfhir.record.canonical import as_json
from woundfhir.record.clients import REFERENCE

Json = Any
Resource = dict[str, Json]


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
    mapped
        Codes that a map decided: path of the coding -> what was lost, "" where nothing was.
    at
        Where it stood, from 0 as in FHIRPath: ``Bundle.entry[3]``, ``[2]`` in a list; empty for what came alone.
    same_as
        What stands for the same resource where several versions of it came and none is the newest.
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
    mapped: Mapping[tuple[Any, ...], str] = field(default_factory=dict)
    at: str = ""
    same_as: Came | None = None

    @property
    def base(self) -> str:
        """The server's address in ``full_url``, or ""."""
        return base_of(self.full_url or "")


def logical_name(ref: Mapping[str, Json]) -> str | None:
    """Return what a reference by identifier names, None where it has none.

    Examples
    --------
    >>> logical_name({"identifier": {"system": "urn:example:clinic", "value": "C-1"}})
    'identifier:["urn:example:clinic","C-1"]'
    """
    named = ref.get("identifier")
    if isinstance(named, dict) and named.get("value"):
        if named.get("system") == REFERENCE:  # a reference as its sender wrote it (`at_home.py`)
            return str(named["value"])
        return "identifier:" + as_json([named.get("system"), named["value"]])
    return None


class Arrived:
    """All resources that came in, whether each counts, and what their references name."""

    def __init__(self, came: Iterable[Came]) -> None:
        self.resources: list[Resource] = []
        self.came: dict[int, Came] = {}
        self.reasons: dict[int, Reason] = {}
        #: Other versions of a resource, where none is the newest.
        self.versions: dict[int, list[Resource]] = {}
        self._by_kind: dict[str, list[Resource]] = {}
        #: None where two came of one address: it names neither.
        self._by_url: dict[str, Resource | None] = {}
        self._by_name: dict[str, list[Came]] = {}
        self._by_identifier: dict[tuple[str, str, str], list[Resource]] | None = None
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
        # Nothing can name an earlier version, nor what has no type.
        if one.reason in (SUPERSEDED, EARLIER) or not isinstance(resource.get("resourceType"), str):
            return
        if one.same_as is not None:
            self.versions.setdefault(id(one.same_as.view), []).append(resource)
            if one.reason is None:
                self._by_kind.setdefault(kind, []).append(resource)
            return
        self._by_kind.setdefault(kind, []).append(resource)
        if "id" in resource:
            self._by_name.setdefault(f"{kind}/{resource['id']}", []).append(one)
        if one.full_url:
            where = address(one.full_url)
            self._by_url[where] = resource if where not in self._by_url else None

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

    def mapped(self, resource: Resource) -> Mapping[tuple[Any, ...], str]:
        """Return the paths of the codes of a resource that a map decided."""
        one = self.came.get(id(resource))
        return one.mapped if one is not None else {}

    def keys(self, resource: Resource) -> list[tuple[Any, Any]]:
        """Return the (system, code) pairs of a resource's ``code``, worked out once."""
        found = self._keys.get(id(resource))
        if found is None:
            found = self._keys[id(resource)] = code_keys(resource.get("code"))
        return found

    # -- where things point --------------------------------------------------------------------

    def follow(self, ref: Json, holder: Resource | None = None) -> Resource | None:
        """Return the resource that a Reference names, whether it counts or not.

        Relative, absolute, with a version, ``urn:uuid``, contained (``#x``, within its own resource), conditional
        (``Patient?identifier=system|value``: FHIR R4, http, transaction), or by identifier alone. An id is a name
        within one server and one Bundle: two that fit name nothing.
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
        if "?" in literal:
            asked = conditional(literal)
            return self._logical(asked) if asked is not None else None
        literal = address(literal)
        found = self._by_url.get(literal)
        if found is not None:
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
        if not fits and not absolute:  # what means another server is absolute by now (`intake/addresses.py`)
            fits = list(named)
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
                for one in identifiers_of(resource):
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
        if isinstance(literal, str) and literal.strip():
            if literal.startswith("#"):
                return None
            literal = address(literal.strip())  # as the record has it
            plain = "/".join(literal.rsplit("/", 2)[-2:])
            if len(self._by_name.get(plain, ())) > 1 and (f"{here.base}/{literal}" if here else "") in self._by_url:
                return plain  # two came of this name, and it goes out without the address
            if here is not None and here.base and not literal.startswith(("http://", "https://", "urn:")):
                return f"{here.base}/{literal}"
            return literal
        return logical_name(ref)

    def name_of(self, resource: Resource) -> str:
        """Return the name of a resource that came: type and id; where two have those, its address or its content."""
        one = self.came.get(id(resource))
        if one is None:
            return _by_content(resource)
        if one.holder is not None:
            return f"{self.name_of(one.holder)}#{resource.get('id', '')}"
        named = f"{resource.get('resourceType')}/{resource['id']}" if "id" in resource else None
        if named is not None and len(self._by_name.get(named, ())) == 1:
            return named
        return address(one.full_url) if one.full_url else _by_content(one.original)


def _by_content(resource: Resource) -> str:
    """The name of a resource that has none of its own: the same in every run, and what is alike is one thing."""
    return f"#{sha256(as_json(resource).encode()).hexdigest()[:16]}"
