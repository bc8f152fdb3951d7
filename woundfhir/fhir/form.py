"""The form: one wound at one visit as a QuestionnaireResponse, and back; link ids are the catalogue's paths.

The Questionnaire itself is generated from the same catalogue (``profiles/Questionnaire-wound-visit.json``).
What an answer's type cannot say (other words beside a number, a clock time beside a date, an absent reason)
stands as an extension on that answer, so that the note comes back as it was.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.errors import InputError
from woundfhir.fhir.elements import extension, find_extension, read_date, write_date
from woundfhir.fhir.ids import unescape
from woundfhir.fhir.resources.people import write_author
from woundfhir.fhir.terms import Term, Terms, terms
from woundfhir.fhir.write_context import VisitContext, WriteContext
from woundfhir.record import History

Json = Any
NAME = "wound-visit"
_STATUS = {
    "draft": "in-progress",
    "final": "completed",
    "amended": "amended",
    "entered in error": "entered-in-error",
    None: "completed",
}
_BACK = {
    "in-progress": "draft",
    "completed": "final",
    "amended": "amended",
    "entered-in-error": "entered in error",
    "stopped": "draft",
}


# -- writing ---------------------------------------------------------------------------------------


def write_response(history: History, visit_id: str, wound_id: str) -> dict[str, Json]:
    """Return one wound at one visit as a QuestionnaireResponse.

    Parameters
    ----------
    history
        One client's record.
    visit_id, wound_id
        Ids of the visit and of a wound seen at it.

    Raises
    ------
    InputError
        When the record does not hold that wound at that visit.
    """
    visit = next((v for v in history.visits if v["id"] == visit_id), None)
    entry = next((e for e in (visit or {}).get("wounds", ()) if e["wound"] == wound_id), None)
    wound = history.wound(wound_id)
    if visit is None or entry is None or wound is None:
        raise InputError("the record", "this wound at this visit", "See the ids in the record")
    compiled = terms()
    out = WriteContext(history, compiled)
    context = VisitContext(out, visit, write_author(out, visit.get("by")), wound_id)
    made: dict[str, Json] = {
        "resourceType": "QuestionnaireResponse",
        "id": out.id("QuestionnaireResponse", context.place),
    }
    made["identifier"] = {"system": out.system, "value": context.place}
    made["questionnaire"] = f"{compiled.catalogue.bases[-1]}/Questionnaire/{NAME}"
    made["status"] = _STATUS[visit.get("status")]
    made["subject"] = out.patient
    made["encounter"] = context.encounter
    made.update(write_date("authored", visit.get("at"), compiled.written_as))
    if context.author:
        made["author"] = context.author
    made["item"] = list(_groups(compiled, wound, visit, entry))
    return made


def _groups(
    compiled: Terms, wound: Mapping[str, Json], visit: Mapping[str, Json], entry: Mapping[str, Json]
) -> Iterator[Json]:
    parts = (
        ("visit", visit),
        ("wound", wound),
        ("client", visit.get("client")),
        ("assessment", entry.get("assessment")),
        ("care", entry.get("care")),
        *(("supply", supply) for supply in entry.get("supplies", ())),
        ("plan", entry.get("plan")),
    )
    for group, answers in parts:
        items = [
            item
            for key, term in compiled.groups[group].items()
            if key in (answers or {})
            for item in _items(compiled, term, answers[key])
        ]
        if items:
            yield {"linkId": group, "item": items}


def _items(compiled: Terms, term: Term, answer: Json) -> Iterator[Json]:
    path, spread = term.concept.path, term.shape.spread
    if spread == "shares" and isinstance(answer, dict) and "absent" not in answer:
        for word, amount in answer.items():
            inner = [
                {"linkId": f"{path}.word", "answer": [_answer(compiled, term, word)]},
                {"linkId": f"{path}.share", "answer": [_answer(compiled, compiled.share_part, amount)]},
            ]
            yield {"linkId": path, "item": inner}
    elif (
        term.concept.is_group
        and isinstance(answer, (list, dict))
        and not (isinstance(answer, dict) and "absent" in answer)
    ):
        for item in answer if isinstance(answer, list) else [answer]:
            made: dict[str, Json] = {"linkId": path}
            if "note" in item and "note" not in term.fields:
                made["extension"] = [extension(compiled.ext("note"), "valueString", item["note"])]
            inner = [
                one for key, field in term.fields.items() if key in item for one in _items(compiled, field, item[key])
            ]
            yield {**made, **({"item": inner} if inner else {})}
    elif term.concept.is_group or spread == "shares":
        yield {"linkId": path, "extension": [_beside(compiled, answer)]}
    else:
        yield {
            "linkId": path,
            "answer": [_answer(compiled, term, one) for one in (answer if isinstance(answer, list) else [answer])],
        }


def _beside(compiled: Terms, answer: Json) -> Json:
    if isinstance(answer, dict):
        return extension(compiled.ext("absent"), "valueCodeableConcept", compiled.reasons.concept(answer))
    return extension(compiled.written_as, "valueString", answer)


def _answer(compiled: Terms, term: Term, answer: Json) -> dict[str, Json]:
    if isinstance(answer, dict):
        return {"extension": [_beside(compiled, answer)]}
    value, whole = term.shape.write_item(term.concept, term.codec, compiled.catalogue, answer)
    return value if whole else {"extension": [_beside(compiled, answer)], **value}


# -- reading ---------------------------------------------------------------------------------------


def is_form(resource: Mapping[str, Json]) -> bool:
    """Whether a QuestionnaireResponse answers our form, or that of the site."""
    forms = [f"{base}/Questionnaire/{NAME}" for base in catalogue().bases]
    return str(resource.get("questionnaire", "")).split("|")[0] in forms


def place(resource: Mapping[str, Json]) -> tuple[str | None, str | None]:
    """Return the ids of visit and wound that a response of ours names."""
    named = resource.get("identifier") or {}
    parts = str(named.get("value", "")).split("/")
    return (
        (unescape(parts[0]), unescape(parts[1]))
        if len(parts) == 2 and str(named.get("system", "")).startswith("urn:uuid:")
        else (None, None)
    )


def read_response(
    resource: Mapping[str, Json], compiled: Terms
) -> tuple[dict[str, Json], dict[str, Json], dict[str, Json]]:
    """Return what a QuestionnaireResponse says.

    Returns
    -------
    visit, wound, entry
        The visit's own answers (with ``at``, ``status`` and ``client``), the wound's, and the entry's parts.
    """
    visit: dict[str, Json] = {"status": _BACK.get(str(resource.get("status")), "draft")}
    if at := read_date(resource, "authored", compiled.written_as):
        visit["at"] = at
    wound: dict[str, Json] = {}
    entry: dict[str, Json] = {}
    for item in resource.get("item", ()):
        group = item.get("linkId")
        if group not in compiled.groups:
            continue
        answers = _read_items(
            compiled, {t.concept.path: t for t in compiled.groups[group].values()}, item.get("item", ())
        )
        if group == "visit":
            visit.update(answers)
        elif group == "wound":
            wound.update(answers)
        elif group == "client":
            visit["client"] = answers
        elif group == "supply":
            entry.setdefault("supplies", []).append(answers)
        else:
            entry[group] = answers
    return visit, wound, entry


def _read_items(compiled: Terms, known: Mapping[str, Term], items: Json) -> dict[str, Json]:
    out: dict[str, Json] = {}
    for item in items:
        term = known.get(str(item.get("linkId")))
        if term is None:
            continue
        key = term.concept.key
        found = _read_beside(compiled, item)
        if found is not None:
            out[key] = found
        elif term.shape.spread == "shares":
            _read_share(compiled, term, item, out.setdefault(key, {}))
        elif term.concept.is_group:
            _read_group(compiled, term, item, out)
        else:
            answers = [a for one in item.get("answer", ()) if (a := _read_answer(compiled, term, one)) is not None]
            if answers:
                several = term.shape.spread == "each" and not (len(answers) == 1 and isinstance(answers[0], dict))
                out[key] = [*out.get(key, []), *answers] if several else answers[0]
    return {key: value for key, value in out.items() if value != {}}


def _read_group(compiled: Terms, term: Term, item: Mapping[str, Json], out: dict[str, Json]) -> None:
    inner = _read_items(compiled, {f.concept.path: f for f in term.fields.values()}, item.get("item", ()))
    note = find_extension(item, compiled.ext("note"))
    if note:
        inner["note"] = note.get("valueString")
    if not inner:
        return
    if term.concept.many:
        out.setdefault(term.concept.key, []).append(inner)
    else:
        out.setdefault(term.concept.key, {}).update(inner)


def _read_share(compiled: Terms, term: Term, item: Mapping[str, Json], shares: Json) -> None:
    parts = {one.get("linkId"): (one.get("answer") or [{}])[0] for one in item.get("item", ())}
    word = _read_answer(compiled, term, parts.get(f"{term.concept.path}.word", {}))
    amount = _read_answer(compiled, compiled.share_part, parts.get(f"{term.concept.path}.share", {}))
    if isinstance(word, str) and isinstance(shares, dict):
        shares[word] = amount if amount is not None else {"absent": "unknown"}


def _read_beside(compiled: Terms, holder: Mapping[str, Json]) -> Json:
    missing = find_extension(holder, compiled.ext("absent"))
    if missing:
        return compiled.reasons.read(missing.get("valueCodeableConcept"))
    words = find_extension(holder, compiled.written_as)
    return words.get("valueString") if words else None


def _read_answer(compiled: Terms, term: Term, answer: Mapping[str, Json]) -> Json:
    found = _read_beside(compiled, answer)
    if found is not None:
        return found
    return term.shape.read_item(term.codec, answer)
