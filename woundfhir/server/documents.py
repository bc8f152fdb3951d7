"""A document sent whole: its bytes in a DocumentReference, with their hash, so that a signature still holds.

A server may change a resource that it stores; the bytes in an attachment it returns as they came (R4, Attachment).
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from woundfhir.catalogue import BASE
from woundfhir.errors import InputError
from woundfhir.fhir.ids import NAMESPACE, uuid5
from woundfhir.fhir.keys import Key, key_of
from woundfhir.fhir.mhd import JSON, client_of, described, head_of
from woundfhir.fhir.references import identifiers_of
from woundfhir.fhir.transactions import request
from woundfhir.r4 import jsonio
from woundfhir.server.answers import refused
from woundfhir.server.capability import Capability, capability
from woundfhir.server.clients import find_client
from woundfhir.server.connection import Connection
from woundfhir.server.pages import resources

Json = Any
Resource = dict[str, Json]
#: The system of the identifiers of documents that we sent: the value is the SHA-256 of the bytes.
SYSTEM = f"{BASE}/document"


def is_ours(resource: Mapping[str, Json]) -> bool:
    """Whether a resource holds a document that we sent: a form of the record, and no part of it."""
    if resource.get("resourceType") != "DocumentReference":
        return False
    return any(one.get("system") == SYSTEM for one in identifiers_of(resource))


def reference(content: bytes, client: Mapping[str, Json]) -> Resource:
    """Return the DocumentReference of a document (FHIR R4): its bytes, their size and hash (SHA-1, as R4 has it)."""
    bundle = jsonio.decode_checked(content)
    head = head_of(bundle)
    attachment = {
        "contentType": JSON,
        "data": base64.b64encode(content).decode(),
        **described(content),
        **({"title": head["title"]} if "title" in head else {}),
    }
    named = {"system": SYSTEM, "value": hashlib.sha256(content).hexdigest()}
    made: Resource = {"resourceType": "DocumentReference", "identifier": [named], "status": "current"}
    if "identifier" in bundle:
        made["masterIdentifier"] = bundle["identifier"]
    if "type" in head:
        made["type"] = head["type"]
    made["subject"] = dict(client)
    if "timestamp" in bundle:
        made["date"] = bundle["timestamp"]
    return {**made, "content": [{"attachment": attachment}]}


def send_document(server: Connection, content: bytes) -> tuple[Key, str]:
    """Send a document as it is; return its key, and "created" or "unchanged".

    Raises
    ------
    InputError
        For what is no document, or whose client has no identifier with a system.
    """
    can = capability(server)
    patient, key = client_of(jsonio.decode_checked(content))
    made = reference(content, {"reference": NAMESPACE.urn})
    name = key_of(made)
    assert name is not None
    _need(can)
    if list(
        resources(server, server.search("DocumentReference", identifier=name.token), "the search for the document")
    ):
        return name, "unchanged"
    entries = [
        {"fullUrl": made["subject"]["reference"], "resource": patient, "request": request(key, "create")},
        {"fullUrl": f"urn:uuid:{_uuid(name)}", "resource": made, "request": request(name, "create")},
    ]
    answer = server.send("POST", "", {"resourceType": "Bundle", "type": "transaction", "entry": entries})
    if answer.status != 200:
        raise refused(answer)
    return name, "created"


def _need(can: Capability) -> None:
    kinds = [kind for kind in ("DocumentReference", "Patient") if "identifier" not in can.of(kind).searches]
    if not can.transaction or kinds:
        wrong = "it takes no transaction" if not can.transaction else f"it cannot find a {kinds[0]} by its identifier"
        raise InputError("the server", "what sending a document needs", "Nothing was sent", found=wrong)


def _uuid(key: Key) -> str:
    return uuid5(NAMESPACE.bytes, key.words)


def fetch_documents(server: Connection, who: str) -> dict[Path, bytes]:
    """Return the documents of one client that we sent: a file name each, and its bytes, their hash held against them.

    Raises
    ------
    InputError
        When the bytes are not those that were sent.
    """
    client = find_client(server, who)
    answer = server.search("DocumentReference", patient=f"Patient/{client['id']}", _count="50")
    made = {}
    for one in resources(server, answer, "the search for documents"):
        if not is_ours(one):
            continue
        value = next(str(named["value"]) for named in identifiers_of(one) if named.get("system") == SYSTEM)
        content = _content(server, one)
        if hashlib.sha256(content).hexdigest() != value:
            fix = "Ask who keeps the server, and the sender for the document again"
            raise InputError("the server", "the bytes that were sent", fix, found="a document was changed there")
        made[Path(f"document-{value[:12]}.json")] = content
    return made


def _content(server: Connection, resource: Resource) -> bytes:
    attachment = resource["content"][0]["attachment"]
    if "data" in attachment:
        return base64.b64decode(attachment["data"])
    answer = server.get(str(attachment.get("url", "")), accept=str(attachment.get("contentType", JSON)))
    if answer.status != 200:
        raise refused(answer)
    return answer.body
