"""What the French tests share: the demo's record, its own words replaced, so that what is left in print is ours."""

from __future__ import annotations

import re
from typing import Any

import pytest

from woundfhir.catalogue import catalogue
from woundfhir.demo import story
from woundfhir.intake.source import parse
from woundfhir.record import History

#: Stands for a nurse's own words: in no language.
OWN = "Qxx"
#: A number with its unit, or a size such as 10 x 10 cm.
_NUMBER = re.compile(r"[<>=]*[\d.,]+( x [\d.,]+)*( [^\s\d]+)?")


def without_own_words(data: dict[str, Any]) -> History:
    """Return a record whose free words are replaced: what no list, no unit and no key of the record says."""
    return History.of(_record(data))


def _record(data: dict[str, Any]) -> dict[str, Any]:
    known = catalogue()
    out = {key: value for key, value in data.items() if key not in ("patient", "wounds", "visits")}
    patient = dict(data["patient"], name={"family": OWN, "given": [OWN]}, conditions=[OWN], contact={"name": OWN})
    patient["allergies"] = [{"to": "Qzz", "reaction": OWN}]
    out["patient"] = patient
    out["wounds"] = [{**w, **_group(known.groups["wound"], w)} for w in data.get("wounds", [])]
    out["visits"] = [_visit(visit) for visit in data.get("visits", [])]
    return out


def _visit(visit: dict[str, Any]) -> dict[str, Any]:
    groups = catalogue().groups
    out = dict(visit, by={"id": "rn-1", "name": OWN, "designation": "RN"}, note=OWN, **_group(groups["visit"], visit))
    out["client"] = _group(groups["client"], visit.get("client", {}))
    out["wounds"] = []
    for entry in visit.get("wounds", []):
        made = dict(entry, note=OWN)
        made |= {g: _group(groups[g], entry.get(g, {})) for g in ("assessment", "care", "plan") if g in entry}
        made |= {
            many: [_group(groups[g], item) for item in entry[many]]
            for many, g in (("supplies", "supply"), ("photos", "photo"))
            if many in entry
        }
        out["wounds"].append(made)
    return out


def _group(concepts: Any, answers: dict[str, Any]) -> dict[str, Any]:
    return {key: _answer(concepts[key], value) for key, value in answers.items() if key in concepts}


def _answer(concept: Any, value: Any) -> Any:
    if isinstance(value, list):
        return [_answer(concept, one) for one in value]
    if isinstance(value, dict) and concept.fields:
        kept = {key: _answer(concept.fields[key], one) for key, one in value.items() if key in concept.fields}
        return {**kept, **({"note": OWN} if "note" in value else {})}
    if isinstance(value, str) and concept.shape in ("text", "choice", "choices", "share", "quantity"):
        listed = concept.answers is not None and concept.answers.find(value) is not None
        number = _NUMBER.fullmatch(value) is not None
        return value if listed or number else OWN
    return value


@pytest.fixture(scope="session")
def own() -> History:
    """The demo's record, its own words replaced."""
    return without_own_words(parse(story(), "story.yaml").history.data)
