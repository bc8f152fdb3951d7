"""Whose is it? The clients in a FHIR input: each is its identifiers and the references that name it.

Resources of several clients never become one record. What names nobody, beside one client, is that client's; an
unresolved reference to a client is a name like any other.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from woundfhir.errors import InputError
from woundfhir.fhir.came import Resource
from woundfhir.fhir.elements import ABSENT_URL, find_extension
from woundfhir.fhir.read_context import ReadContext
from woundfhir.r4.definitions import resource_types
from woundfhir.record.canonical import as_json
from woundfhir.record.clients import CHOOSE, REFERENCE, identifiers, is_placeholder

Json = Any
_NO_CLIENT = "is about no client: its subject is a group, another person, a thing or a place"
#: Elements by which a resource says whose it is; some may name others than clients.
_ELEMENTS = ("subject", "patient", "beneficiary", "for")


class SeveralClients(InputError):
    """An input is about more than one client where one is needed."""

    def __init__(self, count: int) -> None:
        wrong = f"here are those of {count} clients, and those of two are never joined"
        super().__init__("FHIR", "resources of one client", CHOOSE, found=wrong)


def clients(source: ReadContext) -> list[set[str]]:
    """Return the clients in an input, each as the names that mean them, in the order of their first name."""
    patients, named = _everybody(source)
    return _held_together(source, patients, named)


def names(source: ReadContext, resource: Resource, strange: frozenset[str]) -> Iterator[str]:
    """Yield the names of the clients that a resource says it is about; ``strange`` is what ``strangers`` gives."""
    for ref in _references(resource):
        if not _other(source, ref, resource) and (name := _name(source, ref, resource, strange)) is not None:
            yield name


def strangers(source: ReadContext) -> frozenset[str]:
    """Return addresses that end like the id of a Patient who came without one, where others name it in another way.

    ``http://two.example.org/fhir/Patient/1`` may be the ``Patient/1`` that came, if everything calls it so.
    """
    refs = [(ref, resource) for resource in source.resources for ref in _references(resource)]
    called: dict[str, set[str]] = {}
    if any(str(ref.get("reference")).startswith(("http://", "https://")) for ref, _ in refs):
        for ref, resource in refs:
            literal = ref.get("reference")
            if isinstance(literal, str) and (found := source.follow(ref, resource)) is not None:
                one = source.came.get(id(found))
                if one is not None and not one.base and found.get("resourceType") == "Patient":
                    called.setdefault(source.name_of(found), set()).add(literal.split("/_history/")[0])
    several = [some for some in called.values() if len(some) > 1]
    return frozenset(one for some in several for one in some if one.startswith(("http://", "https://")))


def _everybody(source: ReadContext) -> tuple[dict[str, Resource], dict[str, Json]]:
    """Return the Patients by name, and what names a client, with the first Reference that does.

    What is about no person is refused.
    """
    named: dict[str, Json] = {}
    plain: set[str] = set()
    strange = strangers(source)
    for resource in source.resources:
        for ref in _references(resource):
            literal = ref.get("reference")
            if literal in plain and len(ref) == 1:  # the same name, in an input where nothing has an address
                continue
            if _other(source, ref, resource):
                source.refuse(resource, _NO_CLIENT, "not understood")
            elif (name := _name(source, ref, resource, strange)) is not None:
                named.setdefault(name, (ref, resource))
                if not source.based and isinstance(literal, str) and not literal.startswith("#"):
                    plain.add(literal)
    return {source.name_of(one): one for one in source.of("Patient")}, named


def read_subject(source: ReadContext) -> tuple[Resource | None, dict[str, Json]]:
    """Find the one client, refuse what is about no person, and refuse an input that tells of several.

    Returns
    -------
    Patient, known
        The Patient that counts, if one came; and, where none did, what is known of the client: identifiers by which
        others name them.

    Raises
    ------
    InputError
        When the resources belong to more than one client: says how many, and how to choose.
    """
    patients, named = _everybody(source)
    found = _held_together(source, patients, named)
    if len(found) > 1:
        raise SeveralClients(len(found))
    counting = [one for one in patients.values() if source.counts(one)]
    if counting:
        return counting[0], {}
    return None, _known(named, set(patients)) if source.resources else {}


def _references(resource: Resource) -> Iterator[Json]:
    for key in _ELEMENTS:
        found = resource.get(key)
        if isinstance(found, dict):
            yield found
    if resource.get("resourceType") == "QuestionnaireResponse" and isinstance(resource.get("source"), dict):
        literal = resource["source"].get("reference")
        if isinstance(literal, str) and _kind(literal) == "Patient":
            yield resource["source"]


def _kind(literal: str) -> str:
    parts = literal.split("/_history/", 1)[0].rsplit("/", 2)
    return parts[-2] if len(parts) > 1 else ""


def _other(source: ReadContext, ref: Json, holder: Resource) -> bool:
    """Whether a reference names something else than a client: a group, a relative, a device, a place."""
    found = source.follow(ref, holder)
    if found is not None:
        return found.get("resourceType") not in ("Patient", None)
    literal = ref.get("reference")
    kinds = {_kind(literal.split("?", 1)[0]) if isinstance(literal, str) else "", ref.get("type")} & resource_types()
    return bool(kinds - {"Patient"})


def _name(source: ReadContext, ref: Json, holder: Resource, strange: frozenset[str]) -> str | None:
    if strange and (literal := str(ref.get("reference")).split("/_history/")[0]) in strange:
        return literal
    named = ref.get("identifier")
    if "reference" not in ref and isinstance(named, dict) and is_placeholder(named.get("value")):
        found = None  # "unknown" is no number, not even where a Patient has the same
    else:
        found = source.follow(ref, holder)
    if found is not None and found.get("resourceType") not in ("Patient", None):
        return None
    name = source.name(ref, holder) if found is not None or "reference" in ref else _logical_name(ref)
    if name is None and find_extension(ref, ABSENT_URL) is not None:
        return f"absent:{_own_system(holder)}"  # somebody, and nobody here knows who: none of those who are named
    display = ref.get("display")
    return name or (f"display:{display}" if isinstance(display, str) and display.strip() else None)


def _own_system(holder: Resource) -> str:
    """Return the system of our own identifiers, one for each client, where a resource has one."""
    named = holder.get("identifier")
    systems = [one.get("system") for one in (named if isinstance(named, list) else [named]) if isinstance(one, dict)]
    return next((one for one in systems if isinstance(one, str) and one.startswith("urn:uuid:")), "")


def _logical_name(ref: Json) -> str | None:
    named = ref.get("identifier")
    if isinstance(named, dict) and named.get("value"):
        return "identifier:" + as_json([named.get("system"), named["value"]])
    return None


def _held_together(source: ReadContext, patients: Mapping[str, Resource], named: Mapping[str, Json]) -> list[set[str]]:
    """Return the clients, each as the names that mean them."""
    clients = [{name} for name in patients]
    home = {name: client for client in clients for name in client}
    logical: dict[str, set[str]] = {}
    for name, one in patients.items():
        for key in _logical(one):
            logical.setdefault(key, set()).add(name)
    for name in named:
        # A name in words alone says nothing against the one client who is there.
        if name in home or (name.startswith("display:") and len(patients) == 1):
            continue
        known = logical.get(name, set())
        if len(known) == 1:  # a number that two Patients have names neither
            home[name] = home[next(iter(known))]
            home[name].add(name)
        else:
            home[name] = {name}
            clients.append(home[name])
    return clients


def _logical(patient: Resource) -> Iterable[str]:
    found = patient.get("identifier")
    for one in found if isinstance(found, list) else ():
        if isinstance(one, dict) and identifiers({"identifiers": [one]}):
            yield "identifier:" + as_json([one.get("system"), one["value"]])


def _known(named: Mapping[str, Json], patients: set[str]) -> dict[str, Json]:
    """What the references to a client who did not come, or does not count, say of them."""
    for name, (ref, _) in named.items():
        display = ref.get("display")
        told: dict[str, Json] = {"name": {"text": display}} if isinstance(display, str) and display.strip() else {}
        if name.startswith("identifier:"):
            named_by = {key: ref["identifier"][key] for key in ("system", "value") if key in ref["identifier"]}
            return {"identifiers": [named_by], **told}
        if name.startswith(("display:", "absent:")):
            return {"identifiers": [{"system": REFERENCE}], **told}
        return {"identifiers": [{"system": REFERENCE, "value": name}], **told}
    if patients:
        return {"identifiers": [{"system": REFERENCE, "value": min(patients)}]}
    return {"identifiers": [{"system": REFERENCE}]}  # nobody is named: no Patient is made of that
