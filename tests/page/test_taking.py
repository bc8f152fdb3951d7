"""Taking in: each conflict with both sides, who wrote them and when, and a decision that writes nothing over."""

from __future__ import annotations

import json
import re
from copy import deepcopy
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from starlette.testclient import TestClient

from tests.page.conftest import browser_of, page_on
from tests.page.test_screens import CLIENT, record, seen
from woundfhir.demo import story
from woundfhir.handover.bundling import bundle
from woundfhir.intake.source import parse
from woundfhir.jose.key_files import read_key
from woundfhir.jose.keys import Key
from woundfhir.jose.verification import MEANING, Answer
from woundfhir.page.state import Keys
from woundfhir.page.texts import say
from woundfhir.r4 import jsonio
from woundfhir.record import History


def another(**changes: Any) -> bytes:
    """The document of a team that has the same notes, but of V8 says something else."""
    data = deepcopy(parse(story(), "story").history.data)
    visit = data["visits"][-1]
    visit["wounds"][0]["assessment"]["odour"] = "offensive"
    visit["wounds"][1]["assessment"]["pain_at_rest"] = "9"
    data["wounds"][1]["onset"] = "2025-12-24"
    visit.update(changes)
    return jsonio.encode(bundle(History.of(data), "document"))


def looked(browser: TestClient, content: bytes, client: str = "ida.yaml") -> str:
    found = browser.post("/take-in", files={"file": ("came.json", content)}, data={"client": client})
    assert found.status_code == 200, unescape(found.text)
    return found.text


def take(browser: TestClient, text: str, **decisions: str) -> str:
    token = re.search(r'name="token" value="([^"]+)"', text)
    assert token is not None
    found = browser.post("/take-in/take", data={"token": token[1], **decisions})
    assert found.status_code == 200, unescape(found.text)
    return found.text


def keys_of(text: str) -> list[str]:
    return list(dict.fromkeys(unescape(one) for one in re.findall(r'name="(decide [^"]+)"', text)))


def test_both_sides_stand_with_who_and_when(nurse: TestClient) -> None:
    text = unescape(looked(nurse, another()))
    assert "offensive" in text and ">9<" in text and "2025-12-24" in text
    assert re.sub("<[^>]+>", "", text).count("Nurse One (invented), Sun 2026-04-05, 11:00") == 4  # who, and when
    assert len(keys_of(text)) == 2 and "Both stand" in text  # the wound itself has no versions


def test_what_is_kept_loses_nothing(nurse: TestClient, folder: Path) -> None:
    before = record(folder)
    take(nurse, looked(nurse, another()))
    after = record(folder)
    assert after.visits == before.visits
    kept = [one["value"] for one in after.data["extra"]]
    assert any("offensive" in one for one in kept) and any("2025-12-24" in one for one in kept)
    # The same once more conflicts again, and nothing is kept twice.
    take(nurse, looked(nurse, another()))
    assert record(folder).data == after.data


def test_what_is_taken_becomes_an_amendment_to_be_signed(nurse: TestClient, folder: Path) -> None:
    before = record(folder)
    text = looked(nurse, another())
    first = keys_of(text)[0]
    client = take(nurse, text, **{first: "take"})
    assert "Amends note V8" in client and record(folder).visits == before.visits  # until she signs, nothing is changed
    note = re.search(r'href="(/c/ida.yaml/d/d1/\d)"', client)
    assert note is not None
    page = nurse.get(note[1]).text
    assert "What came from another team was taken." in page
    nurse.post(f"{note[1]}/sign", data={"seen": seen(page), "sure": "1"})
    after = record(folder)
    new = after.visits[-1]
    assert after.visits[:-1] == before.visits and (new["status"], new["replaces"]) == ("amended", "V8")
    assert new["by"]["name"] == "Nurse One (invented)" and new["written"].startswith("2026-04-07")
    assert new["replaces_reason"] == "What came from another team was taken."
    by_wound = {one["wound"]: one for one in new["wounds"]}
    theirs, mine = (first.split("\n")[1], ({"W1", "W2"} - {first.split("\n")[1]}).pop())
    old = {one["wound"]: one for one in before.visits[-1]["wounds"]}
    assert by_wound[mine] == old[mine] and by_wound[theirs] != old[theirs]


def test_the_reason_of_an_amendment_is_written_on_the_note_itself(nurse: TestClient, folder: Path) -> None:
    nurse.post(f"{CLIENT}/v/V8/amend")
    note = f"{CLIENT}/d/d1/0"
    text = nurse.get(note).text
    assert "Why is the note amended?" in text
    sent = {"seen": seen(text), "_n": "visit.reason", "visit.reason": "the other foot"}
    nurse.post(note, data=sent)
    nurse.post(f"{note}/sign", data={"seen": seen(nurse.get(note).text), "sure": "1"})
    assert record(folder).visits[-1]["replaces_reason"] == "the other foot"


def test_a_note_of_another_author_is_another_note(nurse: TestClient) -> None:
    text = unescape(looked(nurse, another(by={"id": "x-1", "name": "Someone Else (invented)"})))
    assert not [one for one in keys_of(text) if one.startswith("decide V8")]


def test_what_a_signature_comes_to_is_shown_in_the_same_words() -> None:
    shown = {answer: say(f"signature.{answer.name.lower()}") for answer in Answer}
    none = shown.pop(Answer.NO_SIGNATURE)  # the command names the answer in front of what it means
    assert none == f"There is no signature. {MEANING[Answer.NO_SIGNATURE]}"
    assert shown == {answer: meaning for answer, meaning in MEANING.items() if answer != Answer.NO_SIGNATURE}


def pair() -> tuple[Key, Key]:
    private = ec.generate_private_key(ec.SECP256R1())
    pem = private.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    public = private.public_key().public_bytes(
        serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    return read_key(pem), read_key(public)


def test_signed_and_encrypted_it_reaches_the_other_team_alone(tmp_path_factory: pytest.TempPathFactory) -> None:
    here, there = tmp_path_factory.mktemp("here"), tmp_path_factory.mktemp("there")
    (here / "ida.yaml").write_bytes(story())
    (ours, our_public), (theirs, their_public), (stranger, _) = pair(), pair(), pair()
    sender, receiver = page_on(here), page_on(there)
    sender.keys = Keys(sign=ours, encrypt_for=their_public)
    receiver.keys = Keys(verify=our_public, opens=theirs)
    browser = browser_of(sender)
    assert "signed with the key" in browser.get(f"{CLIENT}/hand-over").text
    content = browser.get(f"{CLIENT}/document").content
    assert b"Example-Rowan" not in content
    other = browser_of(receiver)
    text = looked(other, content, "")
    assert "The content is as the holder of this key signed it." in unescape(text)
    take(other, text)
    assert len(parse((there / "client-0001" / "record.yaml").read_bytes(), "record").history.visits) == 8
    # Signed by somebody else, or not at all: nothing is taken in.
    for keys in (Keys(sign=stranger), Keys()):
        sender.keys = keys
        wrong = browser.get(f"{CLIENT}/document").content
        assert json.loads(wrong)["resourceType"] == "Bundle"
        refused = other.post("/take-in", files={"file": ("came.json", wrong)}, data={"client": ""})
        assert refused.status_code == 400 and "Nothing was taken in" in refused.text
    assert len(list(there.glob("*/record.yaml"))) == 1
