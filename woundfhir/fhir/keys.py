"""Business keys that a server can find a resource by: they follow from what a resource is, never from a position.

Inside a Bundle of ours an item of a list is named by its place (``allergies/1``). A server keeps a resource for years,
and the record's order changes under it: there its identifier ends in ``~`` and a digest of what it is
(``allergies/~3f2a90c1d7e4``), and the position stands in an extension of the identifier, so that the order is read
again. What a resource is: its code, its words, the item. What is measured, counted, dated or noted of it is amended
under the same key. Where two of one list are the same in that, the digest is of all that they say; of two that are
equal in everything, the second has ``~2`` at its end.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from hashlib import sha256
from typing import Any, NamedTuple
from urllib.parse import quote

from woundfhir.catalogue import BASE
from woundfhir.fhir.elements import find_extension
from woundfhir.fhir.list_items import item_digests
from woundfhir.fhir.references import identifiers_of
from woundfhir.fhir.terms import terms
from woundfhir.r4.definitions import elements
from woundfhir.record.canonical import as_json
from woundfhir.record.clients import REFERENCE, is_placeholder

Json = Any
Resource = dict[str, Json]
#: The system of the keys that we give to what others wrote without an identifier.
GIVEN = f"{BASE}/key"
_POSITION = re.compile(r"(?P<list>.+)/(?P<position>[1-9][0-9]*)")
_DIGEST = re.compile(r"(?P<list>.+)/~[0-9a-f]{12}(?:~[0-9]+)?")
#: What a list is of at the client: everything else of a list stands below a visit.
_CLIENT_LISTS = ("allergies", "conditions")
#: The types of wounds and visits: their places are their ids.
_TOPS = ("Condition", "Encounter")


class Key(NamedTuple):
    """What a server finds one resource by.

    Attributes
    ----------
    type
        The resource type.
    system, value
        Of its identifier; ``system`` is empty for a type that has no identifier, and ``value`` then its id.

    Examples
    --------
    >>> Key("Observation", "urn:uuid:1", "V1/W1/length").query
    'identifier=urn:uuid:1|V1/W1/length'
    """

    type: str
    system: str
    value: str

    @property
    def token(self) -> str:
        """System and value as a search parameter of the type token has them (R4, search, escaping)."""
        system, value = (re.sub(r"([\\|$,])", r"\\\1", part) for part in (self.system, self.value))
        return f"{system}|{value}"

    @property
    def query(self) -> str:
        """The condition of a conditional create or update, without its ``?``."""
        return f"identifier={quote(self.token, safe=':/.-~|')}"

    @property
    def words(self) -> str:
        """The key in one text, as a receipt has it."""
        return f"{self.type}?identifier={self.system}|{self.value}" if self.system else f"{self.type}/{self.value}"

    @property
    def place(self) -> str:
        """The type and, where it names one, the place in the record: no identifier of a client is in it."""
        return f"{self.type} {self.value}" if self.system.startswith("urn:uuid:") else self.type


def key_of(resource: Mapping[str, Json]) -> Key | None:
    """Return the key of a resource: of the first identifier with system and value; None where it has none.

    Examples
    --------
    >>> key_of({"resourceType": "Patient", "identifier": [{"value": "1"}, {"system": "urn:card", "value": "7"}]})
    Key(type='Patient', system='urn:card', value='7')
    """
    kind = str(resource.get("resourceType"))
    if "identifier" not in elements(kind):
        return Key(kind, "", str(resource["id"])) if "id" in resource else None
    for one in identifiers_of(resource):
        system, value = one.get("system"), one.get("value")
        if not is_placeholder(system) and not is_placeholder(value) and system != REFERENCE:
            return Key(kind, str(system), str(value))
    return None


def keyed(resources: Iterable[Resource], system: str) -> list[Resource]:
    """Return resources as a server keeps them: keys by what they are, and a key for what has none.

    Parameters
    ----------
    resources
        All of one record, as ``written`` gives them.
    system
        The system of the identifiers that name places in this record.

    Examples
    --------
    >>> named = [{"system": "urn:uuid:1", "value": "allergies/1"}]
    >>> honey = {"resourceType": "AllergyIntolerance", "identifier": named, "code": {"text": "honey"}}
    >>> made = keyed([honey], "urn:uuid:1")
    >>> made[0]["identifier"][0]["value"]
    'allergies/~2567d7f27018'
    """
    listed = list(resources)
    places = [_listed(resource, system) for resource in listed]
    digests = item_digests([(place[0], one) if place else None for place, one in zip(places, listed, strict=True)])
    made = []
    tops: Counter[str] = Counter()
    for resource, place, digest in zip(listed, places, digests, strict=True):
        if place is not None:
            resource = _with_position(resource, system, f"{place[0]}/{digest}", place[1])
        elif key_of(resource) is None:
            resource = _given(resource)
        elif (top := _top(resource, system)) is not None:  # a server gives them back in an order of its own
            tops[resource["resourceType"]] += 1
            resource = _with_position(resource, system, top, tops[resource["resourceType"]])
        made.append(resource)
    return made


def _with_position(resource: Resource, system: str, value: str, position: int) -> Resource:
    extension = {"url": terms().ext("position"), "valuePositiveInt": position}
    named = {"extension": [extension], "system": system, "value": value}
    return {
        **resource,
        "identifier": [named, *(one for one in identifiers_of(resource) if one.get("system") != system)],
    }


def _top(resource: Resource, system: str) -> str | None:
    """The place of a wound or a visit, which is its id alone."""
    if resource["resourceType"] not in _TOPS:
        return None
    values = (str(one.get("value")) for one in identifiers_of(resource) if one.get("system") == system)
    return next((value for value in values if "/" not in value), None)


def in_order(resources: Iterable[Resource]) -> list[Resource]:
    """Return resources with the wounds and the visits among them in the order in which the record has them.

    Examples
    --------
    >>> wounds = [{"resourceType": "Condition", "identifier": [{"system": "s", "value": name}]} for name in "BA"]
    >>> [one["identifier"][0]["value"] for one in in_order(reversed(keyed(wounds, "s")))]
    ['B', 'A']
    """
    listed = list(resources)
    places = [_top_position(one) for one in listed]
    for kind in _TOPS:
        here = [n for n, one in enumerate(listed) if places[n] is not None and one["resourceType"] == kind]
        ordered = [listed[n] for n in sorted(here, key=lambda n: places[n] or 0)]
        for n, one in zip(here, ordered, strict=True):
            listed[n] = one
    return listed


def _top_position(resource: Resource) -> int | None:
    if resource.get("resourceType") not in _TOPS:
        return None
    named = (one for one in identifiers_of(resource) if "extension" in one and "/" not in str(one.get("value")))
    found = (find_extension(one, terms().ext("position")) for one in named)
    return next(
        (one["valuePositiveInt"] for one in found if one and isinstance(one.get("valuePositiveInt"), int)), None
    )


def list_of(resource: Resource, system: str) -> str | None:
    """Return the list that an item stands in, by either form of its key; None for what stands in none."""
    found = _listed(resource, system)
    if found is not None:
        return found[0]
    named = (
        _DIGEST.fullmatch(str(one.get("value"))) for one in identifiers_of(resource) if one.get("system") == system
    )
    return next((match["list"] for match in named if match), None)


def _listed(resource: Mapping[str, Json], system: str) -> tuple[str, int] | None:
    """List and position of an item, where its identifier names them."""
    value = next((str(one.get("value")) for one in identifiers_of(resource) if one.get("system") == system), "")
    found = _POSITION.fullmatch(value)
    if found is None:
        return None
    client = found["list"] in _CLIENT_LISTS and resource["resourceType"] in ("AllergyIntolerance", "Condition")
    return (found["list"], int(found["position"])) if client or "/" in found["list"] else None


def _given(resource: Resource) -> Resource:
    """A key of ours for what others wrote without one."""
    if "identifier" not in elements(resource["resourceType"]):
        return resource
    name = sha256(as_json({**resource, "meta": None}).encode()).hexdigest()[:32]
    named: Json = {"system": GIVEN, "value": name}
    many = elements(resource["resourceType"])["identifier"].many
    return {**resource, "identifier": [*identifiers_of(resource), named] if many else named}


def in_record_form(resource: Resource) -> Resource:
    """Turn ``keyed`` back: the place by its position, and no key that only a server needed.

    Examples
    --------
    >>> named = [{"system": "urn:a", "value": "1"}, {"system": GIVEN, "value": "2"}]
    >>> in_record_form({"resourceType": "Basic", "identifier": named})["identifier"]
    [{'system': 'urn:a', 'value': '1'}]
    """
    found = resource.get("identifier")
    named = found if isinstance(found, list) else [found]
    if not any(isinstance(one, dict) and ("extension" in one or one.get("system") == GIVEN) for one in named):
        return resource
    back = [one for one in map(_positioned, named) if not (isinstance(one, dict) and one.get("system") == GIVEN)]
    if back == named:
        return resource
    made = {**resource, "identifier": back if isinstance(found, list) else next(iter(back), None)}
    return made if back else {key: value for key, value in made.items() if key != "identifier"}


def _positioned(one: Json) -> Json:
    if not isinstance(one, dict) or not isinstance(one.get("extension"), list) or not isinstance(one.get("value"), str):
        return one
    said = (find_extension(one, terms().ext("position")) or {}).get("valuePositiveInt")
    found = _DIGEST.fullmatch(one["value"])
    if said is None or (found is None and "/" in one["value"]):
        return one
    rest = {key: value for key, value in one.items() if key != "extension"}
    others = [item for item in one["extension"] if item.get("url") != terms().ext("position")]
    value = f"{found['list']}/{said}" if found is not None else one["value"]
    return {**({"extension": others} if others else {}), **rest, "value": value}
