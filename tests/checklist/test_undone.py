"""A step that a note says was not done, in a nurse's own words and with the reason. Common practice, no source.

The words were written before the code that reads them. Nothing is asked about what was not done, and no receiver
reads that it was.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import msgspec
import pytest

from woundfhir.checklist import check
from woundfhir.fhir import to_fhir
from woundfhir.intake.resources import from_fhir
from woundfhir.record import History

Json = Any
encode = msgspec.json.Encoder(decimal_format="number").encode
decode = msgspec.json.Decoder(float_hook=Decimal).decode

UNDONE = {
    "compression": (
        "not applied - no ABPI yet",
        "not applied",
        "held, ABPI pending",
        "none, doppler booked Friday",
        "removed and left off - foot cool",
        "short stretch not applied",
        "pas de compression, ITB en attente",
        "non appliquée - ITB à venir",
        {"system": "none", "note": "no ABPI yet"},
        {"system": "deferred until vascular clinic"},
    ),
    "packing": (
        "not packed - too shallow",
        "none needed",
        "no packing needed",
        [{"material": "none", "note": "cavity closed"}],
    ),
    "debridement": (
        "not done - dry eschar left intact",
        "no sharp debridement",
        "not debrided - arterial",
        "deferred: INR 4",
    ),
    "swab": ("not taken, no signs", "not indicated"),
}
#: Words that hold a denial, and say that something was done.
DONE = {
    "compression": (
        "not applied by me, tubular bandage kept on",
        "no problems",
        "none - short stretch bandage instead",
        "not changed, stays on",
    ),
    "packing": ("gauze not packed tightly", "no more than one strip of gauze"),
}


def note(step: str, words: Json, group: str = "care") -> History:
    entry = {"wound": "W1", group: {step: words}}
    visit = {"id": "V1", "at": "2026-03-04T10:00:00-05:00", "status": "final", "purpose": "dressing change"}
    wound = {"id": "W1", "status": "open", "kind": "venous leg ulcer", "site": "lower leg", "side": "left"}
    patient = {"identifiers": [{"system": "urn:example:clinic", "value": "C-1"}], "born": "1950"}
    return History.of({"woundfhir": 1, "patient": patient, "wounds": [wound], "visits": [{**visit, "wounds": [entry]}]})


def sent(history: History) -> list[Json]:
    return decode(encode(to_fhir(history)))


def steps(history: History) -> list[str]:
    return [one["status"] for one in sent(history) if one["resourceType"] == "Procedure" and "partOf" in one]


def asked(history: History, step: str) -> set[str]:
    return {one.rule for one in check(history) if one.path and f".{step}" in one.path} - {"LL30", "SE16"}


@pytest.mark.parametrize(("step", "words"), [(step, words) for step, all_ in UNDONE.items() for words in all_])
def test_nothing_is_asked_or_sent_as_done_about_a_step_that_was_not(step: str, words: Json) -> None:
    history = note(step, words)
    assert asked(history, step) == set()
    assert steps(history) == ["not-done"]
    assert from_fhir(sent(history))[0].data == history.data  # the words, too


@pytest.mark.parametrize(("step", "words"), [(step, words) for step, all_ in DONE.items() for words in all_])
def test_words_that_say_more_than_a_denial_are_no_denial(step: str, words: Json) -> None:
    history = note(step, words)
    assert asked(history, step) != set()
    assert steps(history) == ["completed"]


def test_a_tunnel_that_is_denied_in_words_is_no_tunnel_and_one_that_nobody_looked_for_is_not_denied() -> None:
    denied, unseen = (
        note("tunnels", words, "assessment") for words in ("none - probed all round", "not probed - too painful")
    )
    for history in (denied, unseen):
        assert not {one.rule for one in check(history)} & {"FU02", "FU03"}
        assert from_fhir(sent(history))[0].data == history.data
    tunnel = [next(one for one in sent(history) if "72296-7" in str(one.get("code"))) for history in (denied, unseen)]
    assert tunnel[0]["valueCodeableConcept"]["text"] == "none"
    assert tunnel[1]["dataAbsentReason"]["text"] == "not probed - too painful"


@pytest.mark.parametrize(
    ("key", "words", "hazard"),
    [
        ("pulses", "pouls non palpables", True),
        ("pulses", "pedal pulses not palpable", True),
        ("pulses", "pouls palpables", False),
        ("exposed", "os visible au fond", True),
        ("exposed", "pas d'os visible", False),
        ("infection_signs", "no signs of infection today", False),
        ("infection_signs", "pas de signes d'infection", False),
        ("tunnels", "no tunneling", False),
    ],
)
def test_a_hazard_in_french_or_in_a_sentence_is_heard_and_a_denied_one_is_none(
    key: str, words: str, hazard: bool
) -> None:
    found = {one.rule for one in check(note(key, words, "assessment")) if one.path and f".{key}" in one.path}
    assert bool(found & {"SF01", "LL07", "FU06"}) is hazard
    assert not found & {"FU02", "FU03"}
