"""Writing in a dialect: our resources, changed and joined by what its file says; what came from others as it came."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

from woundfhir.catalogue import BASE
from woundfhir.fhir.claims import without_claim
from woundfhir.fhir.dialects import views
from woundfhir.fhir.dialects.changes import changed, claimed, concept_of, lacking, standard_first
from woundfhir.fhir.dialects.model import Dialect, dialect
from woundfhir.fhir.dialects.names import TAG
from woundfhir.fhir.terms import Terms
from woundfhir.fhir.write_context import Resource, WriteContext
from woundfhir.r4.definitions import order

Json = Any


def spoken(name: str, resources: Iterable[Resource], out: WriteContext) -> list[Resource]:
    """Return resources in a dialect; what is not ours stays as it came.

    Parameters
    ----------
    name
        The dialect.
    resources, out
        What is written of a history, and the writer's context.

    Raises
    ------
    InputError
        For an unknown dialect.
    """
    by = dialect(name)
    made = _reshaped(by, list(resources), out)
    done = []
    for resource in made:
        place = place_of(resource, out)
        done.append(resource if place is None else _in_dialect(by, name, resource, place, out.terms))
    return done


def place_of(resource: Mapping[str, Json], out: WriteContext) -> str | None:
    """Return the place in the record by which we name a resource; None for one of somebody else's."""
    named = resource.get("identifier")
    for one in named if isinstance(named, list) else [named]:
        if isinstance(one, dict) and one.get("system") == out.system:
            return str(one.get("value"))
    is_client = resource.get("resourceType") == "Patient" and out.terms.is_ours(resource)
    return "patient" if is_client else None


def unmet(name: str, resources: Iterable[Resource], out: WriteContext) -> list[str]:
    """Return for want of what resources claim no profile of a dialect: ``Patient.identifier (1)``, with how many."""
    by, counts = dialect(name), Counter[str]()
    for resource in resources:
        place = place_of(resource, out)
        if place is not None:
            for path in lacking(resource, by.claim, concept_of(place)):
                counts[f"{resource['resourceType']}.{path}"] += 1
    return [f"{path} ({number})" for path, number in sorted(counts.items())]


def _in_dialect(by: Dialect, name: str, resource: Resource, place: str, terms: Terms) -> Resource:
    """One resource of ours with everything that is added to it."""
    concept = concept_of(place)
    if place.endswith("/size") and resource["resourceType"] == "Observation":
        resource = views.with_area(terms, resource)
    for change in by.change:
        resource = changed(resource, change, concept)
    plain = without_claim(standard_first(resource, resource["resourceType"]))
    profile = claimed(plain, by.claim, concept)
    meta = {"source": BASE, **plain.get("meta", {})}
    profiles = [*meta.get("profile", ()), *([profile] if profile else ())]
    meta = {**meta, **({"profile": profiles} if profiles else {}), "tag": [{"system": TAG, "code": name}]}
    return _ordered({**plain, "meta": meta})


def _ordered(resource: Resource) -> Resource:
    """A resource with its elements in the order of R4."""
    places = order(resource["resourceType"])
    return dict(sorted(resource.items(), key=lambda item: places.get(item[0], -1)))


# -- what stands in another shape ------------------------------------------------------------------


def _reshaped(by: Dialect, resources: list[Resource], out: WriteContext) -> list[Resource]:
    """Put members of panels in groups or among their components, and add what says a finding in another shape."""
    named = {f"{one['resourceType']}/{one.get('id')}": place_of(one, out) for one in resources}
    members = {name: concept_of(place) for name, place in named.items() if place is not None}
    by_name = {f"{one['resourceType']}/{one.get('id')}": one for one in resources}
    panels: dict[str, list[dict[str, str]]] = {}
    gone: set[str] = set()
    made: list[Resource] = []
    for one in resources:
        place = named[f"{one['resourceType']}/{one.get('id')}"]
        if place is None:
            made.append(one)
        elif members.get(f"Observation/{one.get('id')}") == "assessment.assessment":
            spot = place.rpartition("/")[0]
            panels.setdefault(spot.partition("/")[2], []).append(views.reference(one))
            links: list[Resource] = []
            for member in (by_name[ref["reference"]] for ref in one.get("hasMember", ()) if ref["reference"] in named):
                links += _findings(by, out, member, named)
            if by.inline:
                one, inside = _inline(one, by_name, members, out)
                gone |= inside
            panel, *groups = views.grouped(out, _linked(by, one, links), spot, by.group, members)
            # One that came back withdrawn goes out as it came, in the place of ours.
            made += [panel, *(of for of in (*groups, *links) if f"{of['resourceType']}/{of['id']}" not in by_name)]
        else:
            made.append(one)
    whole = [one for one in made if f"{one['resourceType']}/{one.get('id')}" not in gone]
    return [_carrying(by, one, out, panels) for one in whole] if by.carried else whole


def _findings(by: Dialect, out: WriteContext, one: Resource, named: Mapping[str, str | None]) -> list[Resource]:
    place = named[f"{one['resourceType']}/{one['id']}"] or ""
    visit, _, rest = place.partition("/")
    wound, _, key = rest.partition("/")
    found = next((of for of in by.finding if of.concept == concept_of(place)), None)
    return views.found(out, one, f"{visit}/{wound}", key.partition("/")[2], found) if found else []


def _linked(by: Dialect, panel: Resource, links: list[Resource]) -> Resource:
    """The panel with the extensions that lead to the findings which are Conditions."""
    urls = {of.profile: of.link for of in by.finding}
    more = [
        {"url": urls[profile], "valueReference": views.reference(one)}
        for one in links
        for profile in one["meta"]["profile"]
        if profile in urls
    ]
    return {**panel, "extension": [*panel.get("extension", ()), *more]} if more else panel


def _inline(
    panel: Resource, by_name: Mapping[str, Resource], members: Mapping[str, str], out: WriteContext
) -> tuple[Resource, set[str]]:
    """The panel with single answers as its components, and which Observations stand in it now."""
    left, parts, inside = [], list(panel.get("component", ())), set[str]()
    group = out.terms.groups["assessment"]
    for ref in panel.get("hasMember", ()):
        one = by_name.get(ref["reference"], {})
        term = group.get(members.get(ref["reference"], "").partition(".")[2])
        if term is None or term.shape.spread in ("group", "shares") or "note" in one or "partOf" in one:
            left.append(ref)
            continue
        value = {key: item for key, item in one.items() if key.startswith(("value", "_value", "dataAbsent"))}
        parts += [{"code": one["code"], **value}, *one.get("component", ())]
        inside.add(ref["reference"])
    made = {key: value for key, value in panel.items() if key not in ("hasMember", "component")}
    made |= ({"hasMember": left} if left else {}) | ({"component": parts} if parts else {})
    return made, inside


def _carrying(by: Dialect, one: Resource, out: WriteContext, panels: dict[str, list[dict[str, str]]]) -> Resource:
    place = place_of(one, out)
    if one["resourceType"] != "Condition" or place is None or "/" in place:
        return one
    return views.carried(out.terms, one, by.carried, panels.get(place, []))
