"""A document in the Bundle of IHE MHD's Provide Document Bundle (ITI-65), and the documents in one that came.

Source: IHE ITI MHD 4.2.3 (IHE/ITI.MHD), at the level "minimal": SubmissionSet (a List), DocumentReference, the document
byte for byte in a Binary, and the Patient. The comprehensive level asks for the kind of facility and of practice, which
a wound record does not say.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Iterator, Mapping
from typing import Any
from uuid import UUID

from woundfhir.errors import InputError
from woundfhir.fhir.around import hold_against
from woundfhir.fhir.elements import objects
from woundfhir.fhir.ids import NAMESPACE, uuid5
from woundfhir.fhir.keys import Key, key_of
from woundfhir.fhir.transactions import request
from woundfhir.r4 import jsonio, xmlio

Json = Any
Resource = dict[str, Json]
JSON, XML = "application/fhir+json", "application/fhir+xml"
_BASE = "https://profiles.ihe.net/ITI/MHD"
_PROFILE = f"{_BASE}/StructureDefinition/IHE.MHD.Minimal."
_SUBMISSION = {"system": f"{_BASE}/CodeSystem/MHDlistTypes", "code": "submissionset"}
_FORMAT = {
    "system": "http://ihe.net/fhir/ihe.formatcode.fhir/CodeSystem/formatcode",
    "code": "urn:ihe:iti:xds:2017:mimeTypeSufficient",
}
CONFIDENTIALITY = "http://terminology.hl7.org/CodeSystem/v3-Confidentiality"
_URI = "urn:ietf:rfc:3986"
#: DocumentReference.status and docStatus, List.status (R4) of what holds no longer.
_WITHDRAWN = {"entered-in-error": "entered in error", "superseded": "replaced by another", "retired": "retired"}


# -- what is written ---------------------------------------------------------------------------------


def provide(content: bytes, *, replaces: str | None = None) -> Resource:
    """Return the Bundle that provides one document.

    Parameters
    ----------
    content
        The document, a FHIR Bundle in JSON: it is carried byte for byte, so that a signature in it still holds.
    replaces
        The identifier of the document that it replaces.

    Raises
    ------
    InputError
        For what is no document, or whose client has no identifier with a system.
    """
    document = jsonio.decode_checked(content)
    head, (client, key) = head_of(document), client_of(document)
    name = str(document["identifier"]["value"])
    urls = {
        part: f"urn:uuid:{uuid5(NAMESPACE.bytes, f'{name}/{part}')}" for part in ("set", "entry", "bytes", "client")
    }
    entry = _reference(document, head, urls, replaces)
    entry["content"][0]["attachment"].update(described(content))
    entries = [
        _entry(urls["set"], _submission(document, head, urls), {"method": "POST", "url": "List"}),
        _entry(urls["entry"], entry, {"method": "POST", "url": "DocumentReference"}),
        _entry(
            urls["bytes"],
            {"resourceType": "Binary", "contentType": JSON, "data": base64.b64encode(content).decode()},
            {"method": "POST", "url": "Binary"},
        ),
        _entry(urls["client"], client, request(key, "create")),
    ]
    made: Resource = {"resourceType": "Bundle", "id": uuid5(NAMESPACE.bytes, f"{name}/provided")}
    made["meta"] = {"profile": [f"{_PROFILE}ProvideBundle"]}
    made["type"] = "transaction"
    made["timestamp"] = document["timestamp"]
    return {**made, "entry": entries}


def _entry(url: str, resource: Resource, sent: dict[str, str]) -> Resource:
    return {"fullUrl": url, "resource": resource, "request": sent}


def _submission(document: Resource, head: Resource, urls: Mapping[str, str]) -> Resource:
    """The SubmissionSet."""
    made: Resource = {"resourceType": "List", "meta": {"profile": [f"{_PROFILE}SubmissionSet"]}}
    source = uuid5(NAMESPACE.bytes, str((head.get("custodian") or {}).get("reference", "woundfhir")))
    named = {"system": _URI, "value": _oid(source)}
    made["extension"] = [{"url": f"{_BASE}/StructureDefinition/ihe-sourceId", "valueIdentifier": named}]
    made["identifier"] = [
        {"use": "official", "system": _URI, "value": urls["set"]},
        {"use": "usual", "system": _URI, "value": _oid(urls["set"].removeprefix("urn:uuid:"))},
    ]
    made["status"] = "current"
    made["mode"] = "working"
    made["title"] = head["title"]
    made["code"] = {"coding": [_SUBMISSION]}
    made["subject"] = {"reference": urls["client"]}
    made["date"] = document["timestamp"]
    made["entry"] = [{"item": {"reference": urls["entry"]}}]
    return made


def _oid(name: str) -> str:
    """Return the OID of a UUID: below 2.25, the UUID as one number (ITU-T X.667)."""
    return f"urn:oid:2.25.{UUID(name).int}"


def _reference(document: Resource, head: Resource, urls: Mapping[str, str], replaces: str | None) -> Resource:
    made: Resource = {"resourceType": "DocumentReference", "meta": {"profile": [f"{_PROFILE}DocumentReference"]}}
    made["masterIdentifier"] = document["identifier"]
    made["identifier"] = [{"use": "official", "system": _URI, "value": urls["entry"]}]
    made["status"] = "current"
    made["type"] = head["type"]
    made["subject"] = {"reference": urls["client"]}
    made["date"] = document["timestamp"]
    if replaces is not None:
        target = {"type": "DocumentReference", "identifier": {"system": _URI, "value": replaces}}
        made["relatesTo"] = [{"code": "replaces", "target": target}]
    level = head.get("confidentiality")
    if level is not None:
        made["securityLabel"] = [{"coding": [{"system": CONFIDENTIALITY, "code": level}]}]
    attachment = {"contentType": JSON, "language": head.get("language", "en"), "url": urls["bytes"]}
    attachment |= {"title": head["title"], "creation": document["timestamp"]}
    made["content"] = [{"attachment": attachment, "format": _FORMAT}]
    return made


def described(content: bytes) -> Resource:
    """Return size and hash of the bytes of a document, as an Attachment has them (R4: SHA-1)."""
    digest = hashlib.sha1(content, usedforsecurity=False).digest()
    return {"size": len(content), "hash": base64.b64encode(digest).decode()}


def head_of(document: Resource) -> Resource:
    """Return the Composition of a document; refuse what is no document."""
    entries = document.get("entry") or [{}]
    head = entries[0].get("resource") or {}
    if document.get("type") != "document" or head.get("resourceType") != "Composition":
        raise InputError("the document", "a Bundle of the type document", "Make one with `woundfhir bundle`")
    return dict(head)


def client_of(document: Resource) -> tuple[Resource, Key]:
    """Return the one client of a document as a server needs them to store it, and their key."""
    found = [one.get("resource") or {} for one in document.get("entry") or ()]
    patients = [one for one in found if one.get("resourceType") == "Patient"]
    if len(patients) != 1:
        raise InputError("the document", "one client in it", "Make one with `woundfhir bundle`")
    key = key_of(patients[0])
    if key is None:
        fix = "Write the identifier with its system, and make the document again"
        raise InputError("the document", "a client with an identifier and its system", fix)
    kept = ("resourceType", "identifier", "name", "birthDate", "gender")
    return {item: patients[0][item] for item in kept if item in patients[0]}, key


# -- what came ---------------------------------------------------------------------------------------


def opened(resource: Mapping[str, Json]) -> list[Resource] | None:
    """Return the FHIR documents in a Provide Document Bundle; None for anything else.

    Raises
    ------
    InputError
        Where the bytes are not those that the DocumentReference describes, or are no FHIR document; where what stands
        around the document says that it is withdrawn or replaced, or names another client.

    Examples
    --------
    >>> opened({"resourceType": "Bundle", "type": "transaction", "entry": []}) is None
    True
    """
    if resource.get("resourceType") != "Bundle" or resource.get("type") not in ("transaction", "batch"):
        return None
    entries = objects(resource, "entry")
    held = [one["resource"] for one in entries if isinstance(one.get("resource"), dict)]
    if not any(_is_submission(one) for one in held):
        return None
    there = {str(one.get("fullUrl")): one["resource"] for one in entries if isinstance(one.get("resource"), dict)}
    made = []
    for one in held:
        if documents := list(_documents(one, there)):
            sets = (other for other in held if _is_submission(other))
            _stands(one, *sets)
            if (client := _subject(one, there)) is not None:
                hold_against(client, documents, "DocumentReference.subject")
        made += documents
    return made or None


def _stands(reference: Resource, *sets: Resource) -> None:
    """Refuse a document that is said to be withdrawn, or replaced by another, by what stands around it."""
    for one, key in ((reference, "status"), (reference, "docStatus"), *((one, "status") for one in sets)):
        if (status := str(one.get(key))) in _WITHDRAWN:
            where = f"{one['resourceType']}.{key}"
            fix = "Nothing was read. Ask the sender for the document that holds now"
            raise InputError(where, "a document that holds", fix, found=f"it is {_WITHDRAWN[status]}")


def _subject(reference: Resource, there: Mapping[str, Resource]) -> Resource | None:
    """Return the Patient of a DocumentReference, where it came too."""
    subject = reference.get("subject")
    named = str(subject.get("reference")) if isinstance(subject, dict) else ""
    inner = {f"#{one.get('id')}": one for one in objects(reference, "contained")}
    by_id = {f"{one.get('resourceType')}/{one.get('id')}": one for one in there.values()}
    found = there.get(named) or inner.get(named) or by_id.get(named)
    return found if found is not None and found.get("resourceType") == "Patient" else None


def _is_submission(resource: Resource) -> bool:
    code = resource.get("code")
    codings = objects(code, "coding") if resource.get("resourceType") == "List" and isinstance(code, dict) else []
    return any(all(one.get(key) == value for key, value in _SUBMISSION.items()) for one in codings)


def _documents(reference: Resource, there: Mapping[str, Resource]) -> Iterator[Resource]:
    """Yield the FHIR documents of one DocumentReference: in a Binary, or as a Bundle."""
    if reference.get("resourceType") != "DocumentReference":
        return
    contents = reference.get("content")
    for number, content in enumerate(contents if isinstance(contents, list) else ()):
        attachment = content.get("attachment") if isinstance(content, dict) else None
        if not isinstance(attachment, dict):
            continue
        found = there.get(str(attachment.get("url")))
        if found is not None and found.get("resourceType") == "Bundle":
            yield found
        elif found is not None and found.get("resourceType") == "Binary":
            media = str(found.get("contentType") or attachment.get("contentType", "")).split(";")[0].strip()
            if media in (JSON, XML):
                yield _decoded(found, attachment, media, f"DocumentReference.content[{number}]")


def _decoded(binary: Resource, attachment: Resource, media: str, where: str) -> Resource:
    again = "Ask the sender for it again; nothing was read"
    try:
        content = base64.b64decode(str(binary.get("data", "")), validate=True)
    except (binascii.Error, ValueError):
        raise InputError(where, "a document in base64", again) from None
    said = {key: attachment[key] for key in ("size", "hash") if key in attachment}
    wrong = [key for key, value in described(content).items() if key in said and str(said[key]) != str(value)]
    if wrong:
        raise InputError(where, f"the bytes that its {wrong[0]} describes", again, found="they are others")
    try:
        found = xmlio.decode(content) if media == XML else jsonio.decode_checked(content)
    except InputError as error:
        raise error.at(where) from None
    if found.get("resourceType") != "Bundle":
        raise InputError(where, "a FHIR document (a Bundle)", again)
    return found
