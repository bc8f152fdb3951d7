"""Documents in the encoding that they declare (W3C XML 1.0, 4.3.3), read to the same record and never guessed at."""

from __future__ import annotations

import pytest

import woundfhir
from woundfhir.errors import InputError

TEXT = (
    '<?xml version="1.0" encoding="{}"?><ClinicalDocument xmlns="urn:hl7-org:v3"><recordTarget><patientRole>'
    '<id root="1.2.3" extension="A"/><patient><name><given>Zoé</given><family>Béland-Œuvré</family></name></patient>'
    "</patientRole></recordTarget></ClinicalDocument>"
)


@pytest.mark.parametrize(
    ("declared", "encoding"),
    [
        ("UTF-8", "utf-8"),
        ("utf-8", "utf-8-sig"),
        ("ISO-8859-15", "iso-8859-15"),
        ("Windows-1252", "cp1252"),
        ("UTF-16", "utf-16"),
        ("UTF-16", "utf-16-le"),
    ],
)
def test_each_encoding_gives_the_same_record(declared: str, encoding: str) -> None:
    found = woundfhir.read(TEXT.format(declared).encode(encoding)).history
    assert found.patient["name"] == {"family": "Béland-Œuvré", "given": ["Zoé"]}


def test_latin_1_is_read_and_what_only_claims_to_be_it_is_refused() -> None:
    plain = TEXT.format("ISO-8859-1").replace("Œ", "E")
    assert woundfhir.read(plain.encode("iso-8859-1")).history.patient["name"]["family"] == "Béland-Euvré"
    with pytest.raises(InputError, match="this is Windows-1252") as caught:
        woundfhir.read(TEXT.format("ISO-8859-1").encode("cp1252"))
    assert "land" not in str(caught.value)


@pytest.mark.parametrize(
    ("declared", "encoding"), [("x-unknown", "utf-8"), ("UTF-8", "iso-8859-15"), ("UTF-16", "utf-8")]
)
def test_what_is_not_as_declared_is_refused(declared: str, encoding: str) -> None:
    with pytest.raises(InputError, match="UTF"):
        woundfhir.read(TEXT.format(declared).encode(encoding))


def test_a_doctype_is_refused_in_every_encoding() -> None:
    hostile = TEXT.format("UTF-16").replace("?><", '?><!DOCTYPE a [<!ENTITY b "c">]><', 1)
    with pytest.raises(InputError, match="DOCTYPE"):
        woundfhir.read(hostile.encode("utf-16"))
