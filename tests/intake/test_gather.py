"""What a server or a sender wraps around resources: opened, said, or refused; FHIR R4, Bundle and http."""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.facts import facts
from tests.intake.foreign.inputs import U, bundle, client, length, posted, wound
from tests.intake.two_clients import ref
from woundfhir import InputError, from_fhir, read_many

Json = Any
W, L = wound("w"), length("l", 4, focus=[ref("Condition/w")])
ALL = (client(), W, L)
FOUR = ["2026-03-02 final w length 4 cm"]
OUTCOME = {"resourceType": "OperationOutcome", "id": "o", "issue": [{"severity": "warning", "code": "incomplete"}]}
EMPTY, NEXT = {"resourceType": "Bundle", "type": "searchset"}, "http://one.example.org/fhir?page=2"
IN_PART = "resources came in part (SUBSETTED): what they leave out may take something back. Ask for them whole"
SOME_MISSING = "an OperationOutcome of a server came with the resources: it may say that some are missing"
MORE = "one page of several: the search has a next page that is not here"
SENT_BACK = "a server's answer to what was sent ({}): read as the resources that it sent back"


def links(**urls: str) -> Json:
    return {"link": [{"relation": key, "url": url} for key, url in urls.items()]}


def nameless(resource: Json) -> Json:
    return {key: value for key, value in resource.items() if key != "id"}


def entries(*given: Json, kind: str = "collection") -> Json:
    return {"resourceType": "Bundle", "type": kind, "entry": list(given)}


AT = "http://one.example.org/fhir"
#: Case -> what came, and what is said of it beside the one length.
SAID: dict[str, tuple[list[Json], list[str]]] = {
    "the second of two is empty": ([bundle("searchset", *ALL), EMPTY], ["Bundle 2 of 2 is empty"]),
    "the first of two is empty": ([EMPTY, bundle("searchset", *ALL)], ["Bundle 1 of 2 is empty"]),
    "a warning in a search": ([bundle("searchset", *ALL, OUTCOME)], [SOME_MISSING]),
    "a warning beside resources": ([*ALL, OUTCOME], [SOME_MISSING]),
    "what a server sent back": (
        [bundle("transaction-response", *ALL)],
        [SENT_BACK.format("transaction-response")],
    ),
    "the answer to a batch": ([bundle("batch-response", *ALL)], [SENT_BACK.format("batch-response")]),
    "one page of two": ([bundle("searchset", *ALL, **links(next=NEXT))], [MORE]),
    "one page that calls itself the next": ([bundle("searchset", *ALL, **links(next=NEXT, self=NEXT))], [MORE]),
    "both pages": ([bundle("searchset", *ALL, **links(next=NEXT)), bundle("searchset", OUTCOME, **links(self=NEXT))],
                   [SOME_MISSING]),
    "two pages of three": (
        [bundle("searchset", client(), W, **links(next=NEXT)), bundle("searchset", L, **links(self=NEXT, next=AT))],
        [MORE],
    ),
    "a resource that came in part": ([client(), W, {**L, "meta": {"tag": [{"code": "SUBSETTED"}]}}], [IN_PART]),
    "a page before this one": ([bundle("searchset", *ALL, **links(previous=NEXT, self=AT))], []),
    "an address gives the id": (
        [entries(*({"fullUrl": f"{AT}/{one['resourceType']}/{one['id']}", "resource": nameless(one)} for one in ALL))],
        [],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", SAID)
def test_it_is_opened_and_what_a_reader_must_know_is_said(name: str) -> None:
    came, expected = SAID[name]
    history, report = from_fhir(came)
    assert facts(history.data) == FOUR
    assert list(report.notices) == expected


REFUSED: dict[str, tuple[list[Json], str]] = {
    "nothing": ([EMPTY], r"This Bundle \(searchset\) is empty: nothing was found"),
    "nothing of an odd type": ([{**EMPTY, "type": "x" * 25}], r"This Bundle \(of an unknown type\) is empty"),
    "nothing of a type that is a name": ([{**EMPTY, "type": "AnnDoe"}], r"This Bundle \(of an unknown type\)"),
    "nothing of an odd type, with a value": ([{**EMPTY, "type": "Ann Doe"}], r"This Bundle \(of an unknown type\)"),
    "nothing twice": ([EMPTY, EMPTY], "These Bundles are empty: nothing was found"),
    "a message without a resource": (
        [bundle("searchset", *ALL), {**EMPTY, "type": "message"}],
        r"\(message\) is empty",
    ),
    "a warning alone": (
        [bundle("searchset", OUTCOME)],
        "This is a server's answer .OperationOutcome.: read what it says",
    ),
    "a warning alone, loose": ([OUTCOME], "This is a server's answer .OperationOutcome.: read what it says"),
    "the answer to a batch, with a warning": (
        [entries({"resource": OUTCOME}, {"resource": 5}, kind="batch-response")],
        r"what was sent \(batch-response\): read the resources again from it",
    ),
    "the answer to a transaction": (
        [{"resourceType": "Bundle", "type": "transaction-response", "entry": [{"response": {"status": "201"}}]}],
        r"what was sent \(transaction-response\): read the resources again from it",
    ),
    "a notification without news": (
        [
            entries(
                {"resource": {"resourceType": "Parameters", "parameter": [{"name": "type", "valueCode": "heartbeat"}]}},
                kind="history",
            )
        ],
        r"\(history\) is empty",
    ),
    "an id with a control character": ([{**client(), "id": "a\x07"}], "^FHIR: an id of a Patient holds a control"),
    "an id of a long type with a control character": (
        [{"resourceType": "MedicinalProductContraindication", "id": "\x00"}],
        "an id of a MedicinalProductContraindication holds",
    ),
    "an id of no type of R4 with a control character": (
        [{"resourceType": "AnnDoe", "id": "\x00"}],
        "an id of a resource holds",
    ),
    "the second id": ([client(), {**W, "id": "a\x85"}], r"^FHIR, \[1\]: an id of a Condition holds a control"),
    "the second id in a Bundle": (
        [entries({"resource": client()}, {"resource": {**W, "id": "\x1f"}})],
        r"^FHIR, Bundle.entry\[1\]: an id of a Condition holds",
    ),
    "the second id in the second Bundle": (
        [entries({"resource": client()}), entries({"resource": L}, {"resource": {**W, "id": "\x7f"}})],
        r"^FHIR, \[1\].Bundle.entry\[1\]: an id of a Condition holds",
    ),
    "an element without a name": ([{**client(), "": 1}], "an element has an empty name"),
    "no type, alone": ([{"id": "x"}], "a FHIR resource with its resourceType, as one text"),
    "a type that is no text": ([{"resourceType": 5}], "a FHIR resource with its resourceType, as one text"),
    "no type": ([{"id": "x"}, {"id": "y"}], "a FHIR resource with its resourceType, as one text"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_holds_no_record_is_refused_with_the_reason(name: str) -> None:
    came, words = REFUSED[name]
    with pytest.raises(InputError, match=words) as caught:
        from_fhir(came)
    assert "Ann Doe" not in str(caught.value) and "AnnDoe" not in str(caught.value)


def composed(status: str, name: str = "c") -> Json:
    made = {"resourceType": "Composition", "id": name, "status": status, "subject": ref("Patient/p")}
    return {**made, "type": {"text": "Note"}, "date": "2026-03-02", "author": [{"display": "RN"}], "title": "Note"}


@pytest.mark.parametrize(
    ("kind", "statuses", "holds"),
    [
        ("document", ["final"], True),
        ("document", ["entered-in-error"], False),
        ("document", ["entered-in-error", "final"], True),
        ("collection", ["entered-in-error"], True),
        ("searchset", ["entered-in-error"], True),
    ],
)
def test_a_document_that_was_entered_in_error_holds_no_fact(kind: str, statuses: list[str], holds: bool) -> None:
    """R4, CompositionStatus: entered-in-error; in another Bundle a Composition says nothing of what lies beside it."""
    heads = [composed(status, f"c{number}") for number, status in enumerate(statuses)]
    beside = {"resourceType": "Basic", "id": "b", "code": {"text": "odd"}}
    history, report = from_fhir([bundle(kind, *heads, beside, *ALL)])
    assert facts(history.data) == (FOUR if holds else [])
    assert history.patient["born"] == "1948-03"
    assert any(one.source == "Observation/l" for one in report.items) is not holds


@pytest.mark.parametrize(
    ("method", "kind"),
    [("POST", None), ("PUT", None), ("PATCH", "not-understood"), ("GET", "not-understood"), ("DELETE", "withdrawn")],
)
def test_what_a_request_does_with_a_resource_decides_whether_it_is_a_fact(method: str, kind: str | None) -> None:
    """R4, http: PATCH changes, GET asks for, and DELETE takes away, what is at the server."""
    came = entries(*({"resource": one} for one in ALL), kind="batch")
    came["entry"][2]["request"] = {"method": method, "url": "Observation/l"}
    history, report = from_fhir(came)
    assert facts(history.data) == ([] if kind else FOUR)
    assert {one.kind for one in report.items if one.source == "Observation/l"} == ({kind} if kind else set())


def test_references_by_urn_find_their_entry() -> None:
    """R4, Bundle, "Resolving references in Bundles"."""
    named = posted((U[1], nameless(W)), (U[2], {**L, "focus": [ref(U[1])], "subject": ref(U[3])}), (U[3], client()))
    history, _ = from_fhir(named)
    (wound_id,) = (one["id"] for one in history.wounds)
    assert wound_id == U[1].removeprefix("urn:uuid:")
    assert facts(history.data) == [f"2026-03-02 final {wound_id} length 4 cm"]


@pytest.mark.parametrize("addressed", [False, True])
def test_each_of_two_clients_is_a_file_of_their_own_that_reads_the_same(addressed: bool) -> None:
    two = [client("a"), client("b", birthDate="1950")]
    two += [length(key, 4, of=ref(f"Patient/{key}")) for key in "ab"]
    came = bundle("collection", *two) if addressed else entries(*({"resource": one} for one in two))
    found = list(read_many(came))
    assert [one.kind for one in found] == (["fhir-json"] * 2 if addressed else ["ndjson"] * 2)
    assert [one.name for one in found] == ["input, client 1", "input, client 2"]
    for one in found:
        (again,) = read_many(one.content)
        assert again.history.data["visits"] == one.history.data["visits"]
        assert again.history.patient["born"] == one.history.patient["born"]
        assert (b'"fullUrl"' in one.content) is addressed


def test_a_parameters_is_read_as_its_resources_and_what_it_says_more_is_said() -> None:
    """R4, Parameters: an operation gives back resources, and values beside them."""
    held = [{"name": "return", "resource": one} for one in ALL]
    history, report = from_fhir({"resourceType": "Parameters", "parameter": held})
    assert (facts(history.data), report.items) == (FOUR, ())
    more = {"name": "message", "valueString": "two results are missing"}
    history, report = from_fhir({"resourceType": "Parameters", "parameter": [*held, more]})
    assert facts(history.data) == FOUR
    assert {one.path.partition(".")[0] for one in report.items} == {"Parameters"}
