"""Small good inputs: every concept of the catalogue is answered in one of them, a few in each.

A whole story takes ten to fifty times as long to read as one note, and most changes of it fall on what is the same in
every visit. The stories of ``examples`` are seeds as well; these are most of them.
"""

from __future__ import annotations

import json
from contextlib import suppress

from fuzzing.mutate import dump

#: So many concepts of each group in one record.
FEW = 4
FRAME = {
    "woundfhir": 1,
    "zone": "America/Toronto",
    "patient": {
        "identifiers": [{"system": "urn:example:clinic", "value": "C-0532"}],
        "name": {"family": "Testcase", "given": ["Ana"]},
        "born": "1948-03",
        "sex": "female",
    },
}
CLIENT = {
    "allergies": [{"to": "silver", "reaction": "rash", "status": "active"}],
    "conditions": ["diabetes"],
    "contact": {"name": "Clinic (invented)", "role": "nurse on call", "phone": "+1-555-0101"},
    "note": "lives alone",
}


def _answer(concept, turn):
    """An answer that fits: of a group, each of its fields; of anything else an example of its shape."""
    from woundfhir.record.shapes import shape_of

    if concept.fields:
        item = {key: _answer(field, turn) for key, field in concept.fields.items()}
        return [item] if concept.many else item
    examples = list(shape_of(concept).examples(concept)) or ["words of a nurse"]
    if concept.answers:
        examples += [word.word for word in concept.answers.words]
    return examples[turn % len(examples)]


def records():
    """Return plain records, each of two visits to one wound."""
    from woundfhir.catalogue import catalogue

    groups = {name: list(of.values()) for name, of in catalogue().groups.items()}
    turns = max(-(-len(of) // FEW) for of in groups.values())
    return [_record(groups, turn) for turn in range(turns)]


def _record(groups, turn):
    def some(name):
        chunks = -(-len(groups[name]) // FEW)
        start = turn % chunks * FEW
        return {one.key: _answer(one, turn) for one in groups[name][start : start + FEW]}

    def visit(number, inner):
        at = f"2026-03-0{number}T10:0{number}-05:00"
        by = {"id": "rn-204", "name": "Nurse One (invented)", "designation": "RN"}
        head = {"id": f"V{number}", "at": at, "by": by, "status": ("final", "draft", "amended")[turn % 3]}
        return {**head, "purpose": "dressing change", **inner}

    whole = {
        "wound": "W1",
        "assessment": some("assessment"),
        "care": some("care"),
        "plan": some("plan"),
        "supplies": [some("supply")],
    }
    if turn % 4 == 0:
        whole["photos"] = [some("photo")]
    wound = {"kind": "skin tear", "site": "forearm", "side": "right", **some("wound"), "id": "W1", "status": "open"}
    short = {"wound": "W1", "assessment": {"length": f"4.{turn % 10}0 cm", "width": "2 cm"}}
    return {
        **FRAME,
        "patient": {**FRAME["patient"], **(CLIENT if turn % 3 == 0 else {})},
        "wounds": [wound],
        "visits": [
            visit(1, {**some("visit"), "client": some("client"), "wounds": [whole]}),
            visit(2, {"wounds": [short]}),
        ],
    }


def rendered(form, every=1):
    """Return every n-th of the small records in a form."""
    from woundfhir.output import render
    from woundfhir.record import History

    if form == "plain":
        return [dump(one) for one in records()[::every]]
    return [render(History.of(one), form) for one in records()[::every]]


def slices(every=1):
    """Return collections of a few resources each: of ours without their narratives, and of others as guides have them.

    References that lead out of a slice are kept: what is pointed at and is not there is an input too.
    """
    from tests.intake.foreign.guides import GUIDES

    found = []
    for one in rendered("fhir-json", every):
        entries = json.loads(one)["entry"]
        for entry in entries:
            entry["resource"].pop("text", None)
        head = [entry for entry in entries if entry["resource"]["resourceType"] == "Patient"]
        rest = [entry for entry in entries if entry not in head]
        found += [bundle([*head, *rest[n : n + FEW]]) for n in range(0, len(rest), FEW)]
    return found + [dump(make()) for make in GUIDES.values()]


def bundle(entries):
    """Return a collection as JSON."""
    return dump({"resourceType": "Bundle", "type": "collection", "entry": entries})


def as_xml(collections):
    """Return collections as XML, without those that say what XML cannot."""
    from woundfhir.errors import WoundfhirError
    from woundfhir.r4 import xmlio

    for one in collections:
        with suppress(WoundfhirError):
            yield xmlio.encode(json.loads(one), readable=False)


def as_lines(content):
    """Return a collection as NDJSON, one resource a line."""
    return b"\n".join(dump(entry["resource"]) for entry in json.loads(content)["entry"]) + b"\n"
