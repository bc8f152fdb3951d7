"""Bulk export: what a played server says and does, right and wrong.

The order of requests, headers and the manifest: HL7 FHIR Bulk Data Access, export (STU 2; names of later lines).
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from tests.server.played import Handler, Played, encode, outcome, playing
from tests.server.story import STORY, amended, connection, put
from woundfhir.cli import run
from woundfhir.errors import InputError
from woundfhir.intake.source import read_all
from woundfhir.record import History
from woundfhir.server.export import clients, export, path_of

Json = Any


@pytest.fixture
def played() -> Iterator[Played]:
    with playing() as made:
        yield made


class Bulk:
    """The part of a server that exports: it notes what it was asked, and does one thing wrong where a test says so."""

    def __init__(self, played: Played) -> None:
        self.played, self.polls, self.cancelled = played, 2, 0
        self.kick_off: list[tuple[str, dict[str, str]]] = []
        self.file_tokens: list[str | None] = []
        self.manifest: dict[str, Json] = {}
        self.status: tuple[int, Json, dict[str, str]] | None = None
        self.accepted: tuple[int, dict[str, str]] = (202, {"Content_Location": f"{played.base}/status/1"})
        self.files: dict[str, bytes] = {}
        self.later = "7"
        self.media = "application/fhir+ndjson"
        played.faults.append(self)

    def fill(self) -> None:
        """Export what the server has: a file for each type."""
        by: dict[str, list[Json]] = {}
        for one in self.played.resources.values():
            by.setdefault(one["resourceType"], []).append(one)
        self.files = {kind: b"".join(encode(one) + b"\n" for one in some) for kind, some in by.items()}
        rows = [{"type": k, "url": f"{self.played.base}/files/{k}", "count": len(some)} for k, some in by.items()]
        self.manifest = {
            "transactionTime": "2026-05-20T10:00:00Z",
            "request": f"{self.played.base}/$export",
            "requiresAccessToken": True,
            "output": rows,
            "error": [],
        }

    def __call__(self, handler: Handler, method: str, path: str) -> bool:
        headers = {name.lower(): value for name, value in handler.headers.items()}
        if "$export" in path:
            self.kick_off.append((path, headers))
            if self.accepted[0] != 202:
                handler.answer(self.accepted[0], outcome("not-supported", "no export here"), **self.accepted[1])
            else:
                handler.answer(202, {}, **self.accepted[1])
        elif path.startswith("status/"):
            self._status(handler, method)
        elif path.startswith("files/"):
            self.file_tokens.append(headers.get("authorization"))
            handler.answer(200, self.files[path.removeprefix("files/")], Content_Type=self.media)
        else:
            return False
        return True

    def _status(self, handler: Handler, method: str) -> None:
        if method == "DELETE":
            self.cancelled += 1
            handler.answer(202, {})
        elif self.polls:
            self.polls -= 1
            handler.answer(202, {}, Retry_After=self.later, X_Progress="half of it")
        elif self.status is not None:
            code, body, headers = self.status
            handler.answer(code, body, **headers)
        else:
            handler.answer(200, self.manifest, Content_Type="application/json")


@pytest.fixture(scope="module")
def stored() -> dict[str, Json]:
    """What a server has after two clients were sent."""
    with playing() as once:
        put(once, story())
        put(once, other(story()))
        return once.resources


@pytest.fixture
def bulk(played: Played, stored: dict[str, Json]) -> Bulk:
    played.resources = copy.deepcopy(stored)
    made = Bulk(played)
    made.fill()
    return made


def other(history: History) -> History:
    def change(data: Json) -> None:
        data["patient"]["identifiers"] = [{"system": "urn:example:other", "value": "2"}]

    return amended(history, change)


def story() -> History:
    (found,) = read_all([str(STORY)])
    return found.history


@pytest.mark.parametrize(("level", "path"), [("Patient", "Patient/$export"), ("Group/w-3", "Group/w-3/$export")])
def test_every_client_comes_apart(played: Played, bulk: Bulk, level: str, path: str) -> None:
    server = connection(played)
    exported = export(server, level, since="2026-01-01T00:00:00Z")
    asked, headers = bulk.kick_off[0]
    assert asked.startswith(f"{path}?_outputFormat=application%2Ffhir%2Bndjson&_since=2026-01-01T00")
    assert headers["prefer"] == "respond-async" and headers["accept"] == "application/fhir+json"
    assert server.waits == [1.0, 7.0, 7.0]  # type: ignore[attr-defined]
    assert bulk.cancelled == 1 and not exported.notices
    found = clients(server, exported)
    wanted = [story().data, other(story()).data]
    assert sorted(json.dumps(one.history.data) for one in found) == sorted(json.dumps(one) for one in wanted)
    assert all(not one.losses for one in found)
    (only,) = clients(server, exported, ["urn:example:other|2"])
    assert only.history.data == wanted[1]


def test_the_command_line_writes_a_line_for_each_client(
    played: Played, bulk: Bulk, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "all.ndjson"
    bulk.polls, bulk.later = 1, "0"
    asked = ["fetch", played.base, "--export", "Patient", "--to", "record-ndjson", "-o", str(out)]
    assert run(asked) == 0
    assert "(half of it)" in capsys.readouterr().err
    assert len(out.read_bytes().splitlines()) == 2
    assert run([*asked[:-4], "--to", "record", "-o", str(tmp_path / "x.yaml")]) == 2
    assert run(["fetch", played.base, "-o", str(tmp_path / "y.yaml")]) == 2
    assert run(["fetch", played.base, "--export", "Ward/3", "--to", "record-ndjson"]) == 2
    assert "expected system, Patient or Group/ID" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"accepted": (404, {})}, "it answered 404"),
        ({"accepted": (202, {})}, "it names none"),
        ({"accepted": (202, {"Content_Location": "https://elsewhere.example/status"})}, "leads to another host"),
        ({"status": (500, outcome("exception", "job failed"), {})}, "it answered 500 .* job failed"),
        ({"status": (200, b"<html>", {"Content_Type": "text/html"})}, "which is no FHIR"),
        ({"media": "text/html"}, "expected NDJSON"),
        ({"polls": 10_000, "later": "900"}, "It is cancelled there.*--wait"),
    ],
)
def test_what_goes_wrong_is_reported_and_cancelled(played: Played, bulk: Bulk, wrong: Json, words: str) -> None:
    for name, value in wrong.items():
        setattr(bulk, name, value)
    with pytest.raises(InputError, match=words):
        export(connection(played), "Patient")
    assert bulk.cancelled == (0 if "accepted" in wrong else 1)


def test_a_busy_server_is_asked_later(played: Played, bulk: Bulk) -> None:
    left = [429]

    def busy(handler: Handler, method: str, path: str) -> bool:
        if "$export" in path and left:
            handler.answer(left.pop(), outcome("throttled", "one at a time"), Retry_After="30")
            return True
        return False

    played.faults.insert(0, busy)
    server = connection(played)
    assert export(server, "Patient").resources and server.waits[0] == 30.0  # type: ignore[attr-defined]


@pytest.mark.parametrize("fault", ["fewer", "another type", "half a line"])
def test_a_file_that_is_not_whole_is_refused(played: Played, bulk: Bulk, fault: str) -> None:
    lines = bulk.files["Observation"].splitlines(keepends=True)
    changed = {
        "fewer": b"".join(lines[:-1]),
        "another type": b"".join(lines[:-1]) + bulk.files["Patient"].splitlines(keepends=True)[0],
        "half a line": bulk.files["Observation"][:-30],
    }
    bulk.files["Observation"] = changed[fault]
    with pytest.raises(InputError, match="the export's file of Observation") as found:
        export(connection(played), "Patient")
    assert "Nothing was written" in str(found.value) and "2026" not in str(found.value)
    assert bulk.cancelled == 1


def test_errors_and_deletions_of_the_manifest_are_reported(played: Played, bulk: Bulk) -> None:
    said = outcome("exception", "could not read 'Roe' of card 417-22")
    gone = {"request": {"method": "DELETE", "url": "Observation/9"}}
    bulk.files["e"] = encode(said) + b"\n"
    bulk.files["d"] = encode({"resourceType": "Bundle", "type": "transaction", "entry": [gone, gone]}) + b"\n"
    bulk.manifest["error"] = [{"type": "OperationOutcome", "url": f"{played.base}/files/e"}]
    bulk.manifest["deleted"] = [{"type": "Bundle", "url": f"{played.base}/files/d", "count": 1}]
    notices = export(connection(played), "Patient").notices
    assert notices == [
        "The server says of the export: error, exception: could not read … of card …",
        "Deleted there: Observation (2)",
    ]


def test_the_second_manifest_is_read_and_a_circle_of_them_ends(played: Played, bulk: Bulk) -> None:
    first = dict(bulk.manifest)
    rows = first["output"]
    second = {**first, "output": rows[1:]}
    bulk.manifest = {**first, "output": rows[:1], "link": [{"relation": "next", "url": f"{played.base}/more"}]}

    def more(handler: Handler, method: str, path: str) -> bool:
        if path != "more":
            return False
        handler.answer(200, second, Content_Type="application/json")
        return True

    played.faults.append(more)
    assert len(export(connection(played), "Patient").resources) == sum(row["count"] for row in rows)
    second["link"] = bulk.manifest["link"]
    with pytest.raises(InputError, match="leads back to an earlier one"):
        export(connection(played), "Patient")


def test_the_token_goes_to_the_server_alone(played: Played, bulk: Bulk) -> None:
    """The manifest says whether its files ask for it; a file elsewhere never gets it."""
    server = connection(played, authorization=lambda renew: "Bearer secret")
    export(server, "Patient")
    assert set(bulk.file_tokens) == {"Bearer secret"}
    bulk.manifest["requiresAccessToken"] = False
    bulk.file_tokens.clear()
    export(server, "Patient")
    assert set(bulk.file_tokens) == {None}
    with playing() as elsewhere:
        asked = elsewhere.asked
        bulk.manifest["output"] = [{"type": "Patient", "url": f"{elsewhere.base}/files/Patient"}]
        bulk.manifest["requiresAccessToken"] = True
        with pytest.raises(InputError, match="the token would go to another host"):
            export(server, "Patient")
        assert not asked
        bulk.manifest["requiresAccessToken"] = False
        with pytest.raises(InputError, match="it answered 404"):
            export(server, "Patient")
        assert len(asked) == 1 and "authorization" not in asked[0][2]
    bulk.manifest["output"] = [{"type": "Patient", "url": "http://elsewhere.example/files/Patient"}]
    with pytest.raises(InputError, match="expected https"):
        export(server, "Patient")


def test_what_is_of_nobody_who_came_is_reported(played: Played, bulk: Bulk) -> None:
    bulk.files["Patient"] = bulk.files["Patient"].splitlines(keepends=True)[0]
    row = next(one for one in bulk.manifest["output"] if one["type"] == "Patient")
    row["count"] = 1
    bulk.manifest["output"].append({"type": "Flag", "url": f"{played.base}/files/Flag"})
    bulk.files["Flag"] = encode({"resourceType": "Flag", "id": "f"}) + b"\n"
    server = connection(played)
    exported = export(server, "system")
    assert len(clients(server, exported)) == 1
    assert exported.notices == [
        "Of no client, and left out: Flag (1), Organization (1), Practitioner (1), PractitionerRole (1)",
        "Of 1 clients who did not come themselves something came: it is left out",
    ]
    with pytest.raises(InputError, match="none of the clients that came has it"):
        clients(server, exported, ["urn:example:x|9"])


@pytest.mark.parametrize("url", ["http://[::1", "https://a:b/x", "", "ftp://elsewhere.example/x", 5, None])
def test_a_file_at_no_address_is_refused(played: Played, bulk: Bulk, url: Json) -> None:
    bulk.manifest["output"] = [{"type": "Patient", "url": url}]
    server = connection(played, authorization=lambda renew: "Bearer secret")
    for token in (True, False):
        bulk.manifest["requiresAccessToken"] = token
        with pytest.raises(InputError):
            export(server, "Patient")


@pytest.mark.parametrize("key", ["output", "error", "deleted", "link", "requiresAccessToken"])
@pytest.mark.parametrize("value", [None, 5, "x", [5], {}, [{}], [{"type": 5, "url": {}}]])
def test_a_manifest_of_another_form_is_no_fault_of_ours(played: Played, bulk: Bulk, key: str, value: Json) -> None:
    bulk.manifest[key], bulk.polls = value, 0
    bulk.manifest["output"] = bulk.manifest["output"] if key == "output" else []
    with suppress(InputError):
        export(connection(played), "Patient")
    assert bulk.cancelled == 1


@pytest.mark.parametrize("level", ["Group/", "Group/a b", "patient", "Group/a/$export", ""])
def test_other_levels_are_refused(level: str) -> None:
    with pytest.raises(InputError, match="system, Patient or Group/ID"):
        path_of(level)
