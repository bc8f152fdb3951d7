"""Which wound is a finding of? Two wounds stand here, and a length of 4 cm that says, or does not, which it is of.

What R4 says: Observation.focus is "the actual focus of an observation when it is not the patient of record"; a member
or a part is said within its whole (Observation, "Grouping"); Condition.evidence.detail links "other relevant
information". That a finding which names two wounds is of none is a promise of ours: nothing is put anywhere by default.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.facts import aside, read
from tests.intake.foreign.inputs import AT, LOINC, VERIFICATION, P, client, coded, length, obs, wound
from tests.intake.two_clients import logical, ref
from woundfhir.intake.resources import from_fhir_many

Json = Any
HEEL, SHIN = {"text": "left heel"}, {"text": "right shin"}
W, X = wound("w", bodySite=[HEEL]), wound("x", bodySite=[SHIN])
OUT = {"verificationStatus": coded("entered-in-error", system=VERIFICATION)}
TWO, SEVERAL = "names more than one wound, and is read as a fact of none", "names no wound, and there are several"


def of(*names: str) -> Json:
    return {"focus": [ref(f"Condition/{name}") for name in names]}


def l4(**more: Json) -> Json:
    return {**length("l", 4), **more}


def panel(name: str = "set", *members: str, **more: Json) -> Json:
    named = [ref(f"Observation/{one}") for one in members or ("l",)]
    return {**obs(name, "39135-9", hasMember=named), **more}


def care(name: str, about: str, **more: Json) -> Json:
    made = {"resourceType": "Procedure", "id": name, "status": "completed", "subject": P, "performedDateTime": AT}
    return {**made, "code": {"text": "Wound care"}, "reasonReference": [ref(f"Condition/{about}")], **more}


def shows(wound: Json, *names: str) -> Json:
    return {**wound, "evidence": [{"detail": [ref(f"Observation/{name}")]} for name in names or ("l",)]}


#: R4, BodyStructure: a place on the body; the extension bodySite of a finding points at it.
STRUCTURE = {"resourceType": "BodyStructure", "id": "s", "patient": P, "location": {"text": "heel"}}
STRUCTURE["locationQualifier"] = [coded("7771000", "Left")]
AT_PLACE = {"url": "http://hl7.org/fhir/StructureDefinition/bodySite", "valueReference": ref("BodyStructure/s")}
SUPPLIED = "https://w3id.org/woundfhir/StructureDefinition/supply-procedure"
PART = {"partOf": [ref("Procedure/pr")]}
#: An address that says nothing of what is there: that Reference.type says (R4, Reference).
U = "urn:uuid:0b8f8e54-0000-4000-8000-000000000001"
WIDTH = {"code": coded("39125-0", system=LOINC)}
#: Case -> what came beside the client, and the wounds of which the length is read: w, x, another, or why of none.
CASES: dict[str, tuple[list[Json], str]] = {
    "nothing is named": ([W, X, l4()], SEVERAL),
    "nothing is named, and one wound is there": ([W, l4()], "w"),
    "focus": ([W, X, l4(**of("x"))], "x"),
    "one wound twice": ([W, X, l4(**of("x", "x"))], "x"),
    "two wounds": ([W, X, l4(**of("w", "x"))], TWO),
    "a wound that did not come": ([W, X, l4(**of("z"))], "Condition/z"),
    "a wound that did not come, beside one of an earlier name": ([{**W, "id": "B"}, l4(**of("z"))], "Condition/z"),
    "place where no wound is, and the name of a new one is taken": (
        [{**W, "id": "W1"}, X, l4(bodySite={"text": "sacrum"})],
        "W2",
    ),
    "a wound that did not come, beside the only one": ([W, l4(**of("z"))], "Condition/z"),
    "two wounds that did not come": ([W, l4(**of("y", "z"))], TWO),
    "a wound in words": ([W, l4(focus=[{"display": "the other wound"}])], "what it is about did not come"),
    "a request that did not come": ([W, l4(focus=[ref("ServiceRequest/z")])], "what it is about did not come"),
    "an address without a type": ([W, l4(focus=[ref(U)])], U),
    "a Condition by its address": ([W, l4(focus=[{**ref(U), "type": "Condition"}])], U),
    "a BodyStructure by its address": ([W, l4(focus=[{**ref(U), "type": "BodyStructure"}])], U),
    "a request by its address": (
        [W, l4(focus=[{**ref(U), "type": "ServiceRequest"}])],
        "what it is about did not come",
    ),
    "a nurse by her address": ([W, l4(focus=[{**ref(U), "type": "Practitioner"}])], "w"),
    "a nurse by her number": ([W, l4(focus=[logical("1", type="Practitioner")])], "w"),
    "a request by its number": ([W, l4(focus=[logical("1", type="ServiceRequest")])], "what it is about did not come"),
    "the client": ([W, l4(focus=[P])], "w"),
    "a nurse who did not come": ([W, l4(focus=[ref("Practitioner/n")])], "w"),
    "a wound that was withdrawn": ([W, {**X, **OUT}, l4(**of("x"))], "its wound does not count"),
    "what is no wound": ([W, wound("d", code={"text": "Diabetes"}), l4(**of("d"))], "what it is about is no wound"),
    "member": ([W, X, panel(**of("x")), l4()], "x"),
    "member of a panel with itself in it": ([W, X, panel("set", "set", "l", **of("x")), l4()], "x"),
    "member of a panel of no wound": ([W, X, panel(), l4()], SEVERAL),
    "member of a withdrawn panel": ([W, X, panel(status="entered-in-error", **of("x")), l4()], SEVERAL),
    "member that names another wound": ([W, X, panel(**of("w")), l4(**of("x"))], "x"),
    "member of a member": ([W, X, panel("top", "set", **of("x")), panel(), l4()], "x"),
    "member of two panels of one wound": ([W, X, panel(**of("x")), panel("set2", **of("x")), l4()], "x"),
    "member of panels of two wounds": ([W, X, panel(**of("w")), panel("set2", **of("x")), l4()], TWO),
    "member of panels of two, and says which": ([W, X, panel(**of("w")), panel("set2", **of("x")), l4(**of("x"))], "x"),
    "member of a member of two": (
        [W, X, panel("a", "set", **of("w")), panel("b", "set", **of("x")), panel(), l4()],
        TWO,
    ),
    "member of panels at two places": ([W, X, panel(bodySite=HEEL), panel("set2", bodySite=SHIN), l4()], TWO),
    "member of panels at a place, and of its wound": ([W, X, panel(bodySite=HEEL), panel("b", **of("w")), l4()], "w"),
    "place": ([W, X, l4(bodySite=SHIN)], "x"),
    "place of the whole": ([W, X, panel(bodySite=SHIN), l4()], "x"),
    "place of the whole's whole": ([W, X, panel("top", "set", bodySite=SHIN), panel(), l4()], "x"),
    "place of its own in a whole of another": ([W, X, panel(**of("w")), l4(bodySite=SHIN)], "x"),
    "place of two wounds": (
        [W, {**X, "bodySite": [HEEL]}, l4(bodySite=HEEL)],
        "names a place on the body that may be that of a wound here",
    ),
    "place where no wound is": ([W, X, l4(bodySite={"text": "sacrum"})], "W1"),
    "place that is wider than a wound's": (
        [W, {**X, "bodySite": [{"text": "right shin, lower"}]}, l4(bodySite=SHIN)],
        "names a place on the body that may be that of a wound here",
    ),
    "place in other words for a part of a wound's": (
        [
            W,
            {**X, "bodySite": [{"text": "tibia, upper third, right"}]},
            l4(bodySite={"text": "shin upper third, right"}),
        ],
        "names a place on the body that may be that of a wound here",
    ),
    "a structure at the place of a wound": ([W, X, STRUCTURE, l4(extension=[AT_PLACE])], "w"),
    "a structure where no wound is": ([X, STRUCTURE, l4(extension=[AT_PLACE])], "W1"),
    "a structure on the other side": (
        [{**W, "bodySite": [{"text": "right heel"}]}, STRUCTURE, l4(extension=[AT_PLACE])],
        "W1",
    ),
    "a structure, and a place of its own": ([W, X, STRUCTURE, l4(extension=[AT_PLACE], bodySite=SHIN)], "x"),
    "a structure of which no place is known": ([X, {**STRUCTURE, "location": None}, l4(extension=[AT_PLACE])], "x"),
    "a side alone": (
        [W, X, l4(bodySite={"text": "Left"})],
        "names a place on the body that may be that of a wound here",
    ),
    "part of care of a wound": ([W, X, l4(**PART), care("pr", "x")], "x"),
    "part of care that was not given": ([W, X, l4(**PART), care("pr", "x", status="not-done")], SEVERAL),
    "part of care that was withdrawn": ([W, X, l4(**PART), care("pr", "x", status="entered-in-error")], SEVERAL),
    "part of care of two wounds": (
        [W, X, l4(partOf=[ref("Procedure/a"), ref("Procedure/b")]), care("a", "w"), care("b", "x")],
        TWO,
    ),
    "part of care, and member, of two wounds": ([W, X, panel(**of("w")), l4(**PART), care("pr", "x")], TWO),
    "evidence of a wound": ([W, shows(X), l4()], "x"),
    "evidence of a wound twice": ([W, shows(X, "l", "l"), l4()], "x"),
    "evidence of two wounds": ([shows(W), shows(X), l4()], TWO),
    "evidence of a wound, member of a panel of another": ([shows(W), X, panel(**of("x")), l4()], TWO),
    "evidence of a wound, and its member": ([W, shows(X), panel(**of("x")), l4()], "x"),
    "evidence of a wound, and names another": ([shows(W), X, l4(**of("x"))], "x"),
    "in a panel that is evidence of a wound": ([W, shows(X, "set"), panel(), l4()], "x"),
    "in a panel that is evidence of two": ([shows(W, "set"), shows(X, "set"), panel(), l4()], TWO),
    "focus is a finding of a wound": (
        [W, X, {**length("m", 3), **WIDTH, **of("x")}, l4(focus=[ref("Observation/m")])],
        "x",
    ),
    "an extension of a supply on a finding": (
        [W, X, l4(extension=[{"url": SUPPLIED.replace("procedure", "wound"), "valueReference": ref("Condition/x")}])],
        SEVERAL,
    ),
    "a wound that came without an address, by one": (
        [W, X, l4(focus=[ref("http://one.example.org/fhir/Condition/x")])],
        "x",
    ),
    "focus is a finding of two wounds": (
        [W, X, {**length("m", 3), **WIDTH, **of("w", "x")}, l4(focus=[ref("Observation/m")])],
        TWO,
    ),
    "focus is a finding of none": (
        [W, X, {**length("m", 3), **WIDTH}, l4(focus=[ref("Observation/m")])],
        "what it is about is no wound",
    ),
    "an element of ours on a type that has none": ([{**W, "hasMember": [ref("Observation/l")]}, X, l4()], SEVERAL),
    "an element of ours of another shape": ([{**W, "hasMember": 5, "derivedFrom": 5}, X, l4(**of("x"))], "x"),
}


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("name", CASES)
def test_which_wound_a_length_is_read_of(name: str, turned: bool) -> None:
    came, expected = CASES[name]
    came = [client(), *(reversed(came) if turned else came)]
    (found,) = read(*came)
    lengths = [line for line in found if "length" in line]
    if " " in expected:
        assert lengths == []
        assert f"kept Observation/l: {expected}" in aside(*came)
    else:
        assert lengths == [f"2026-03-02 final {expected} length 4 cm"]
        assert "Observation/l" not in " ".join(aside(*came))


def test_the_name_of_a_wound_that_did_not_come_is_understood() -> None:
    """The wound stands under that name: nothing of the reference is left aside."""
    (part,) = from_fhir_many([client(), W, l4(**of("z"))])
    assert part.losses.items == ()


def test_what_was_concluded_is_said_with_its_place() -> None:
    def inferred(*came: Json) -> list[str]:
        return [line for part in from_fhir_many([client(), *came]) for line in part.losses.inferred]

    visit = "visit came-1: made from the time and author of resources without an Encounter"
    assert inferred(W, l4()) == [visit, "[2]: Observation: names no wound; put to the only one"]
    assert inferred(l4()) == [
        "wound W1: made because findings came without a wound",
        visit,
        "[1]: Observation: names no wound; put to the only one",
    ]
    assert inferred(W, l4(bodySite=SHIN)) == [
        "wound W1: made of findings that name a place where no other wound is",
        visit,
    ]
    named = "a wound: named by findings, and did not come; it stands under that name"
    assert inferred(W, l4(**of("z"))) == [named, visit]


def test_a_place_on_the_other_side_contradicts_the_wound_that_is_named() -> None:
    for seen in (l4(**of("w"), bodySite={"text": "right heel"}), l4(**of("x"), bodySite={"text": "left shin"})):
        assert read(client(), W, X, seen) == [[]]
        assert aside(client(), W, X, seen) == {
            "conflict Observation/l: conflict: names a wound, and a place on the other side of the body"
        }


@pytest.mark.parametrize("key", ["focus", "hasMember", "partOf", "supply"])
def test_links_that_go_round_in_a_circle_say_nothing(key: str) -> None:
    """R4 forbids no circle of references: a reader must end, and must not make a fact of one."""
    first, second = (obs(name, "39135-9", **{key: [ref(f"Observation/{to}")]}) for name, to in ("ab", "ba"))
    if key == "supply":
        supply = {"resourceType": "SupplyDelivery", "status": "completed", "patient": P}
        first, second = (
            {**supply, "id": name, "extension": [{"url": SUPPLIED, "valueReference": ref(f"SupplyDelivery/{to}")}]}
            for name, to in ("ab", "ba")
        )
    came = [client(), W, X, first, second, l4(**of("x"))]
    assert read(*came) == [["2026-03-02 final x length 4 cm"]]
    assert {line.split(":")[0] for line in aside(*came)} >= {f"kept {first['resourceType']}/{name}" for name in "ab"}


@pytest.mark.parametrize("links", [{}, of("w"), of("z"), of("w", "x"), {"bodySite": SHIN}])
def test_what_has_no_place_in_the_record_is_said_so_whatever_it_names(links: Json) -> None:
    """A code that nobody knows: that its wound cannot be told is not what a person must look for."""
    unknown = {"code": coded("x", system="urn:site")}
    for one in (l4(**unknown, **links), {**care("l", "w"), **unknown, "bodySite": [SHIN]}):
        assert read(client(), W, X, one) == [[]]
        assert aside(client(), W, X, one) == {f"kept {one['resourceType']}/l: no place in the record"}


def test_a_panel_says_that_it_was_looked_at_and_nothing_of_its_own() -> None:
    """Its value, part or note is one: a panel that holds members alone is read by them."""
    came = [client(), W, panel(code=coded("x", system="urn:site"), **of("w")), l4()]
    assert aside(*came) == set()
    for more in ({"valueString": "4"}, {"component": [{"code": {"text": "odd"}, "valueString": "4"}]}):
        assert aside(*came[:2], {**came[2], **more}, l4()) == {"kept Observation/set: no place in the record"}


@pytest.mark.parametrize(
    ("more", "again"),
    [({}, True), ({"note": [{"text": "odd"}]}, False), ({"component": [{"code": {"text": "x"}}]}, False)],
)
def test_what_a_panel_says_is_said_by_its_members_unless_it_says_more(more: Json, again: bool) -> None:
    (part,) = from_fhir_many([client(), W, panel(**of("w"), **more), l4()])
    said = part.losses.json("understood", "reworded")["items"]
    kinds = {one["kind"] for one in said if one["path"] == "Observation.code" and one["source"] == "Observation/set"}
    assert kinds == {"reworded" if again else "understood"}


def supplied(wound: str) -> Json:
    made = {"resourceType": "SupplyDelivery", "id": "s", "status": "completed", "patient": P, "occurrenceDateTime": AT}
    of = {"url": SUPPLIED.replace("procedure", "wound"), "valueReference": ref(f"Condition/{wound}")}
    return {**made, "extension": [of], "suppliedItem": {"itemCodeableConcept": {"text": "foam"}}}


def test_supplies_that_name_each_other_are_of_the_wound_that_they_name() -> None:
    """What each was for is the other: a reader must end, and each has its own wound and time."""
    round_ = [
        {
            **supplied("x"),
            "id": name,
            "extension": [
                *supplied("x")["extension"],
                {"url": SUPPLIED, "valueReference": ref(f"SupplyDelivery/{to}")},
            ],
        }
        for name, to in ("ab", "ba")
    ]
    assert read(client(), W, X, *round_) == [["2026-03-02 final x supplies [{'item': 'foam'}, {'item': 'foam'}]"]]


def test_a_supply_is_of_the_wound_that_it_names_and_of_no_other() -> None:
    assert read(client(), W, X, supplied("x")) == [["2026-03-02 final x supplies [{'item': 'foam'}]"]]
    for others in ([W], [W, wound("y")]):
        came = [client(), *others, {**X, **OUT}, supplied("x")]
        assert read(*came) == [[]]
        assert "kept SupplyDelivery/s: its wound does not count" in aside(*came)
