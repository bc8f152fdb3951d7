"""The table of file formats, and which of them a name, an ending or a file's content means.

``FORMATS`` is the one table. Every verb, every help text and every suffix asks it; a format that does not serve a
verb says why in ``why_not``, and that sentence is what a user reads.
"""

from __future__ import annotations

from pathlib import PurePath
from typing import Literal

from woundfhir.errors import InputError
from woundfhir.intake.cda_format import Cda
from woundfhir.intake.fhir_formats import FhirJson, FhirXml, Ndjson, Sealed
from woundfhir.intake.format import Format
from woundfhir.intake.recognise import FirstLook
from woundfhir.intake.record_formats import RecordCsv, RecordJson, RecordNdjson, RecordYaml
from woundfhir.intake.table_format import Table
from woundfhir.intake.v2_format import V2, V2Document
from woundfhir.packed import plain_name

#: The formats that are read and written, by their names; a test holds this against ``FORMATS``.
Name = Literal["record", "record-json", "csv", "fhir-json", "fhir-xml", "ndjson"]
#: What a format may serve: being read (every verb), ``convert --to``, ``bundle --to``, being what ``receive`` takes in.
VERBS = ("read", "convert", "bundle", "receive")

#: What reads a table of others.
TABLE = Table()

#: In the order in which a file is asked: the first format that recognises it reads it.
FORMATS: dict[str, Format] = {
    one.name: one
    for one in (
        FhirXml(),
        Cda(),
        V2Document(),
        V2(),
        RecordNdjson(),
        Ndjson(),
        Sealed(),
        FhirJson(),
        RecordJson(),
        RecordYaml(),
        RecordCsv(),
        TABLE,
    )
}


def serving(verb: str) -> tuple[str, ...]:
    """Return the names of the formats that serve a verb, the plain record first.

    Examples
    --------
    >>> serving("bundle")
    ('fhir-json', 'fhir-xml', 'hl7-v2-mdm')
    """
    found = [one for one in FORMATS.values() if verb not in one.why_not]
    return tuple(one.name for one in sorted(found, key=lambda one: (bool(one.media), one.name != "record", one.media)))


def named(name: str, verb: str = "convert") -> Format:
    """Return the format of a name.

    Raises
    ------
    InputError
        When there is none, or it does not serve the verb.
    """
    found = FORMATS.get(name)
    if found is None:
        raise InputError("--to", "one of " + ", ".join(serving(verb)), "Choose one of them")
    if verb in found.why_not:
        raise found.refuse(verb, "--to")
    return found


def of_suffix(path: PurePath, verb: str = "convert") -> Format | None:
    """Return the format that a file's name ends in, or None where no ending is known.

    Raises
    ------
    InputError
        Where the ending stands for several formats of the verb.

    Examples
    --------
    >>> of_suffix(PurePath("a.fhir.json")).name, of_suffix(PurePath("a.JSON"), "bundle").name, of_suffix(PurePath("a"))
    ('fhir-json', 'fhir-json', None)
    """
    ending = {one.name: _ending(path.name, one) for one in FORMATS.values() if verb not in one.why_not}
    longest = max(map(len, ending.values()), default=0)
    found = [name for name, end in ending.items() if longest and len(end) == longest]
    if len(found) > 1:
        several = " or ".join(sorted(found))
        raise InputError(str(path), f"a name that ends in one format; this ending is {several}", "Choose one with --to")
    return FORMATS[found[0]] if found else None


def chosen(name: str | None, path: PurePath | None, verb: str = "convert") -> Format | None:
    """Return the format to write: that of ``--to``, else that of the file's ending, else None.

    Examples
    --------
    >>> chosen(None, PurePath("a.csv")).name, chosen("ndjson", PurePath("a.csv")).name, chosen(None, None)
    ('csv', 'ndjson', None)
    """
    if name is not None:
        return named(name, verb)
    return None if path is None else of_suffix(path, verb)


def stem(name: str) -> str:
    """Return a file's name without the ending of its format.

    Examples
    --------
    >>> stem("story.fhir.json"), stem("story.v2.yaml"), stem("story")
    ('story', 'story.v2', 'story')
    """
    name = plain_name(name)
    longest = max((_ending(name, one) for one in FORMATS.values()), key=len)
    return name[: len(name) - len(longest)] or name


def may_hold_a_record(name: str) -> bool:
    """Whether a file of a folder is looked at: its ending is that of a format that can be read."""
    return any(_ending(name, one) for one in FORMATS.values() if "read" not in one.why_not)


def _for_the_eye(content: bytes) -> bool:
    """Whether it is a PDF (ISO 32000) or a word processor's document (ECMA-376, OpenDocument)."""
    zipped = content.startswith(b"PK") and any(part in content for part in (b"word/", b"opendocument.text"))
    return content.startswith(b"%PDF-") or zipped


def _ending(name: str, one: Format) -> str:
    name = plain_name(name)
    return max((end for end in one.suffixes if name.lower().endswith(end)), key=len, default="")


def recognised(content: bytes, where: str, verb: str | None = None) -> Format:
    """Return the format of a file's content; ``where`` names it.

    Raises
    ------
    InputError
        When no format recognises it, or the one that does serves another verb than this one.

    Examples
    --------
    >>> recognised(b'{"resourceType": "Patient"}', "a").name, recognised(b"woundfhir,wound.id", "b").name
    ('fhir-json', 'csv')
    """
    found = recognised_by(content)
    if found is None:
        fix = (
            "`woundfhir new -o note.yaml` writes a note to fill in, `woundfhir read-text` reads a free text, "
            "`woundfhir demo` writes an example of each form"
        )
        if _for_the_eye(content):
            fix = (
                "A PDF or a Word document is for the eye: ask the sender for FHIR, CDA, HL7 v2 or a table, "
                "or type what it says into a text and give that to `woundfhir read-text`"
            )
        raise InputError(where, "a wound record or FHIR resources", fix)
    if verb in found.why_not:
        raise found.refuse(str(verb), where)
    return found


def holds_notes(content: bytes) -> bool:
    """Whether a file's content is that of a record or of FHIR, also where a fault in it is going to be found.

    A table that is no record, any other JSON or YAML, and everything else are not: a repository holds such files
    beside its notes.

    Examples
    --------
    >>> [holds_notes(text) for text in (b"wounds: [", b'{"resourceType": 1}', b'{"name": "x"}', b"name: x")]
    [True, True, False, False]
    """
    found = recognised_by(content)
    return found is not None and found is not TABLE and not FirstLook(content).other_json


def recognised_by(content: bytes) -> Format | None:
    """Return the first format that recognises a file's content, or None."""
    look = FirstLook(content)
    return next((one for one in FORMATS.values() if one.recognise(look)), None)
