"""Whose is it? The clients in a FHIR input: each is its identifiers and the references that name it.

Resources of several clients never become one record. What names nobody, beside one client, is that client's; an
unresolved reference to a client is a name like any other.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from woundfhir.errors import InputError
from woundfhir.fhir.came import Resource, logical_name
from woundfhir.fhir.elements import ABSENT_URL, find_extension
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.reasons import CROSSED
from woundfhir.fhir.references import address, conditional, own_systems
from woundfhir.intake.persons import doubt_of, held_together, shared_numbers
from woundfhir.r4.definitions import resource_types
from woundfhir.record.clients import CHOOSE, ONE_PERSON, REFERENCE, is_placeholder

Json = Any
_MISSHAPEN = "whose it is cannot be read: its subject has not the structure of a Reference"
_NO_CLIENT = "is about no client: its subject is a group, another person, a thing or a place"
#: Elements by which a resource says whose it is; some may name others than clients.
_ELEMENTS = ("subject", "patient", "beneficiary", "for")
#: What is read into a client's record, and says whose it is by one of these elements.
_OF_A_CLIENT = frozenset(
    (
        *("Observation", "Condition", "Procedure", "Encounter", "AllergyIntolerance", "CarePlan", "CareTeam"),
        *("DocumentReference", "QuestionnaireResponse", "SupplyDelivery"),
    )
)


class SeveralClients(InputError):
    """An input is about more than one client where one is needed."""

    def __init__(self, count: int, doubt: str = "") -> None:
        wrong = f"here are those of {count} clients, and those of two are never joined{doubt}"
        super().__init__("FHIR", "resources of one client", f"{CHOOSE}. {ONE_PERSON}", found=wrong)


def clients(source: ReadContext) -> list[set[str]]:
    """Return the clients in an input, each as the names that mean them, in the order of their first name."""
    patients, named = _everybody(source)
    return held_together(source, patients, named)


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
    for ref, resource in refs:
        literal = ref.get("reference")
        if isinstance(literal, str) and (found := source.follow(ref, resource)) is not None:
            one = source.came.get(id(found))
            if one is not None and not one.base:
                called.setdefault(source.name_of(found), set()).add(address(literal))
    several = [some for some in called.values() if len(some) > 1]
    return frozenset(one for some in several for one in some if one.startswith(("http://", "https://")))


def _everybody(source: ReadContext) -> tuple[dict[str, Resource], dict[str, Json]]:
    """Return the Patients by name, and what names a client, with the first Reference that does.

    What is about no person is refused.
    """
    named: dict[str, Json] = {}
    strange = strangers(source)
    for resource in source.resources:
        if source.reasons.get(id(resource)) is CROSSED:
            continue
        if any(key in resource and not _shaped(resource[key]) for key in _ELEMENTS):
            source.refuse(resource, _MISSHAPEN, "not understood")
            continue
        for ref in _references(resource):
            if _other(source, ref, resource):
                source.refuse(resource, _NO_CLIENT, "not understood")
            elif (name := _name(source, ref, resource, strange)) is not None:
                named.setdefault(name, (ref, resource))
    patients = {source.name_of(one): one for one in source.of("Patient")}
    for name, (ref, resource) in named.items():
        found = source.follow(ref, resource) if name not in patients else None
        if found is not None and found.get("resourceType") == "Patient":  # one that is contained
            patients[name] = found
    return patients, named


def read_subject(source: ReadContext) -> tuple[list[Resource], dict[str, Json]]:
    """Find the one client, refuse what is about no person, and refuse an input that tells of several.

    Returns
    -------
    Patients, known
        The Patients that count, those that stand for themselves before contained ones; and, where none did, what is
        known of the client: identifiers by which others name them.

    Raises
    ------
    InputError
        When the resources belong to more than one client: says how many, and how to choose.
    """
    patients, named = _everybody(source)
    found = held_together(source, patients, named)
    if len(found) > 1:
        raise SeveralClients(len(found), doubt_of(source, patients, found))
    counting = [one for one in patients.values() if source.counts(one)]
    if counting:
        return counting, {}
    return [], _known(named, set(patients)) if source.resources else {}


def nameless(source: ReadContext) -> list[str]:
    """Return the types of the resources that count, are of a client, and name none."""
    open_ones = (one for one in source.resources if source.counts(one) and not any(map(_says, _references(one))))
    return [str(one.get("resourceType")) for one in open_ones if one.get("resourceType") in _OF_A_CLIENT]


def _says(ref: Json) -> bool:
    """Whether a Reference names anybody: an identifier without a value does not."""
    named = ref.get("identifier")
    by_number = isinstance(named, dict) and bool(named.get("value"))
    return by_number or any(key in ref for key in ("reference", "display", "extension"))


def _shaped(ref: Json) -> bool:
    """Whether a subject can be a Reference at all; what cannot may name anybody, and is read of nobody."""
    return isinstance(ref, dict) and isinstance(ref.get("reference", ""), str)


def _references(resource: Resource) -> Iterator[Json]:
    for key in _ELEMENTS:
        found = resource.get(key)
        if isinstance(found, dict):
            yield found
    # Who answered is the client where no subject is named; beside one, a caregiver who is a Patient too (R4, source).
    answered = resource.get("source") if resource.get("resourceType") == "QuestionnaireResponse" else None
    if isinstance(answered, dict) and resource.get("subject") is None:
        literal = answered.get("reference")
        if isinstance(literal, str) and _kind(literal) == "Patient":
            yield answered


def _kind(literal: str) -> str:
    parts = address(literal).rsplit("/", 2)
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
    if strange and (literal := address(str(ref.get("reference")))) in strange:
        return literal
    named = ref.get("identifier")
    if "reference" not in ref and isinstance(named, dict) and is_placeholder(named.get("value")):
        found = None  # "unknown" is no number, not even where a Patient has the same
    else:
        found = source.follow(ref, holder)
    if found is not None and found.get("resourceType") not in ("Patient", None):
        return None
    logical = logical_name(_logical(ref))
    name = source.name(ref, holder) if found is not None or (logical is None and "reference" in ref) else logical
    if name is None and str(ref.get("reference")).startswith("#"):  # somebody who was to be contained, and is not
        return f"{source.name_of(holder)}{ref['reference']}"
    display = ref.get("display")
    if name is None and isinstance(display, str) and display.strip():  # ours names by the display too, where one came
        return f"display:{display}"
    if name is None and find_extension(ref, ABSENT_URL) is not None:
        # Somebody, and nobody here knows who: none of those who are named.
        return f"absent:{next(own_systems(holder), '')}"
    return name


def _logical(ref: Json) -> Json:
    """Return a reference that names a client by an identifier as one, also where it is a conditional one."""
    literal = ref.get("reference")
    asked = conditional(literal) if isinstance(literal, str) and "?" in literal else None
    return asked if asked is not None else {} if "reference" in ref else ref


def doubt(source: ReadContext) -> str:
    """Say which two clients would have the same ids, and what speaks for and against one person; "" for none."""
    patients, named = _everybody(source)
    return doubt_of(source, patients, held_together(source, patients, named))


def in_common(source: ReadContext) -> list[tuple[int, int, str]]:
    """Return which two clients have a number in common, and what speaks for and against one person."""
    patients, named = _everybody(source)
    return shared_numbers(source, patients, held_together(source, patients, named))


def _known(named: Mapping[str, Json], patients: set[str]) -> dict[str, Json]:
    """What the references to a client who did not come, or does not count, say of them."""
    for name, (ref, _) in named.items():
        display = ref.get("display")
        called: dict[str, Json] = {"name": {"text": display}} if isinstance(display, str) and display.strip() else {}
        if name.startswith("identifier:"):
            said = _logical(ref)["identifier"]
            named_by = {key: said[key] for key in ("system", "value") if key in said}
            return {"identifiers": [named_by], **called}
        if name.startswith("absent:") and not called:
            continue
        if name.startswith(("display:", "absent:")):
            return {"identifiers": [{"system": REFERENCE}], **called}
        return {"identifiers": [{"system": REFERENCE, "value": name}], **called}
    if patients:
        return {"identifiers": [{"system": REFERENCE, "value": min(patients)}]}
    return {}  # nobody is named: no Patient is made of that
