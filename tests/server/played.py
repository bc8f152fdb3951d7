"""A small FHIR server for tests, in a thread on this machine: it stores and finds, and does wrong what it is told.

It follows HL7 FHIR R4, http (transaction, conditional create, If-Match, paging), and is told what to do wrong.
"""

from __future__ import annotations

import re
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from decimal import Decimal
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, unquote, urlsplit

import msgspec

Json = Any
#: Numbers as they were written: 4.10 stays 4.10.
decode = msgspec.json.Decoder(float_hook=Decimal).decode
encode = msgspec.json.Encoder(decimal_format="number").encode
#: One fault: sees method and path; True where it has answered.
Fault = Callable[["Handler", str, str], bool]
KINDS = (
    *("Patient", "Encounter", "Condition", "Observation", "Procedure", "CarePlan", "Goal", "SupplyDelivery", "Flag"),
    *("DocumentReference", "BodyStructure", "AllergyIntolerance", "CareTeam", "Practitioner", "PractitionerRole"),
    *("Organization", "Basic", "Binary"),
)
SEARCHES = ("identifier", "patient", "subject")


class Played:
    """What the server has, and what it is to do wrong."""

    def __init__(self) -> None:
        self.resources: dict[str, Json] = {}
        self.deleted: set[str] = set()
        #: What was there before it was deleted.
        self.versions: dict[str, Json] = {}
        self.asked: list[tuple[str, str, dict[str, str], bytes]] = []
        self.faults: list[Fault] = []
        self.page = 1000
        self.everything = True
        self.types: dict[str, Json] = {}
        self.base = ""
        self.next_link: str | None = None
        self.lock = threading.Lock()

    def add(self, resource: Json) -> Json:
        name = f"{resource['resourceType']}/{resource.get('id') or len(self.resources) + 1}"
        version = str(int(self.resources.get(name, {"meta": {"versionId": "0"}})["meta"]["versionId"]) + 1)
        kept = {**resource, "id": name.split("/")[1], "meta": {**resource.get("meta", {}), "versionId": version}}
        self.resources[name] = kept
        return kept

    def found(self, kind: str, query: str) -> list[Json]:
        asked = {key: values[0] for key, values in parse_qs(query).items()}
        out = [one for name, one in sorted(self.resources.items()) if name.startswith(f"{kind}/")]
        if "identifier" in asked:
            wanted = [re.split(r"(?<!\\)\|", token) for token in re.split(r"(?<!\\),", asked["identifier"])]
            out = [one for one in out if any(_has(one, *token) for token in wanted)]
        for key in ("patient", "subject"):
            if key in asked:
                out = [
                    one
                    for one in out
                    if (one.get("subject") or one.get("patient") or {}).get("reference") == asked[key]
                ]
        return out

    def capability(self) -> Json:
        plain = {
            "interaction": [{"code": code} for code in ("read", "create", "update", "search-type")],
            "conditionalCreate": True,
            "conditionalUpdate": True,
            "searchParam": [{"name": name} for name in SEARCHES],
        }
        operations = [{"name": "everything"}] if self.everything else []
        rows = [
            {"type": kind, **plain, **self.types.get(kind, {})}
            for kind in KINDS
            if self.types.get(kind, {}) is not None
        ]
        rest = {"mode": "server", "interaction": [{"code": "transaction"}], "resource": rows, "operation": operations}
        return {"resourceType": "CapabilityStatement", "fhirVersion": "4.0.1", "rest": [rest]}

    def transaction(self, bundle: Json) -> tuple[int, Json]:
        """All or nothing, as R4 has it."""
        before = dict(self.resources)
        names: dict[str, str] = {}
        plan = []
        for entry in bundle["entry"]:
            request, resource = entry["request"], entry["resource"]
            if request["method"] == "POST":
                query = request.get("ifNoneExist", "")
                there = self.found(request["url"], unquote(query).replace("+", "%2B")) if query else []
                if len(there) > 1:
                    return 412, outcome("multiple-matches", "several match")
                name = (
                    f"{request['url']}/{there[0]['id']}"
                    if there
                    else f"{request['url']}/{len(self.resources) + len(plan) + 1}"
                )
                plan.append((entry, name, "200 OK" if there else "201 Created", not there))
            else:
                name, version = request["url"], request.get("ifMatch")
                old = self.resources.get(name)
                if version and (old is None or f'W/"{old["meta"]["versionId"]}"' != version):
                    return 412, outcome("conflict", "version")
                plan.append((entry, name, "200 OK" if old else "201 Created", True))
            names[entry["fullUrl"]] = name
        answers = []
        for entry, name, status, write in plan:
            resource = _renamed(entry["resource"], names)
            for literal in re.findall(r'"reference":"([^"]+)"', encode(resource).decode()):
                if literal not in before and literal not in names.values():
                    self.resources = before
                    return 400, outcome("not-found", f"Reference {literal} leads nowhere")
            stored = self.add({**resource, "id": name.split("/")[1]}) if write else self.resources[name]
            location = f"{name}/_history/{stored['meta']['versionId']}"
            answers.append({"response": {"status": status, "location": location}})
        return 200, {"resourceType": "Bundle", "type": "transaction-response", "entry": answers}


def _has(resource: Json, system: str, value: str = "") -> bool:
    named = resource.get("identifier") or []
    named = named if isinstance(named, list) else [named]
    plain = re.sub(r"\\(.)", r"\1", value)
    return any(one.get("system") == system and (not plain or one.get("value") == plain) for one in named)


def _renamed(value: Json, names: dict[str, str]) -> Json:
    if isinstance(value, dict):
        return {k: names.get(v, v) if k == "reference" else _renamed(v, names) for k, v in value.items()}
    return [_renamed(one, names) for one in value] if isinstance(value, list) else value


def outcome(code: str, text: str) -> Json:
    issue = {"severity": "error", "code": code, "diagnostics": text}
    return {"resourceType": "OperationOutcome", "issue": [issue]}


class Handler(BaseHTTPRequestHandler):
    """One request."""

    protocol_version = "HTTP/1.1"
    server: Any

    def log_message(self, *args: Any) -> None:
        pass

    def answer(self, status: int, body: Json, **headers: str) -> None:
        content = body if isinstance(body, bytes) else encode(body)
        self.send_response(status)
        kept = {"Content-Type": "application/fhir+json", **{k.replace("_", "-"): v for k, v in headers.items()}}
        for name, text in {**kept, "Content-Length": str(len(content))}.items():
            self.send_header(name, text)
        self.end_headers()
        self.wfile.write(content)

    def cut(self) -> None:
        """Close in the middle of an answer."""
        self.send_response(200)
        self.send_header("Content-Type", "application/fhir+json")
        self.send_header("Content-Length", "100000")
        self.end_headers()
        self.wfile.write(b'{"resourceType": "Bun')
        self.wfile.flush()
        self.connection.shutdown(socket.SHUT_RDWR)
        self.close_connection = True

    def _do(self) -> None:
        played: Played = self.server.played
        body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
        path = self.path.removeprefix("/fhir").lstrip("/")
        with played.lock:
            played.asked.append((self.command, path, {k.lower(): v for k, v in self.headers.items()}, body))
            for fault in list(played.faults):
                if fault(self, self.command, path):
                    return
            self._serve(played, path, body)

    def _serve(self, played: Played, path: str, body: bytes) -> None:
        parts = urlsplit(path)
        if parts.path == "metadata":
            self.answer(200, played.capability())
        elif self.command == "POST" and parts.path == "":
            self.answer(*played.transaction(decode(body)))
        elif parts.path.endswith("/_search"):
            self._page(played, played.found(parts.path.split("/")[0], body.decode()), parts.path, body.decode())
        elif parts.path.endswith("/$everything"):
            name = parts.path.removesuffix("/$everything")
            mine = [
                o
                for o in played.resources.values()
                if name in encode(o).decode() or f"{o['resourceType']}/{o['id']}" == name
            ]
            self._page(played, mine, parts.path, parts.query)
        elif parts.path.endswith("/_history"):
            self._history(played, parts.path.removesuffix("/_history"))
        elif parts.path == "pages":
            kept = parse_qs(parts.query)
            self._page(played, self.server.found, "pages", "", int(kept["at"][0]))
        elif parts.path in played.resources:
            self.answer(200, played.resources[parts.path])
        elif parts.path in played.deleted:
            self.answer(410, outcome("deleted", "it was deleted"))
        else:
            self.answer(404, outcome("not-found", "no such thing"))

    def _history(self, played: Played, name: str) -> None:
        """What was deleted, the newest first; a version of it only where it is asked for by its name."""
        gone = [one for one in sorted(played.deleted) if one == name or one.startswith(f"{name}/")]
        entries: list[Json] = [
            {"fullUrl": f"{played.base}/{one}", "request": {"method": "DELETE", "url": one}} for one in gone
        ]
        if name in played.versions:
            entries.append({"resource": played.versions[name], "request": {"method": "PUT", "url": name}})
        self.answer(200, {"resourceType": "Bundle", "type": "history", "entry": entries})

    def _page(self, played: Played, found: list[Json], path: str, query: str, at: int = 0) -> None:
        self.server.found = found
        here = found[at : at + played.page]
        made: Json = {"resourceType": "Bundle", "type": "searchset", "entry": [{"resource": one} for one in here]}
        if at + played.page < len(found):
            link = played.next_link or f"{played.base}/pages?at={at + played.page}"
            made["link"] = [{"relation": "next", "url": link}]
        self.answer(200, made)

    do_GET = do_POST = do_PUT = do_DELETE = _do


@contextmanager
def playing() -> Iterator[Played]:
    """Start a server and stop it."""
    played = Played()
    server: Any = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    server.played, server.found = played, []
    played.base = f"http://127.0.0.1:{server.server_address[1]}/fhir"
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield played
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
