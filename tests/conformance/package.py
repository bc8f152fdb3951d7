"""A FHIR package as a .tgz, and the same package as HL7's own package reader gives it."""

from __future__ import annotations

import gzip
import io
import json
import tarfile
from collections.abc import Mapping
from typing import Any

from .engine import java

Json = Any


def packed(files: Mapping[str, bytes]) -> bytes:
    """Return the package: its files under ``package/`` in name order, no clock and no owner in it."""
    plain = io.BytesIO()
    with tarfile.open(fileobj=plain, mode="w", format=tarfile.USTAR_FORMAT) as archive:
        for name in sorted(files):
            entry = tarfile.TarInfo(f"package/{name}")
            entry.size = len(files[name])
            archive.addfile(entry, io.BytesIO(files[name]))
    return gzip.compress(plain.getvalue(), mtime=0)


def unpacked(content: bytes) -> tuple[str, str, list[dict[str, Json]]]:
    """Return name, version and resources of a package as ``org.hl7.fhir.utilities.npm.NpmPackage`` reads them."""
    jpype = java()
    stream = jpype.JClass("java.io.ByteArrayInputStream")(jpype.JArray(jpype.JByte)(content))
    found = jpype.JClass("org.hl7.fhir.utilities.npm.NpmPackage").fromPackage(stream)
    names = [str(name) for name in found.listResources(*_TYPES)]
    read = jpype.JClass("java.lang.String")
    return (
        str(found.name()),
        str(found.version()),
        [json.loads(str(read(found.load("package", name).readAllBytes(), "UTF-8"))) for name in names],
    )


_TYPES = ("StructureDefinition", "ValueSet", "CodeSystem", "ConceptMap", "Questionnaire", "ImplementationGuide")
