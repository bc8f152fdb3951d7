"""Faults in the narrative, in attachments, and in the file itself."""

from __future__ import annotations

import json

from tests.broken.sound import MARK, Bundle, Json, fault, length, resource_of, size_panel


@fault("div", "text", "script")
def narrative_with_a_script(b: Bundle) -> None:
    text = resource_of(b, "Composition")["text"]
    text["div"] = text["div"].replace("</div>", "<script>alert(1)</script></div>")


@fault("div", "text")
def narrative_that_is_not_closed(b: Bundle) -> None:
    text = resource_of(b, "Composition")["text"]
    text["div"] = text["div"].removesuffix("</div>")


@fault("div", "text")
def narrative_without_its_namespace(b: Bundle) -> None:
    text = resource_of(b, "Composition")["text"]
    text["div"] = text["div"].replace(' xmlns="http://www.w3.org/1999/xhtml"', "")


def _media(b: Bundle, **content: Json) -> None:
    """Add a picture that the assessment was derived from."""
    media = {"resourceType": "Media", "id": "11111111-2222-4333-8444-555555555559", "status": "completed"}
    media["subject"] = size_panel(b)["subject"]
    media["content"] = {"contentType": "image/png", "data": "aGVsbG8=", **content}
    b["entry"].append({"fullUrl": f"urn:uuid:{media['id']}", "resource": media})
    size_panel(b)["derivedFrom"] = [{"reference": f"urn:uuid:{media['id']}"}]


@fault("hash")
def hash_that_does_not_fit(b: Bundle) -> None:
    _media(b, hash="2jmj7l5rSw0yVb/vlWAYkK/YBwk=")


@fault("content.size", "size")
def size_of_an_attachment_that_does_not_fit(b: Bundle) -> None:
    _media(b, size=77)


@fault("data", "base64")
def data_that_is_no_base64(b: Bundle) -> None:
    _media(b, data="*not base64*")


@fault("contentType", "att-1")
def attachment_without_content_type(b: Bundle) -> None:
    _media(b)
    del b["entry"][-1]["resource"]["content"]["contentType"]


# -- the file --------------------------------------------------------------------------------------


@fault("twice", "JSON", "key", "name")
def one_name_twice_in_an_object(b: Bundle) -> bytes:
    return (
        json.dumps(b).replace('"resourceType": "Patient",', '"resourceType": "Patient", "birthDate": "1941",').encode()
    )


@fault("JSON", "line", "end")
def file_cut_off(b: Bundle) -> bytes:
    return json.dumps(b).encode()[:-400]


@fault("UTF-8", "utf-8", "encod")
def file_in_latin_1(b: Bundle) -> bytes:
    resource_of(b, "Patient")["name"][0]["family"] = MARK + "é"
    return json.dumps(b, ensure_ascii=False).encode("latin-1", "ignore")


@fault("JSON", "number", "NaN")
def number_that_is_none(b: Bundle) -> bytes:
    length(b)["value"] = float("nan")
    return json.dumps(b).encode()
