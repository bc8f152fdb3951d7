"""What is written: codes of the catalogue, ids once, the same bytes everywhere, XML and JSON alike."""

from __future__ import annotations

import copy
import json
import os
import subprocess
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any

import msgspec
import pytest

from tests.paths import ROOT
from woundfhir.catalogue import catalogue
from woundfhir.demo import story
from woundfhir.fhir import to_fhir
from woundfhir.intake.source import parse
from woundfhir.r4 import xmlio

decode = msgspec.json.Decoder(float_hook=Decimal).decode
encode = msgspec.json.Encoder(decimal_format="number").encode


@pytest.fixture(scope="module")
def written() -> list[dict[str, Any]]:
    return to_fhir(parse(story(), "story").history)


def _codings(value: Any) -> list[tuple[str, str, str | None]]:
    found = []
    if isinstance(value, dict):
        if isinstance(value.get("system"), str) and isinstance(value.get("code"), str) and "value" not in value:
            found.append((value["system"], value["code"], value.get("display")))
        for item in value.values():
            found += _codings(item)
    elif isinstance(value, list):
        for item in value:
            found += _codings(item)
    return found


def test_every_emitted_code_and_display_stands_in_the_catalogue(written: list[dict[str, Any]]) -> None:
    known = catalogue()
    emitted = known.emitted()
    allergy = "http://terminology.hl7.org/CodeSystem/allergyintolerance-clinical"
    found = {c for c in _codings(written) if c[0] not in (allergy, known.systems["ucum"])}
    assert len(found) > 100
    for system, code, display in found:
        assert (system, code) in emitted, (system, code)
        assert display == emitted[system, code]


def test_every_resource_names_its_profile_and_has_an_id_once(written: list[dict[str, Any]]) -> None:
    assert all(r["meta"]["profile"] for r in written)
    ids = [(r["resourceType"], r["id"]) for r in written]
    assert len(ids) == len(set(ids))


def test_what_one_caller_changes_does_not_change_what_the_next_gets() -> None:
    history = parse(story(), "story").history
    first = to_fhir(history)
    kept = copy.deepcopy(first)
    first[5].clear()
    for resource in first:
        resource.get("code", {}).clear()
    assert to_fhir(history) == kept


def test_the_same_bytes_whatever_the_hash_seed_zone_language_and_folder(tmp_path: Path) -> None:
    """RFC 9562 ids and no clock: PYTHONHASHSEED, TZ, LANG and the working folder change nothing."""
    program = (
        "import hashlib; from woundfhir.demo import story; from woundfhir.intake.source import parse;"
        "from woundfhir.handover import bundle;"
        "from woundfhir.output import render, render_resource; h = parse(story(), 's').history;"
        "forms = ('record', 'csv', 'fhir-json', 'fhir-xml', 'ndjson');"
        "print([hashlib.sha256(render(h, f)).hexdigest() for f in forms],"
        "hashlib.sha256(render_resource(bundle(h, 'document'))).hexdigest())"
    )
    said = set()
    for seed, zone, lang in (
        ("0", "UTC", "C.UTF-8"),
        ("1", "America/Toronto", "C"),
        ("4242", "Asia/Kolkata", "fr_CA.UTF-8"),
    ):
        env = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "LANG": lang, "LC_ALL": lang, "PYTHONPATH": str(ROOT)}
        folder = tmp_path / seed
        folder.mkdir()
        said.add(
            subprocess.run(
                [sys.executable, "-c", program], env=env, cwd=folder, capture_output=True, text=True, check=True
            ).stdout
        )
    assert len(said) == 1


def test_json_to_xml_to_json_is_byte_for_byte_the_same(written: list[dict[str, Any]]) -> None:
    for resource in written:
        assert encode(xmlio.decode(xmlio.encode(resource))) == encode(resource)
    assert json.loads(encode(written[0]))["resourceType"] == "Patient"
