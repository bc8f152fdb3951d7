"""Requests that no screen of ours sends, and disks that take nothing: one clear message, and nothing lost."""

from __future__ import annotations

import errno
import os
import re
from html import unescape
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.page.conftest import browser_of
from tests.page.test_screens import CLIENT, NOTE, draft_of, record, seen, start
from woundfhir.page.state import Page

#: What is sent, and how the answer begins.
SENT = [
    (f"{CLIENT}/start", {"wound": "x"}, "the form: expected a number"),
    (f"{CLIENT}/start", {"wound": "9" * 5000}, "the form: expected a number"),
    (f"{CLIENT}/start", {"wound": "77"}, "the wound: expected a wound of this client"),
    (NOTE, {"seen": "abc"}, "the form: expected a number"),
    (NOTE, {"do": "fly:home"}, "the form: expected a button"),
    (NOTE, {"do": "same:nothing"}, "the form: expected a group"),
    (NOTE, {"do": "open:nothing.at_all"}, "the form: expected a field"),
    (NOTE, {"do": "item:../../x|3"}, "the form: expected a field"),
    (NOTE, {"do": "take:patient.name=x"}, "the form: expected a field"),
    (NOTE, {"do": "take:photos==[]"}, "the form: expected a field"),
    (NOTE, {"_n": "patient.name", "patient.name": "x"}, "the form: expected a field"),
    (NOTE, {"_n": "assessment.tissue=", "assessment.tissue=": "{no json"}, "the form: expected a field"),
    (NOTE, {"_n": "care.packing[99999].length", "care.packing[99999].length": "3"}, "the form: expected a field"),
    (f"{NOTE}/sign", {"seen": "x", "sure": "1"}, "the form: expected a number"),
    (f"{CLIENT}/d/nobody/discard", {}, "the draft: it is not there any more"),
    (f"{CLIENT}/d/d1/99", {}, "the address: expected a wound"),
    (f"{CLIENT}/v/V77/amend", {}, "the address: expected a note"),
    ("/take-in", {"client": "nobody"}, "the file: expected a file"),
    ("/take-in/take", {"token": "x"}, "the file: it is no longer held"),
    ("/who", {"person": "77"}, "who is writing: expected a name"),
]


def message(text: str) -> str:
    found = re.search(r"<p>(.*?)</p>", text, re.DOTALL)
    assert found is not None
    return unescape(found[1])


@pytest.mark.parametrize(("path", "sent", "said"), SENT, ids=range(len(SENT)))
def test_what_no_screen_sends_is_one_message(
    nurse: TestClient, folder: Path, page: Page, path: str, sent: dict[str, str], said: str
) -> None:
    start(nurse)
    before, draft = (folder / "ida.yaml").read_bytes(), draft_of(page)
    found = nurse.post(path, data=sent)
    assert found.status_code == 400 and message(found.text).startswith(said)
    assert (f'href="{CLIENT}"' in found.text) is path.startswith(CLIENT)
    assert (folder / "ida.yaml").read_bytes() == before and draft_of(page) == draft
    assert nurse.get(NOTE).status_code == 200


@pytest.mark.parametrize("kind", ["multipart/form-data; boundary=x", "application/json", "text/yaml"])
def test_what_is_no_form_is_refused(nurse: TestClient, kind: str) -> None:
    start(nurse)
    found = nurse.post(NOTE, content=b"\xff\xfe\0 no form", headers={"Content-Type": kind})
    assert found.status_code in (200, 400)  # a body of another type is no form: nothing was sent
    assert nurse.get(NOTE).status_code == 200


def test_too_large_a_body_and_other_methods(nurse: TestClient) -> None:
    start(nurse)
    huge = nurse.post(NOTE, content=b"a=" + b"x" * (64 * 1024 * 1024), headers={"Content-Type": "text/plain"})
    assert huge.status_code == 413 and "64 MB" in message(huge.text)
    for answer in (nurse.put(NOTE), nurse.delete("/"), nurse.get(f"{CLIENT}/start"), nurse.get("/nothing/here")):
        assert answer.status_code in (404, 405) and "Go back to the list" in message(answer.text)


@pytest.mark.parametrize("fault", [errno.ENOSPC, errno.EROFS, errno.EIO])
def test_a_disk_that_takes_nothing_loses_nothing(
    nurse: TestClient, page: Page, folder: Path, monkeypatch: pytest.MonkeyPatch, fault: int
) -> None:
    """The system's own errors stand in for a disk that is full, read only or broken."""
    at = seen(start(nurse))
    nurse.post(NOTE, data={"seen": at, "_n": "note", "note": "before"})

    def fail(*_: object) -> None:
        raise OSError(fault, os.strerror(fault))

    with monkeypatch.context() as broken:
        broken.setattr("woundfhir.storage.disk.os.fsync", fail)
        refused = nurse.post(NOTE, data={"seen": at, "_n": "assessment.odour", "assessment.odour": "none"})
        assert refused.status_code == 400 and os.strerror(fault) in message(refused.text)
        signed = nurse.post(f"{NOTE}/sign", data={"seen": seen(nurse.get(NOTE).text), "sure": "1"})
        assert signed.status_code == 400 and os.strerror(fault) in message(signed.text)
        assert nurse.get("/").status_code == 200
    assert draft_of(page)["note"] == ["before"] and "assessment.odour" not in draft_of(page)
    assert len(record(folder).visits) == 8
    nurse.post(f"{NOTE}/sign", data={"seen": seen(nurse.get(NOTE).text), "sure": "1"})
    assert record(folder).visits[-1]["wounds"][0]["note"] == "before"


def test_a_folder_where_no_draft_can_stand_is_one_message(folder: Path, page: Page) -> None:
    (folder / ".woundfhir-page").write_text("a file in the way")
    browser = browser_of(page)
    assert browser.get("/").status_code == 200
    found = browser.post(f"{CLIENT}/start", data={"wound": "1"})
    assert found.status_code == 400 and len(message(found.text).splitlines()) == 1
