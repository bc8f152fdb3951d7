"""The service against whoever means it harm, or is broken: a clear answer, no value in it or in the log."""

from __future__ import annotations

import concurrent.futures
import os
import signal
import socket
import time
from contextlib import suppress
from pathlib import Path

import httpx
import pytest

from tests.service.conftest import Served, media_of, serving

VALUE = "Tremblay-4171948"
YAML, FHIR = {"Content-Type": "application/yaml"}, {"Content-Type": "application/fhir+json"}
DEEP = 100_000
BODIES = {
    "empty": (b"", FHIR),
    "a page": (b"<!doctype html><html><body>%s</body></html>" % VALUE.encode(), {"Content-Type": "application/xml"}),
    "a page as JSON": (b"<html>%s</html>" % VALUE.encode(), FHIR),
    "deep JSON": (b'{"resourceType":"Bundle","entry":' + b"[" * DEEP + b"]" * DEEP + b"}", FHIR),
    "deep objects": (b'{"resourceType":' + b'{"a":' * DEEP + b"1" + b"}" * DEEP + b"}", FHIR),
    "deep YAML": (b"woundfhir: 1\npatient: " + b"[" * DEEP, YAML),
    "deep XML": (b"<a>" * DEEP, {"Content-Type": "application/xml"}),
    "half of it": (b'{"resourceType": "Patient", "id": "%s' % VALUE.encode(), FHIR),
    "zero bytes": (b"\x00" * 1000, FHIR),
    "no UTF-8": (b'{"resourceType": "Patient", "id": "\xff\xfe"}', FHIR),
    "a long number": (b'{"resourceType":"Observation","valueQuantity":{"value":1e999999999}}', FHIR),
    "a key twice": (b'{"resourceType":"Patient","id":"1","id":"%s"}' % VALUE.encode(), FHIR),
    "laughs in YAML": (
        b"woundfhir: 1\na: &a [x,x,x,x,x,x,x,x,x]\n"
        + b"".join(b"%c: &%c [%s]\n" % (n, n, b",".join([b"*%c" % (n - 1)] * 9)) for n in range(98, 108)),
        YAML,
    ),
    "laughs in XML": (
        b'<!DOCTYPE l [<!ENTITY a "x"><!ENTITY b "&a;&a;&a;&a;&a;&a;">]><Patient xmlns="http://hl7.org/fhir">&b;</Patient>',
        {"Content-Type": "application/fhir+xml"},
    ),
    "a file in XML": (
        b'<!DOCTYPE l [<!ENTITY a SYSTEM "file:///etc/passwd">]>'
        b'<Patient xmlns="http://hl7.org/fhir"><id value="&a;"/></Patient>',
        {"Content-Type": "application/fhir+xml"},
    ),
    "a tag of YAML": (b"woundfhir: 1\npatient: !!python/object/apply:os.system ['touch /tmp/x']", YAML),
    "a list": (b"[]", {"Content-Type": "application/json"}),
    "a number": (b"1", {"Content-Type": "application/json"}),
    "an unknown type": (b'{"resourceType": "%s"}' % VALUE.encode(), FHIR),
}


@pytest.mark.parametrize("name", BODIES)
def test_a_hostile_body_is_one_clear_answer(name: str, served: Served) -> None:
    body, headers = BODIES[name]
    for path in ("/$validate", "/$convert"):
        answer = served.client.post(path, content=body, headers=headers)
        assert answer.status_code in (400, 413) or name == "an unknown type", answer.text
        assert answer.status_code < 500
        if answer.status_code != 200:
            issue = answer.json()["issue"][0]
            assert issue["severity"] == "error" and "expected" in issue["diagnostics"]
            assert VALUE not in answer.text and "root:" not in answer.text
            assert len(answer.text) < 3000
    call = served.client.post("/cds-services/patient-view", content=body, headers={"Content-Type": "application/json"})
    assert call.status_code == 400 and VALUE not in call.text


def test_a_body_that_is_too_large_is_refused_before_it_is_read(served: Served) -> None:
    answer = served.client.post("/$convert", content=b" " * (11 * 1024 * 1024), headers=FHIR)
    assert answer.status_code == 413 and answer.json()["issue"][0]["code"] == "too-long"

    def parts():  # type: ignore[no-untyped-def]  # without a Content-Length
        for _ in range(11):
            yield b" " * 1024 * 1024

    with suppress(httpx.TransportError):  # the connection may be closed while more is sent
        assert served.client.post("/$convert", content=parts(), headers=FHIR).status_code == 413
    assert served.client.get("/metadata").status_code == 200


def test_nothing_of_a_client_is_logged(story: Path) -> None:
    with serving() as served:
        served.client.post("/$validate", content=(story / "story.yaml").read_bytes(), headers=YAML)
        served.client.post(f"/$validate?name={VALUE}", content=VALUE.encode(), headers={**YAML, "X-Name": VALUE})
        served.client.get(f"/Patient/{VALUE}")
        served.client.post("/cds-services/patient-view", json={"context": {"patientId": VALUE}})
        with socket.create_connection(("127.0.0.1", int(served.address.rsplit(":", 1)[1]))) as raw:
            raw.sendall(f"{VALUE} no HTTP\r\n\r\n".encode())
            assert b"400" in raw.recv(1000)
        log = served.end()
    assert "POST validate: 200" in log
    for value in (VALUE, "Example-Rowan", "C-0417", "1948"):
        assert value not in log


def test_requests_at_once_are_answered_apart(served: Served, story: Path) -> None:
    """Two clients at once, many times: no answer holds anything of the other."""
    fhir = (story / "story.fhir.json").read_bytes()
    other = b'{"woundfhir": 1, "patient": {"born": "1931-12", "name": {"family": "Other-Client"}}}'

    def ask(number: int) -> str:
        content, headers = (fhir, FHIR) if number % 2 else (other, {"Content-Type": "application/json"})
        with httpx.Client(base_url=served.address, timeout=60, trust_env=False) as client:
            answer = client.post("/$convert", content=content, headers={**headers, "Accept": "application/json"})
        assert answer.status_code == 200
        assert ("Example-Rowan" in answer.text) == bool(number % 2)
        assert ("Other-Client" in answer.text) != bool(number % 2)
        return answer.text

    with concurrent.futures.ThreadPoolExecutor(6) as pool:
        found = list(pool.map(ask, range(12)))
    assert len(set(found)) == 2


def test_more_than_it_takes_is_asked_to_come_again(story: Path) -> None:
    fhir = (story / "story.fhir.json").read_bytes()
    with serving("--workers", "1", "--waiting", "0") as served:

        def ask(_: int) -> httpx.Response:
            with httpx.Client(base_url=served.address, timeout=60, trust_env=False) as client:
                return client.post("/$convert", content=fhir, headers=FHIR)

        with concurrent.futures.ThreadPoolExecutor(8) as pool:
            found = list(pool.map(ask, range(8)))
        statuses = {one.status_code for one in found}
        assert statuses == {200, 503}
        assert all(one.headers["Retry-After"] == "1" for one in found if one.status_code == 503)
        again = (ask(0).status_code for _ in range(20))
        assert any(status == 200 for status in again)


def test_what_takes_too_long_is_ended(story: Path) -> None:
    """The worker is ended with it, and the next request is answered by a new one."""
    big = b"woundfhir: 1\npatient: {}\nextra:\n" + b"- {source: a, path: b, why: c, value: d}\n" * 60_000
    note = b'{"woundfhir": 1, "patient": {"born": "1948-03"}}'
    with serving("--seconds", "1", "--workers", "1") as served:

        def answers() -> bool:  # a worker may need more than a second to start on a busy machine
            headers = {"Content-Type": "application/json"}
            return any(
                served.client.post("/$convert", content=note, headers=headers).status_code == 200 for _ in range(60)
            )

        assert answers()
        before = served.workers()
        started = time.monotonic()
        answer = served.client.post("/$validate", content=big, headers=YAML)
        assert answer.status_code == 503 and "too long" in answer.text
        assert time.monotonic() - started < 20
        assert not set(before) & set(served.workers())
        assert answers()


def test_a_worker_that_is_killed_is_replaced(story: Path) -> None:
    content = (story / "story.yaml").read_bytes()
    with serving("--workers", "1") as served:
        good = served.client.post("/$validate", content=content, headers=YAML)
        for pid in served.workers():
            os.kill(pid, signal.SIGKILL)
        time.sleep(0.2)
        assert served.client.post("/$validate", content=content, headers=YAML).content == good.content


def test_a_service_that_is_killed_leaves_nobody_behind(story: Path) -> None:
    content = (story / "story.yaml").read_bytes()
    with serving() as served:
        served.client.post("/$validate", content=content, headers=YAML)
        workers = served.workers()
        assert workers
        served.process.kill()
        served.process.wait(10)
        for _ in range(100):
            if not any(Path(f"/proc/{pid}").exists() for pid in workers):
                break
            time.sleep(0.1)
        assert not any(Path(f"/proc/{pid}").exists() for pid in workers)
    with serving() as again:
        assert again.client.post("/$validate", content=content, headers=YAML).status_code == 200


def test_stopping_ends_it_and_its_workers() -> None:
    with serving() as served:
        assert served.client.get("/metadata").status_code == 200
        workers = served.workers()
        served.process.send_signal(signal.SIGINT)
        assert served.process.wait(20) == 130
        assert not any(Path(f"/proc/{pid}").exists() for pid in workers)


def test_elsewhere_and_a_token(tmp_path: Path, story: Path) -> None:
    token = "k" * 32
    (tmp_path / "token").write_text(token)
    with serving(WOUNDFHIR_SERVE_TOKEN_FILE=str(tmp_path / "token")) as served:
        content = (story / "story.yaml").read_bytes()
        for path in ("/metadata", "/openapi.json", "/cds-services"):
            assert served.client.get(path).status_code == 200
        answer = served.client.post("/$validate", content=content, headers=YAML)
        assert answer.status_code == 401 and answer.json()["issue"][0]["code"] == "login"
        known = {**YAML, "Authorization": f"Bearer {token}"}
        assert served.client.post("/$validate", content=content, headers=known).status_code == 200
        for pid in served.workers():  # the token is not handed on
            assert token not in Path(f"/proc/{pid}/environ").read_text()
            assert "WOUNDFHIR_SERVE" not in Path(f"/proc/{pid}/environ").read_text()
        assert token not in served.end()


def test_a_page_of_others_cannot_ask(served: Served, story: Path) -> None:
    content = (story / "story.yaml").read_bytes()
    for headers in ({"Origin": "https://wounds.example"}, {"Host": "wounds.example"}):
        answer = served.client.post("/$validate", content=content, headers={**media_of("a.yaml"), **headers})
        assert answer.status_code in (403, 421) and answer.json()["issue"][0]["code"] in ("forbidden", "security")
