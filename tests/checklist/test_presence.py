"""Presence rules: one for each concept that a note must hold; any answer satisfies it, nothing written does not."""

from __future__ import annotations

from typing import Any

import pytest

from tests.checklist.samples import demo, entry, record, visit
from woundfhir.catalogue import Concept, catalogue
from woundfhir.chart.conditions import all_hold
from woundfhir.chart.views import RecordView
from woundfhir.checklist import Checklist, check
from woundfhir.checklist.policy import load
from woundfhir.checklist.presence import presence_rules
from woundfhir.record import History

PRESENCE = Checklist("presence", tuple(presence_rules()), False, {})
ASKED = [concept for concept in catalogue().concepts() if concept.role != "optional"]
REASONS = {concept.path: concept.asked for concept in ASKED if concept.asked is not None}
#: A client, a wound and a note for which the conditions of every concept hold, by the kind of wound.
KINDS = {
    "pressure injury": {"kind": "pressure injury", "site": "heel"},
    "burn": {"kind": "burn", "site": "hand"},
    "skin tear": {"kind": "skin tear", "site": "forearm"},
    "diabetic foot": {"kind": "diabetic foot ulcer", "site": "sole"},
    "needs offloading": {"kind": "diabetic foot ulcer", "site": "sole"},
    "lower limb ulcer": {"kind": "venous leg ulcer", "site": "lower leg"},
    "venous ulcer": {"kind": "venous leg ulcer", "site": "lower leg"},
    "fresh injury": {"kind": "laceration", "site": "hand"},
    "closed wound": {"kind": "burn", "site": "hand", "status": "closed"},
}
PURPOSES = {"transfer": ["transfer"]}
FOUND = {
    "exudate present": {"exudate_amount": "small"},
    "size written": {"area": "4 cm2"},
    "skin changed": {"periwound": ["macerated"]},
    "deep wound": {"depth": "2 cm"},
    "infected or deep": {"infection_signs": ["smell"]},
    "deep space": {"depth": "2 cm"},
}


def note(concept: Concept, answer: Any = None) -> History:
    """A record in which the conditions of a concept hold; the concept's answer is the one given, or nothing."""
    wound = {"id": "W1", "status": "open", **{"kind": "burn", "site": "hand"}}
    purpose = ["first assessment", "full assessment", "dressing change"]
    groups: dict[str, Any] = {
        "assessment": {"edge_colour": "red"},
        "care": {},
        "plan": {},
        "photos": [{"file": "a.jpg"}],
    }
    for name in concept.when:
        wound.update(KINDS.get(name, {}))
        purpose = PURPOSES.get(name, purpose)
        groups["assessment"].update(FOUND.get(name, {}))
    whole: dict[str, Any] = {"visit": {"purpose": purpose}, "client": {}, "wound": wound, **groups}
    whole[concept.group].pop(concept.key, None)
    if answer is not None:
        whole[concept.group][concept.key] = answer
    seen = entry(**{key: whole[key] for key in groups})
    return record(visit(seen, client=whole["client"], **whole["visit"]), wounds=[whole["wound"]])


def codes(history: History) -> set[str]:
    return {finding.rule for finding in check(history, checklist=PRESENCE)}


def test_there_is_one_rule_and_one_reason_for_each_concept_that_is_asked_for() -> None:
    assert {f"GAP-{concept.path}" for concept in ASKED} == {rule.code for rule in PRESENCE.rules}
    assert {concept.path for concept in ASKED} == REASONS.keys()


def test_roles_become_severities() -> None:
    by_code = {rule.code: rule for rule in PRESENCE.rules}
    for concept in ASKED:
        assert (
            by_code[f"GAP-{concept.path}"].severity == {"required": "required", "expected": "recommended"}[concept.role]
        )


@pytest.mark.parametrize(
    "concept", [c for c in ASKED if c.path not in ("visit.purpose", "wound.kind")], ids=lambda c: c.path
)
def test_nothing_written_is_a_finding_and_any_answer_is_none(concept: Concept) -> None:
    code = f"GAP-{concept.path}"
    assert code in codes(note(concept))
    assert code not in codes(note(concept, {"absent": "not assessed"}))
    if concept.is_group or (concept.answers and concept.answers.find("none")):
        assert code not in codes(note(concept, "none"))
    shapes: dict[str, Any] = {
        "choices": ["other words"],
        "share": {"slough": "100 %"},
        "group": {"note": "x"},
        "step": {"note": "x"},
    }
    assert code not in codes(note(concept, shapes.get(concept.shape, "other words")))


@pytest.mark.parametrize("wound", [{"id": "W1", "site": "hand"}, {"id": "W1"}])
def test_kind_and_purpose_are_asked_for_without_any_condition(wound: dict[str, str]) -> None:
    assert {"GAP-wound.kind", "GAP-visit.purpose"} <= codes(record(visit(), wounds=[wound]))


@pytest.mark.parametrize("concept", ASKED, ids=lambda c: c.path)
def test_the_example_of_an_answer_satisfies_the_rule_that_gives_it(concept: Concept) -> None:
    """What the fix tells a nurse to write must be read as an answer to this very concept."""
    import yaml

    example = REASONS[concept.path].example
    for text in example.split(", or "):
        key, _, answer = text.partition(": ")
        assert key == concept.key
        said = yaml.load(answer, yaml.BaseLoader) if answer[:1] in "[{" else answer
        made = note(concept, said)
        holder = {"wound": made.wounds[0], "visit": made.visits[0], "client": made.visits[0].get("client", {})}
        answers = holder.get(concept.group) or made.visits[0]["wounds"][0][concept.group]
        assert concept.key in answers and not made.extra, text
        assert f"GAP-{concept.path}" not in codes(made)


def test_what_is_written_elsewhere_is_not_asked_for_again() -> None:
    for path, reason in REASONS.items():
        for other in reason.instead:
            concept, group, key, field = catalogue().concept(path), *(*other.split("."), "")[:3]
            history = note(concept)
            seen = history.data["visits"][0]["wounds"][0]
            seen.setdefault(group, {})[key] = {field: "3"} if field else "superficial"
            assert f"GAP-{path}" not in codes(history), (path, other)


def test_taking_an_answer_out_of_a_whole_note_asks_for_just_that() -> None:
    """Each answer of the story's first note on a wound, taken out, makes one new finding where it is asked for."""
    before = {(f.rule, f.path) for f in check(demo(), checklist=PRESENCE)}
    taken = 0
    for concept in ASKED:
        history = demo()
        answers = history.data["visits"][0]["wounds"][0].get(concept.group, {})
        if concept.group not in ("assessment", "care", "plan") or answers.pop(concept.key, None) is None:
            continue
        seen = RecordView(history, load("ontario")).visits[0].entries[0]
        elsewhere = any(seen.written(other) for other in REASONS[concept.path].instead)
        asked = all_hold(seen, concept.when) and not elsewhere
        new = {(f.rule, f.path) for f in check(history, checklist=PRESENCE)} - before
        assert new == ({(f"GAP-{concept.path}", seen.path(concept.path))} if asked else set())
        taken += asked
    assert taken > 20


def test_a_photo_needs_consent_once() -> None:
    first = visit(entry(photos=[{"file": "a.jpg"}]), client={"photo_consent": "yes"})
    second = visit(entry(photos=[{"file": "b.jpg"}]))
    assert "GAP-client.photo_consent" not in codes(record(first, second))
    assert "GAP-client.photo_consent" in codes(record(second, first))


@pytest.mark.parametrize(
    ("wound", "assessment"),
    [({"status": "closed", "closed": "2026-03-01"}, {}), ({"status": "open"}, {"healing_trend": "resolved"})],
)
def test_a_wound_that_closed_today_is_not_asked_for_its_next_dressing(
    wound: dict[str, str], assessment: dict[str, str]
) -> None:
    """What is closed is not dressed again (common practice, no source)."""
    seen = entry(assessment=assessment, care={"removed": {"dressing": "gauze", "condition": ["dry"]}})
    found = codes(record(visit(seen, purpose=["dressing change"]), wounds=[{"id": "W1", **wound}]))
    assert not {code for code in found if code.startswith("GAP-plan.")}
    assert not found & {"GAP-care.primary_dressing", "GAP-care.securement", "GAP-care.cleansing"}
