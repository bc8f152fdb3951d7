"""MHD's Provide Document Bundle: what IHE asks for, what is read of it, what is refused."""

from __future__ import annotations

import base64
import copy
import hashlib
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest

from tests.handover.test_bundle import AT, check_document, decode, encode
from woundfhir.cli import run
from woundfhir.demo import story
from woundfhir.errors import InputError
from woundfhir.fhir.mhd import opened, provide
from woundfhir.handover import bundle
from woundfhir.handover.receive import receive
from woundfhir.handover.select import gather
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.source import parse
from woundfhir.jose.key_files import read_key
from woundfhir.jose.keys import Key
from woundfhir.jose.signature import seal
from woundfhir.r4 import jsonio, xmlio
from woundfhir.record import History

Json = Any


@pytest.fixture(scope="module")
def history() -> History:
    return parse(story(), "story").history


def of(made: Json, kind: str) -> list[Json]:
    return [entry["resource"] for entry in made["entry"] if entry["resource"]["resourceType"] == kind]


def test_a_provide_document_bundle_is_what_ihe_asks_for(history: History) -> None:
    """IHE/ITI.MHD@24c374c (4.2.3), provideBundle, submissionSet, documentReference: level minimal, closed slices."""
    made = bundle(history, "mhd", at=AT, replaces=f"urn:uuid:{UUID(int=7)}")
    assert made["type"] == "transaction" and "Minimal.ProvideBundle" in made["meta"]["profile"][0]
    kinds = [(entry["resource"]["resourceType"], entry["request"]["method"]) for entry in made["entry"]]
    assert kinds == [("List", "POST"), ("DocumentReference", "POST"), ("Binary", "POST"), ("Patient", "POST")]
    assert [entry["request"]["url"] for entry in made["entry"]] == [kind for kind, _ in kinds]
    urls = {entry["resource"]["resourceType"]: entry["fullUrl"] for entry in made["entry"]}
    (submission,), (reference,), (binary,) = of(made, "List"), of(made, "DocumentReference"), of(made, "Binary")
    assert (submission["status"], submission["mode"]) == ("current", "working")
    assert submission["code"]["coding"] == [
        {"system": "https://profiles.ihe.net/ITI/MHD/CodeSystem/MHDlistTypes", "code": "submissionset"}
    ]
    assert submission["entry"] == [{"item": {"reference": urls["DocumentReference"]}}]
    assert submission["date"] == AT and submission["subject"] == {"reference": urls["Patient"]}
    official, usual = submission["identifier"]
    assert (official["use"], usual["use"]) == ("official", "usual")
    assert official["value"].startswith("urn:uuid:") and usual["value"].startswith("urn:oid:2.25.")
    (source,) = submission["extension"]
    assert source["url"].endswith("/ihe-sourceId") and source["valueIdentifier"]["value"].startswith("urn:oid:")
    assert not {"encounter", "orderedBy", "emptyReason"} & submission.keys()
    content = base64.b64decode(binary["data"])
    inner = decode(content)
    check_document(inner)
    assert reference["masterIdentifier"] == inner["identifier"] and reference["status"] == "current"
    assert not {"docStatus", "modifierExtension"} & reference.keys()
    (one,) = reference["content"]
    attachment = one["attachment"]
    assert attachment["url"] == urls["Binary"] and attachment["contentType"] == binary["contentType"]
    assert "data" not in attachment and attachment["size"] == len(content)
    assert attachment["hash"] == base64.b64encode(hashlib.sha1(content).digest()).decode()
    assert reference["relatesTo"][0]["code"] == "replaces"
    assert reference["securityLabel"][0]["coding"][0]["code"] == "N"
    assert encode(made) == encode(bundle(history, "mhd", at=AT, replaces=f"urn:uuid:{UUID(int=7)}"))


def test_the_record_is_read_again_from_it(history: History) -> None:
    made = bundle(history, "mhd")
    back, losses = from_fhir([decode(encode(made))])
    assert back.data == history.data and losses.items == ()
    done = receive(encode(made))
    assert done.came.data == history.data and not done.notices
    again = receive(encode(bundle(history)), done.merged.history)
    assert again.merged.history.data == done.merged.history.data


@pytest.mark.parametrize(
    ("kind", "key", "value"),
    [
        ("DocumentReference", "status", "entered-in-error"),
        ("DocumentReference", "status", "superseded"),
        ("DocumentReference", "docStatus", "entered-in-error"),
        ("List", "status", "entered-in-error"),
    ],
)
def test_a_document_that_is_withdrawn_around_it_is_refused(history: History, kind: str, key: str, value: str) -> None:
    """R4: the statuses of DocumentReference and List make what stands in them no fact."""
    made = copy.deepcopy(bundle(history, "mhd"))
    of(made, kind)[0][key] = value
    with pytest.raises(InputError, match=f"{kind}.{key}: .* a document that holds"):
        from_fhir([decode(encode(made))])


@pytest.mark.parametrize("place", ["fullUrl", "id", "contained"])
def test_a_document_for_another_client_is_refused(history: History, place: str) -> None:
    made = copy.deepcopy(bundle(history, "mhd"))
    (other,), (reference,) = of(made, "Patient"), of(made, "DocumentReference")
    other["birthDate"] = "1901-01-01"
    if place != "fullUrl":
        other["id"] = "p1"
        reference["subject"] = {"reference": "Patient/p1" if place == "id" else "#p1"}
    if place == "contained":
        made["entry"] = [one for one in made["entry"] if one["resource"] is not other]
        reference["contained"] = [other]
    with pytest.raises(InputError, match="may name two clients") as caught:
        from_fhir([decode(encode(made))])
    assert "1901" not in str(caught.value)


def test_other_forms_of_the_document_in_it_are_read_too(history: History) -> None:
    """As a Bundle (the option of FHIR documents), and as XML in the Binary."""
    document = bundle(history)
    made = bundle(history, "mhd")
    as_bundle, as_xml = copy.deepcopy(made), copy.deepcopy(made)
    as_bundle["entry"][2] = {**made["entry"][2], "resource": document, "request": {"method": "POST", "url": "Bundle"}}
    content = xmlio.encode(document)
    as_xml["entry"][2]["resource"].update(contentType="application/fhir+xml", data=base64.b64encode(content).decode())
    for key in ("size", "hash"):
        del as_xml["entry"][1]["resource"]["content"][0]["attachment"][key]
    for form in (as_bundle, as_xml):
        back, _ = from_fhir([decode(encode(form))])
        assert back.data == history.data
        assert receive(encode(form)).came.data == history.data


@pytest.mark.parametrize("key", ["hash", "size"])
def test_bytes_that_are_others_are_refused(history: History, key: str) -> None:
    made = copy.deepcopy(bundle(history, "mhd"))
    made["entry"][2]["resource"]["data"] = base64.b64encode(encode(bundle(history, at=AT))).decode()
    attachment = made["entry"][1]["resource"]["content"][0]["attachment"]
    attachment.pop("size" if key == "hash" else "hash")
    for read in (lambda: from_fhir([made]), lambda: receive(encode(made))):
        with pytest.raises(InputError, match=f"the bytes that its {key} describes"):
            read()


def test_what_is_no_fhir_document_stays_what_it_is(history: History) -> None:
    made = copy.deepcopy(bundle(history, "mhd"))
    made["entry"][2]["resource"].update(contentType="application/pdf", data=base64.b64encode(b"%PDF").decode())
    assert opened(made) is None
    assert opened({**made, "type": "collection"}) is None
    made["entry"][2]["resource"].update(contentType="application/fhir+json", data="{]")
    with pytest.raises(InputError, match="a document in base64"):
        opened(made)


def test_a_bundle_of_another_form_is_no_fault_of_ours(history: History) -> None:
    """Each element in turn is something else: an answer or an InputError, and nothing else."""
    made = decode(encode(bundle(gather(history, newest=1), "mhd")))
    for path in _paths(made):
        for value in (None, 5, "x", [], {}, [5]):
            changed = copy.deepcopy(made)
            holder = changed
            for step in path[:-1]:
                holder = holder[step]
            holder[path[-1]] = value
            with suppress(InputError):
                assert (found := opened(changed)) is None or found


def _paths(value: Json, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    for key, item in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
        yield (*path, key)
        yield from _paths(item, (*path, key))


def test_a_client_without_an_identifier_is_refused() -> None:
    history = History.of({"woundfhir": 1, "patient": {"name": {"family": "Example"}, "born": "1948"}})
    with pytest.raises(InputError, match="a client with an identifier and its system") as error:
        bundle(history, "mhd", at=AT)
    assert "Example" not in str(error.value)
    with pytest.raises(InputError, match="a Bundle of the type document"):
        provide(jsonio.encode(bundle(history, "collection", at=AT)))


def _key(tmp_path: Path) -> tuple[Key, Path, Path]:
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, PublicFormat

    secret = ec.generate_private_key(ec.SECP384R1())
    mine, theirs = tmp_path / "mine.pem", tmp_path / "theirs.pem"
    mine.write_bytes(secret.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    mine.chmod(0o600)
    theirs.write_bytes(secret.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo))
    return read_key(mine.read_bytes()), mine, theirs


def test_a_signature_holds_inside_it(history: History, tmp_path: Path) -> None:
    key, mine, theirs = _key(tmp_path)
    source, out, folder = tmp_path / "record.yaml", tmp_path / "mhd.json", tmp_path / "client"
    source.write_bytes(story())
    assert run(["bundle", str(source), "--as", "mhd", "--sign", str(mine), "-o", str(out)]) == 0
    done = receive(out.read_bytes(), verify_key=read_key(theirs.read_bytes()))
    marks = {item["why"] for item in done.came.extra}
    assert done.signature.ok and len(marks) == 1  # what came under the signature, and nothing else
    assert {**done.came.data, "extra": None} == {**history.data, "extra": None}
    assert run(["receive", str(out), "--into", str(folder), "--verify-key", str(theirs)]) == 0
    assert run(["rebuild", str(folder)]) == 0
    assert run(["compare", str(source), str(folder / "record.yaml")]) == 0
    sealed = seal(bundle(history), key, when=AT, who={"display": "invented"})
    changed = copy.deepcopy(sealed)
    changed["entry"][1]["resource"]["gender"] = "unknown"
    with pytest.raises(InputError, match="a signature of the given key"):
        receive(encode(provide(jsonio.encode(changed))), verify_key=read_key(theirs.read_bytes()))
    assert run(["bundle", str(source), "--as", "mhd", "--to", "fhir-xml", "-o", str(tmp_path / "x.xml")]) == 2
