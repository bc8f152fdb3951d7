"""Reading our own output again gives the same record, however the entries of what came were addressed.

Source of the addresses: HL7 FHIR R4, Bundle (resolving references) and http (service base URL); the inputs are those of
the guides, of servers and of strangers.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterator
from uuid import NAMESPACE_URL, uuid5

import pytest

from tests.intake.foreign.for_server import for_server
from tests.intake.foreign.guides import GUIDES
from tests.intake.foreign.inputs import READ, bundle, client, length, wound
from tests.intake.foreign.test_laws import Json, decode, encode, said
from tests.intake.strangers.test_strangers import CASES
from tests.intake.strangers.test_strangers import READ as STRANGERS
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.handover import bundle as bundled
from woundfhir.intake.addresses import id_in
from woundfhir.intake.formats import FORMATS
from woundfhir.intake.gather import gather
from woundfhir.intake.resources import from_fhir
from woundfhir.record import History

ONE, TWO = "https://ehr.example.org/fhir", "http://two.example.org:8080/r4"
LITERAL = re.compile(r"[A-Z][A-Za-z]+/[A-Za-z0-9.-]{1,64}")
INPUTS: dict[str, Callable[[], list[Json]]] = {
    **{f"foreign: {name}": lambda came=came: came for name, (came, _, _) in READ.items()},
    **{f"guide: {name}": lambda make=make: [make()] for name, make in GUIDES.items()},
    **{f"stranger: {name}": lambda name=name: CASES[name]["resources"] for name in STRANGERS},
}


def held(came: list[Json]) -> Iterator[Json]:
    """Yield the entries of all Bundles; resources that stand alone are put into one."""
    for one in came:
        if one["resourceType"] == "Bundle":
            yield from (entry for entry in one.get("entry", ()) if "resource" in entry)


def in_bundles(came: list[Json]) -> list[Json]:
    loose = [{"resource": one} for one in came if one["resourceType"] != "Bundle"]
    own = [{"resourceType": "Bundle", "type": "collection", "entry": loose}] if loose else []
    return copy.deepcopy([*own, *(one for one in came if one["resourceType"] == "Bundle")])


def addressed(came: list[Json], base: Callable[[int], str | None]) -> list[Json]:
    """Give entries the address that a server with this base gives them; a urn:uuid stays."""
    made = in_bundles(came)
    for number, entry in enumerate(held(made)):
        one, url = entry["resource"], base(number)
        if isinstance(one.get("id"), str) and not str(entry.get("fullUrl")).startswith("urn:") and url is not None:
            entry["fullUrl"] = f"{url}/{one['resourceType']}/{one['id']}"
    return made


def pointed(value: Json, change: Callable[[int, str], str], count: list[int] | None = None) -> Json:
    """Return a copy in which each relative reference is changed; the number says which of them it is."""
    count = count if count is not None else [0]
    if isinstance(value, list):
        return [pointed(item, change, count) for item in value]
    if not isinstance(value, dict):
        return value
    made = {key: pointed(item, change, count) for key, item in value.items()}
    literal = value.get("reference")
    if isinstance(literal, str) and LITERAL.fullmatch(literal):
        count[0] += 1
        made["reference"] = change(count[0], literal)
    return made


def with_uuids(came: list[Json]) -> list[Json]:
    made = in_bundles(came)
    for number, entry in enumerate(held(made)):
        entry.setdefault("fullUrl", f"urn:uuid:{uuid5(NAMESPACE_URL, str(number))}")
    return made


VARIANTS: dict[str, Callable[[list[Json]], list[Json]]] = {
    "all on one server": lambda came: addressed(came, lambda _: ONE),
    "some on a server": lambda came: addressed(came, lambda n: ONE if n % 2 else None),
    "others on a server": lambda came: addressed(came, lambda n: None if n % 2 else ONE),
    "two servers": lambda came: addressed(came, lambda n: TWO if n % 2 else ONE),
    "a slash too many": lambda came: addressed(came, lambda _: f"{ONE}/"),
    "urn:uuid": with_uuids,
    "absolute": lambda came: pointed(addressed(came, lambda _: ONE), lambda _, ref: f"{ONE}/{ref}"),
    "mixed": lambda came: pointed(addressed(came, lambda _: ONE), lambda n, ref: f"{ONE}/{ref}" if n % 2 else ref),
    "mixed otherwise": lambda came: pointed(
        addressed(came, lambda _: ONE), lambda n, ref: ref if n % 2 else f"{ONE}/{ref}"
    ),
    "of another server": lambda came: pointed(
        addressed(came, lambda _: ONE), lambda n, ref: ref if n % 3 else f"{TWO}/{ref}"
    ),
    "with versions": lambda came: pointed(
        addressed(came, lambda _: ONE), lambda n, ref: ref if n % 2 else f"{ref}/_history/2"
    ),
    "no addresses, absolute": lambda came: pointed(came, lambda n, ref: f"{ONE}/{ref}" if n % 2 else ref),
}


def bundle_of(kind: Json) -> Callable[[History], History]:
    def again(history: History) -> History:
        made = bundled(history, kind, at="2026-03-09T10:00:00Z")
        return from_fhir([decode(encode(made))])[0]

    return again


def form_of(form: str) -> Callable[[History], History]:
    return lambda history: FORMATS[form].read(FORMATS[form].write(history), form).history


WAYS: dict[str, Callable[[History], History]] = {
    "resources": lambda history: from_fhir(decode(encode(to_fhir(history))))[0],
    **{form: form_of(form) for form in ("fhir-json", "fhir-xml", "ndjson")},
    **{kind: bundle_of(kind) for kind in ("document", "transaction", "collection")},
}


def differing(name: str, variant: str, ways: list[str], tried: list[tuple[History, str]]) -> list[str]:
    """Return the ways by which the second or third reading is another record; an input that is refused has none.

    What of one record was tried of another that is the same is not tried again, and a third reading is one of the same
    record where the second gave the first.
    """
    try:
        first, _ = from_fhir(decode(encode(VARIANTS[variant](INPUTS[name]()))))
    except InputError:
        return []
    found = []
    for way in ways:
        if any(way == other and one.data == first.data for one, other in tried):
            continue
        tried.append((first, way))
        try:
            second = WAYS[way](first)
        except InputError:  # nothing to write, no number for a server, or not the structure that XML has
            ok = not to_fhir(first) or way == "fhir-xml" or (way == "transaction" and not for_server(first))
            found += [] if ok else [f"{variant}: {way}: refused"]
            continue
        third = second if second.data == first.data else WAYS[way](second)
        if not said(first) == said(second) == said(third):
            found.append(f"{variant}: {way}")
    return found


@pytest.mark.parametrize("name", sorted(INPUTS))
def test_our_own_output_read_again_is_the_same_record(name: str) -> None:
    """Every way of addressing by the resources themselves, and a third of them by one more form or kind of Bundle."""
    others = list(WAYS)[1:]
    start = sorted(INPUTS).index(name)
    found: list[str] = []
    tried: list[tuple[History, str]] = []
    for number, variant in enumerate(VARIANTS):
        more = [others[(start + number) % len(others)]] if (start + number) % 3 == 0 else []
        found += differing(name, variant, ["resources", *more], tried)
    assert found == []


def test_a_contained_wound_and_an_encounter_that_did_not_come_have_one_name_on_every_trip() -> None:
    inner = length("l", 4, contained=[{**wound("w"), "id": "w"}], focus=[{"reference": "#w"}])
    seen = length("m", 3, focus=[{"reference": "#w"}], contained=[{**wound("w"), "id": "w"}])
    seen["encounter"] = {"reference": "Encounter/e"}
    first, _ = from_fhir([bundle("collection", client(), inner, seen, base=ONE)])
    assert [one["id"] for one in first.wounds] == ["Observation/l#w", "Observation/m#w"]
    assert f"{ONE}/Encounter/e" in [one["id"] for one in first.visits]
    for way in WAYS.values():
        if way is not WAYS["transaction"]:
            assert said(way(first)) == said(first)


def test_one_name_on_two_servers_stays_two() -> None:
    came = [
        bundle(
            "collection",
            *([client()] if base == ONE else []),
            {**wound("w", of={"reference": f"{ONE}/Patient/p"})},
            length("l", value, of={"reference": f"{ONE}/Patient/p"}, focus=[{"reference": "Condition/w"}]),
            base=base,
        )
        for base, value in ((ONE, 4), (TWO, 9))
    ]
    first, _ = from_fhir(came)
    assert len(first.wounds) == 2
    entries = [entry for one in first.visits for entry in one["wounds"]]
    assert sorted(entry["assessment"]["length"] for entry in entries) == ["4 cm", "9 cm"]
    assert len({entry["wound"] for entry in entries}) == 2
    for name, way in WAYS.items():
        if name != "transaction":  # no number of the client
            assert said(way(first)) == said(first), name


def test_a_reference_to_another_server_is_another_thing_on_every_trip() -> None:
    here = length("l", 4, focus=[{"reference": "Condition/w"}])
    there = length("m", 9, focus=[{"reference": f"{TWO}/Condition/w"}])
    first, _ = from_fhir([bundle("collection", client(), wound("w"), here, there, base=ONE)])
    assert len(first.wounds) == 2
    second = WAYS["resources"](first)
    assert said(second) == said(first) == said(WAYS["collection"](second))


@pytest.mark.parametrize("name", ["o", "x" * 55, "x" * 56, "x" * 64])
def test_one_id_at_two_servers_becomes_two_that_r4_allows(name: str) -> None:
    """R4, id: at most 64 characters; as much of the sender's own stays as fits."""
    one = {"resourceType": "Organization", "id": name, "name": "Invented agency"}
    came = [bundle("collection", {**one, "alias": [base]}, base=base) for base in (ONE, TWO)]
    found = [each.original["id"] for each in gather(came).came]
    assert len(set(found)) == 2
    for each in found:
        assert re.fullmatch(re.escape(name[:55]) + "-[0-9a-f]{8}", each) and LITERAL.fullmatch(f"Organization/{each}")
    alone = [each.original["id"] for each in gather([came[0]]).came]
    assert alone == [name]


def test_the_id_that_an_address_ends_with() -> None:
    """R4, Bundle.entry.fullUrl: an absolute URI; of a server, it ends with type and id."""
    assert (
        id_in(f"{ONE}/Observation/l", "Observation") == id_in(f"{ONE}//Observation/l/_history/2", "Observation") == "l"
    )
    for url in (f"{ONE}/Observation/l", "Condition/l", "urn:uuid:1", f"{ONE}/Condition/l!", f"{ONE}/Condition", ""):
        assert id_in(url, "Condition") is None
