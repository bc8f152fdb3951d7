"""The FHIR package passes what publishers of packages check: its manifest, its index, its guide, its examples.

Outside sources: HL7's specification of FHIR NPM packages and the quality report of the FHIR publisher (both from
memory); HL7 FHIR R4 (ImplementationGuide, Resource.id). The HL7 engine loads it in tests/conformance.
"""

from __future__ import annotations

import io
import json
import re
import tarfile
from collections import Counter
from collections.abc import Iterator
from functools import cache
from typing import Any

import woundfhir
from woundfhir.definitions.examples import resources
from woundfhir.fhir.tags import DIALECT, SENT
from woundfhir.package import package_bytes

Json = Any
BASE = "https://w3id.org/woundfhir"


@cache
def files() -> dict[str, Json]:
    with tarfile.open(fileobj=io.BytesIO(package_bytes())) as tar:
        names = [one.name for one in tar]
        assert len(names) == len(set(names))
        return {one.name: json.load(tar.extractfile(one)) for one in tar}  # type: ignore[arg-type]


def definitions() -> dict[str, Json]:
    return {name: one for name, one in files().items() if name.count("/") == 1 and "resourceType" in one}


def examples() -> dict[str, Json]:
    return {name: one for name, one in files().items() if name.startswith("package/example/") and "resourceType" in one}


def guide() -> Json:
    return files()["package/ImplementationGuide-woundfhir.json"]


def strings(value: Json, key: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from strings(inner, name)
    elif isinstance(value, list):
        for inner in value:
            yield from strings(inner, key)
    elif isinstance(value, str):
        yield key, value


def test_the_manifest_has_what_a_registry_asks_for() -> None:
    made = files()["package/package.json"]
    assert re.fullmatch(r"[a-z][a-z0-9-]*(\.[a-z][a-z0-9-]*)+", made["name"])
    assert re.fullmatch(r"\d+\.\d+\.\d+(-[A-Za-z0-9.]+)?", made["version"])
    assert re.fullmatch(r"\d{14}", made["date"])
    assert made["fhirVersions"] == ["4.0.1"] and made["dependencies"] == {"hl7.fhir.r4.core": "4.0.1"}
    assert made["canonical"] == BASE and made["type"] == "IG"
    assert {"title", "description", "author", "license", "url"} <= made.keys()
    ours = guide()
    assert (ours["packageId"], ours["version"]) == (made["name"], made["version"])
    assert {one["version"] for one in definitions().values()} == {made["version"]}


def test_each_folder_holds_its_index_and_nothing_else() -> None:
    for folder in ("package/", "package/example/"):
        index = files()[f"{folder}.index.json"]
        assert index["index-version"] == 1
        there = {
            name.removeprefix(folder): one
            for name, one in files().items()
            if name.rpartition("/")[0] == folder.rstrip("/") and "resourceType" in one
        }
        assert [one["filename"] for one in index["files"]] == sorted(there)
        for one in index["files"]:
            for key, value in one.items():
                assert key == "filename" or there[one["filename"]][key] == value, one["filename"]
    assert {name for name, one in files().items() if "resourceType" not in one} == {
        "package/.index.json", "package/example/.index.json", "package/package.json"
    }  # fmt: skip


def test_each_file_is_named_by_its_type_and_id() -> None:
    for name, one in {**definitions(), **examples()}.items():
        assert name.rpartition("/")[2] == f"{one['resourceType']}-{one['id']}.json"
        assert re.fullmatch(r"[A-Za-z0-9.-]{1,64}", one["id"])


def test_each_definition_stands_under_the_base_and_says_what_it_is() -> None:
    older = {DIALECT, SENT}  # what was sent before carries these addresses
    assert older < {one["url"] for one in definitions().values()}
    for one in definitions().values():
        assert one["url"] == f"{BASE}/{one['resourceType']}/{one['id']}" or one["url"] in older
        assert {"name", "title", "status", "date", "publisher", "description"} <= one.keys(), one["id"]
        assert re.fullmatch(r"[A-Z]\w{0,254}", one["name"]), one["id"]
        assert one["resourceType"] != "StructureDefinition" or one["snapshot"]["element"]


def test_every_canonical_of_ours_is_in_the_package() -> None:
    known = {one["url"] for one in definitions().values()}
    keys = {"profile", "targetProfile", "baseDefinition", "valueSet", "exampleCanonical", "sourceCanonical"}
    for one in definitions().values():
        named = {text.partition("|")[0] for key, text in strings(one) if key in keys and text.startswith(BASE)}
        assert named <= known, one["id"]


def test_the_guide_lists_every_definition_and_every_example_once() -> None:
    listed = Counter(one["reference"]["reference"] for one in guide()["definition"]["resource"])
    there = [*definitions().values(), *examples().values()]
    names = {f"{one['resourceType']}/{one['id']}" for one in there} - {"ImplementationGuide/woundfhir"}
    assert set(listed) == names and set(listed.values()) == {1}
    for one in guide()["definition"]["resource"]:
        assert one["name"] and one["description"]
        assert len({"exampleBoolean", "exampleCanonical"} & one.keys()) == 1


def test_every_profile_and_extension_has_an_example() -> None:
    said = {text for one in examples().values() for key, text in strings(one) if key in ("profile", "url")}
    said |= {one.get("exampleCanonical", "") for one in guide()["definition"]["resource"]}
    wanted = {one["url"] for one in definitions().values() if one["resourceType"] == "StructureDefinition"}
    assert wanted - said == set()


def test_an_example_is_sound_and_what_it_names_is_there() -> None:
    by_name = {f"{one['resourceType']}/{one['id']}" for one in examples().values()}
    for one in resources():
        assert [issue for issue in woundfhir.validate(one) if issue.severity != "warning"] == [], one["id"]
        if one["resourceType"] != "Bundle":
            assert {text for key, text in strings(one) if key == "reference"} <= by_name, one["id"]


def test_an_example_claims_what_the_guide_says() -> None:
    there = {f"{one['resourceType']}/{one['id']}": one for one in examples().values()}
    said = [one for one in guide()["definition"]["resource"] if "exampleCanonical" in one]
    named = [(there[one["reference"]["reference"]], one["exampleCanonical"]) for one in said]
    assert len(named) > 20
    for found, profile in named:
        assert profile in found.get("meta", {}).get("profile", [f"{BASE}/StructureDefinition/bundle-transaction"])


def test_the_same_package_has_the_same_bytes() -> None:
    assert package_bytes() == package_bytes()
