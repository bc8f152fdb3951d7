"""Encounter: one visit, when it was, when it was written, and the state of its note; Provenance of an amended note."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from woundfhir.fhir.elements import extension, find_extension, first, read_date, write_date, write_instant
from woundfhir.fhir.ids import escape
from woundfhir.fhir.read_context import ReadContext, own_id
from woundfhir.fhir.resources.concepts import absent_concept
from woundfhir.fhir.resources.extensions import read_extensions, write_extension
from woundfhir.fhir.resources.people import read_author
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import Terms
from woundfhir.fhir.write_context import Resource, WriteContext

Json = Any
_STATUS = {
    "draft": "in-progress",
    "final": "finished",
    "amended": "finished",
    "entered in error": "entered-in-error",
    None: "unknown",
}
_BACK = {
    "planned": "draft",
    "arrived": "draft",
    "triaged": "draft",
    "in-progress": "draft",
    "onleave": "draft",
    "finished": "final",
    "cancelled": "entered in error",
    "entered-in-error": "entered in error",
}


def write_encounter(out: WriteContext, visit: Mapping[str, Json], author: dict[str, str] | None) -> None:
    """Write one visit."""
    terms = out.terms
    place = escape(visit["id"])
    made = out.head("Encounter", place, terms.meta("visit"))
    extensions: list[Json] = []
    if visit.get("status") == "amended":
        extensions.append(extension(terms.ext("note-status"), "valueCode", "amended"))
    if "written" in visit:
        extensions.append(
            {"url": terms.ext("written"), **write_date("valueDateTime", visit["written"], terms.written_as)}
        )
    if "note" in visit:
        extensions.append(extension(terms.ext("note"), "valueString", visit["note"]))
    kind, types = "unknown", []
    for key, term in terms.groups["visit"].items():
        if key not in visit:
            continue
        if term.concept.native == "type":
            types = _write_types(terms, term, visit[key])
        else:
            extensions.extend(write_extension(term, visit[key]))
            kind = encounter_class(term, visit[key]) or kind
    if extensions:
        made["extension"] = extensions
    made["identifier"] = out.identifier(place)
    made["status"] = _STATUS[visit.get("status")]
    made["class"] = terms.coding(f"class_{kind}").fhir()
    if types:
        made["type"] = types
    made["subject"] = out.patient
    if author:
        made["participant"] = [{"individual": author}]
    if "at" in visit:
        made["period"] = write_date("start", visit["at"], terms.written_as)
    out.add(made)
    if "replaces" in visit:
        _write_amendment(out, visit, author)


def encounter_class(term: Term, answer: Json) -> str | None:
    """Return the key of the encounter class that the word of a setting stands for (tag ``class:KEY``)."""
    word = term.concept.answers.find(answer) if term.concept.answers else None
    return next((tag[6:] for tag in sorted(word.tags) if tag.startswith("class:")), None) if word else None


def _write_types(terms: Json, term: Term, answer: Json) -> list[Json]:
    if isinstance(answer, dict):
        return [absent_concept(terms, answer)]
    return [term.codec.write(word)[1] for word in answer]


def read_encounter(source: ReadContext, resource: Resource) -> dict[str, Json]:
    """Return one visit."""
    terms = source.terms
    visit: dict[str, Json] = {"id": own_id(source, resource)}
    visit["at"] = read_date(resource.get("period", {}), "start", terms.written_as)
    written = find_extension(resource, terms.ext("written"))
    visit["written"] = read_date(written, "valueDateTime", terms.written_as) if written else None
    individual = first(resource.get("participant")).get("individual")
    if individual:
        source.mark_ref(resource, ("participant", 0, "individual"), individual)
    visit["by"] = read_author(source, individual, resource) if individual else None
    visit["status"] = _BACK.get(resource.get("status", ""))
    if find_extension(resource, terms.ext("note-status")):
        visit["status"] = "amended"
    visit["note"] = (find_extension(resource, terms.ext("note")) or {}).get("valueString")
    visit.update(read_extensions(terms, terms.groups["visit"], resource))
    for key, term in terms.groups["visit"].items():
        if term.concept.native == "type" and (types := resource.get("type")):
            words = [term.codec.read({"valueCodeableConcept": one}) for one in types]
            missing = find_extension(types[0], terms.ext("absent"))
            visit[key] = terms.reasons.read(missing["valueCodeableConcept"]) if missing else [w for w in words if w]
    if source.place(resource) is None:
        _read_around(source, resource, visit)
    source.placed(resource, escape(visit["id"]))
    return {key: value for key, value in visit.items() if value}


def _read_around(source: ReadContext, resource: Resource, visit: dict[str, Json]) -> None:
    """Where another system's visit was, and of which organisation."""
    provider = resource.get("serviceProvider")
    if provider and not (visit.get("by") or {}).get("organisation"):
        house = read_author(source, provider, resource) or {}
        name = house.get("organisation") or house.get("name")
        if name:
            visit["by"] = {**(visit.get("by") or {}), "organisation": name}
            source.mark_ref(resource, ("serviceProvider",), provider)
    if "setting" not in visit:
        ref = first(resource.get("location")).get("location")
        found = source.follow(ref, resource) if ref else None
        if found is not None and source.counts(found) and found.get("resourceType") == "Location":
            visit["setting"] = found.get("name")
            source.mark(found, ("name",))
            source.mark(resource, ("location", 0, "location", "reference"))
            source.placed(found, None)
        elif ref and ref.get("display"):
            visit["setting"] = ref["display"]
            source.mark(resource, ("location", 0, "location", "display"))
        elif (setting := _setting_of(source.terms, resource.get("class"))) is not None:
            visit["setting"] = setting
            source.mark(resource, ("class", "system"), ("class", "code"))


def _setting_of(terms: Terms, coding: Json) -> str | None:
    """The setting that a class of Encounters says, where it is the only one of that class."""
    listed = terms.groups["visit"]["setting"].concept.answers
    if listed is None or not isinstance(coding, Mapping):
        return None
    key = (coding.get("system"), coding.get("code"))
    tags = {
        f"class:{name[6:]}" for name, of in terms.catalogue.codes.items() if name.startswith("class_") and of.key == key
    }
    words = [word.word for word in listed.words if tags & word.tags]
    return words[0] if len(words) == 1 else None


# -- Provenance of an amended note -----------------------------------------------------------------


def _write_amendment(out: WriteContext, visit: Mapping[str, Json], author: dict[str, str] | None) -> None:
    terms = out.terms
    place = f"{escape(visit['id'])}/replaces"
    made = out.head("Provenance", place, terms.meta("amendment"))
    made["target"] = [out.ref("Encounter", escape(visit["id"]))]
    made.update(write_instant("recorded", visit.get("written") or visit.get("at")))
    if "replaces_reason" in visit:
        made["reason"] = [{**terms.cc["records_management"], "text": visit["replaces_reason"]}]
    made["agent"] = [{"type": terms.cc["agent_author"], "who": author or {"display": "not recorded"}}]
    made["entity"] = [{"role": "revision", "what": out.ref("Encounter", escape(visit["replaces"]))}]
    out.add(made)


def read_amendment(source: ReadContext, resource: Resource, visits: Mapping[int, dict[str, Json]]) -> bool:
    """Put ``replaces`` into the visit that a Provenance says is a revision of another."""
    entity = first(resource.get("entity"))
    if entity.get("role") != "revision":
        return False
    newer = source.follow(first(resource.get("target")), resource)
    older = source.follow(entity.get("what"), resource)
    if newer is None or older is None or id(newer) not in visits or id(older) not in visits:
        return False
    visit = visits[id(newer)]
    visit["replaces"] = visits[id(older)]["id"]
    if reason := first(resource.get("reason")).get("text"):
        visit["replaces_reason"] = reason
    source.placed(resource, f"{escape(visit['id'])}/replaces")
    return True


def refuse_circles(source: ReadContext, visits: Iterable[dict[str, Json]]) -> None:
    """Take no amendment of those in which others say that notes replace each other in a circle: none is the newest."""
    older = {visit["id"]: visit["replaces"] for visit in visits if "replaces" in visit}
    said = [one for one in source.open("Provenance") if not source.terms.is_ours(one)]
    places = {source.places[id(one)]: one for one in said if source.places.get(id(one)) is not None}
    for visit in visits:
        seen, at = set(), older.get(visit["id"])
        while at is not None and at != visit["id"] and at not in seen:
            seen.add(at)
            at = older.get(at)
        if at == visit["id"] and (one := places.get(f"{escape(at)}/replaces")) is not None:
            for key in ("replaces", "replaces_reason"):
                visit.pop(key, None)
            source.refuse(one, "these notes replace each other; each stands as it was written", "conflict")


#: Who wrote, by the code lists that R4 and v3 give for it; what takes something away (v3-DataOperation) says no author.
_AUTHORS = frozenset(("author", "AUT"))
_TAKEN_AWAY = frozenset(("DELETE", "NULLIFY"))


def read_authorship(source: ReadContext, resource: Resource, visits: Mapping[int, dict[str, Json]]) -> bool:
    """Put who wrote what came, and when, into the one visit that it is of, where nothing else says so."""
    found = [source.follow(ref, resource) for ref in resource.get("target", ())]
    of = {id(visit): visit for one in found if one is not None and (visit := visits.get(id(one))) is not None}
    activity = (resource.get("activity") or {}).get("coding", ())
    agents = [
        (number, agent)
        for number, agent in enumerate(resource.get("agent", ()))
        if _AUTHORS & {coding.get("code") for coding in (agent.get("type") or {}).get("coding", ())}
    ]
    if len(of) != 1 or len(agents) != 1 or any(one.get("code") in _TAKEN_AWAY for one in activity):
        return False
    ((_, visit),), ((number, agent),) = of.items(), agents
    by = read_author(source, agent.get("who"), resource)
    taken = False
    if by and visit.setdefault("by", by) == by:
        source.mark_ref(resource, ("agent", number, "who"), agent["who"])
        taken = True
    when = resource.get("recorded")
    if taken and isinstance(when, str) and visit.setdefault("written", when) == when:
        source.mark(resource, ("recorded",))
    if taken:
        source.placed(resource, None)
    return taken
