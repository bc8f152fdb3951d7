"""Shapes: FHIRPath against another implementation, rows as ViewDefinition has them, the cases beside the maps."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import fhirpathpy
import pytest
from click.testing import CliRunner

import woundfhir
from tests.intake.foreign.guides import GUIDES
from woundfhir.cli import cli
from woundfhir.errors import InputError
from woundfhir.intake.map_cases import run
from woundfhir.maps.fhirpath import Node, compiled
from woundfhir.maps.shapes import load, read
from woundfhir.maps.table import shipped_folder

RESOURCES = [entry["resource"] for make in GUIDES.values() for entry in make()["entry"]]
EXPRESSIONS = [
    "code.coding.code",
    "Condition.code.coding.where(system = 'http://snomed.info/sct').code",
    "code.coding.where(system = 'http://loinc.org' and code != '39126-8').display",
    "code.coding.exists(code = '39126-8' or code = '39125-0')",
    "extension.where(url.startsWith('http://hl7.org.au')).value.coding.code",
    "extension('http://hl7.org.au/fhir/StructureDefinition/environment-acquired').value.coding.code",
    "component.where(code.coding.where(code = '38222-6').exists()).value",
    "identifier[0].value & '-' & identifier[0].system",
    "name.first().given[1]",
    "name.given | name.family",
    "note.empty()",
    "note.exists().not()",
    "status = 'final'",
    "category.coding.code = 'exam'",
    "(status = 'final') and (note.exists() or subject.exists())",
    "item.item.where(linkId = '39116-9').linkId.replace('39', 'x')",
    "telecom.where(system = 'phone').value",
    "bodySite.extension.value.coding.display",
    "nothing.here",
    "'text'",
    "onset.start | recordedDate",
]


def same(value: Any) -> Any:
    return json.loads(json.dumps(value, default=str))


@pytest.mark.parametrize("expression", EXPRESSIONS)
def test_an_expression_gives_what_another_implementation_gives(expression: str) -> None:
    """fhirpathpy (MIT), with HL7's R4 model for the choice of types."""
    from fhirpathpy.models import models

    seen = 0
    for resource in RESOURCES:
        ours = [node.value for node in compiled(expression)([Node((), resource)])]
        theirs = fhirpathpy.evaluate(resource, expression, {}, models["r4"])
        assert same(ours) == same(theirs), (resource["resourceType"], resource["id"])
        seen += bool(ours)
    assert seen or expression == "nothing.here"


def test_a_node_says_where_it_stands() -> None:
    for resource in RESOURCES:
        for path, value in compiled("code.coding.code | component.code.coding.code")([Node((), resource)]):
            at: Any = resource
            for step in path:
                at = at[step]
            assert at == value


@pytest.mark.parametrize("wrong", ["code.", "code.unknown()", "a = ", "where()", "'open", "%none", "a b", "a[x]", ""])
def test_what_is_no_expression_is_refused(wrong: str) -> None:
    with pytest.raises((InputError, ValueError)):
        compiled(wrong)([Node((), {})])


# -- views -------------------------------------------------------------------------------------------


def view(**more: Any) -> dict[str, Any]:
    return {"resourceType": "ViewDefinition", "name": "x", "resource": "Condition", "select": [], **more}


def column(**columns: str) -> list[dict[str, str]]:
    return [{"name": name, "path": path} for name, path in columns.items()]


CAME = {"resourceType": "Condition", "note": [{"text": "a"}, {"text": "b"}], "stage": [{"type": {"text": "t"}}]}


def rows(**select: Any) -> list[dict[str, list[Any]]]:
    found = read(view(select=[select]), "x.json").rows(CAME)
    return [{name: [node.value for node in nodes] for name, nodes in row.items() if name} for row in found]


def test_rows_are_those_of_a_view_definition() -> None:
    """SQL on FHIR 2, ViewDefinition: forEach leaves no row where nothing is, forEachOrNull one; unionAll; nested."""
    assert rows(forEach="note", column=column(value="text")) == [{"value": ["a"]}, {"value": ["b"]}]
    assert rows(forEach="evidence", column=column(value="code")) == []
    assert rows(forEachOrNull="evidence", column=column(value="code")) == [{"value": []}]
    assert len(rows(select=[{"forEach": "note", "column": column(value="text")}, {"column": column(time="x")}])) == 2
    two = [{"forEach": "note", "column": column(value="text")}, {"forEach": "stage", "column": column(value="type")}]
    assert len(rows(unionAll=two)) == 3


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (view(selct=[]), "a key of a ViewDefinition"),
        (view(select=[{"column": column(nothing="text")}]), "a column that facts have"),
        (view(select=[{"column": column(value="text.(")}]), r"x.json, select\[0\].column\[0\]"),
        ({"name": "x", "select": []}, "resource: a type"),
    ],
)
def test_a_view_that_does_not_hold_names_the_place(wrong: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        read(wrong, "x.json")


def test_a_site_adds_a_shape_and_replaces_a_shipped_one(tmp_path: Path) -> None:
    made = view(select=[{"column": column(concept="'wound.cause'", value="note.text")}])
    (tmp_path / "x.json").write_text(json.dumps(made), "utf-8")
    came = {**CAME, "id": "c", "code": {"text": "Laceration"}, "subject": {"reference": "Patient/p"}}
    assert woundfhir.read([came], maps=tmp_path).history.wounds[0]["cause"] == "a"
    replaced = view(name="au_pressure_injury", select=[])
    (tmp_path / "x.json").write_text(json.dumps(replaced), "utf-8")
    au = GUIDES["au_pressure_injury"]()
    assert woundfhir.read(au).history.wounds[0]["acquired_in"] == "hospital"
    assert "acquired_in" not in woundfhir.read(au, maps=tmp_path).history.wounds[0]


# -- cases and the work list -------------------------------------------------------------------------


def test_every_shipped_map_has_cases_and_they_hold() -> None:
    folder = shipped_folder()
    maps = [one for one in folder.rglob("*") if one.suffix in (".tsv", ".json") and ".cases" not in one.name]
    assert len(maps) > 10
    assert [one.name for one in maps if not one.with_name(f"{one.stem}.cases.json").exists()] == []
    assert [(name, wrong) for name, wrong in run(None) if wrong] == []


def test_map_test_says_which_case_does_not_hold(tmp_path: Path) -> None:
    site = tmp_path / "site.tsv"
    site.write_text("subject_id\tpredicate_id\tobject_id\nx:L\tskos:exactMatch\tconcept:assessment.length\n", "utf-8")
    site.write_text("#curie_map:\n#  x: https://example.org/c\n" + site.read_text("utf-8"), "utf-8")
    given = {"resourceType": "Observation", "id": "o", "status": "final", "subject": {"reference": "Patient/p"}}
    given |= {"code": {"coding": [{"system": "https://example.org/c", "code": "L"}]}}
    given |= {"valueQuantity": {"value": 3, "unit": "cm"}}
    where = "visits[0].wounds[0].assessment.length"
    cases = [{"name": str(n), "given": [given], "expect": {where: f"{n} cm"}} for n in (3, 4)]
    (tmp_path / "site.cases.json").write_text(json.dumps({"cases": cases}), "utf-8")
    ran = CliRunner().invoke(cli, ["map", "test", str(site)], standalone_mode=False)
    assert ran.return_value == 1
    assert ran.output.splitlines() == [
        f"site.cases.json: 4: the record says something else at {where}",
        "2 cases, 1 failed",
    ]


def test_map_propose_lists_what_no_map_knows_and_becomes_a_map(tmp_path: Path) -> None:
    came = {"resourceType": "Observation", "id": "o", "status": "final", "subject": {"reference": "Patient/p"}}
    came |= {"code": {"coding": [{"system": "https://example.org/c", "code": "WL", "display": "Length"}]}}
    came |= {"valueQuantity": {"value": 3, "unit": "cm"}}
    (tmp_path / "in.json").write_text(json.dumps(came), "utf-8")
    listed = tmp_path / "list.tsv"
    run_ = CliRunner().invoke
    run_(cli, ["map", "propose", str(tmp_path / "in.json"), "-o", str(listed)], standalone_mode=False)
    head, line = listed.read_text("utf-8").splitlines()
    cells = dict(zip(head.split("\t"), line.split("\t"), strict=True))
    assert cells["subject_id"] == "https://example.org/c|WL" and cells["count"] == "1"
    assert "concept:assessment.length" in cells["comment"] and cells["places"] == "Observation.code 1"
    edited = line.replace("Length\t\t\t", "Length\tskos:exactMatch\tconcept:assessment.length\t")
    listed.write_text(f"{head}\n{edited}\n", "utf-8")
    history, _ = woundfhir.read(tmp_path / "in.json", maps=listed)
    assert history.visits[0]["wounds"][0]["assessment"] == {"length": "3 cm"}


@pytest.mark.parametrize(
    "content",
    [
        b'{"resource": "Observation", "select": [{}], "where": [{"paths": "x"}]}',
        b'{"resource": "Observation", "select": [{"column": [{"name": "a", "path": "x[y]"}]}]}',
        b'{"resource": "Observation", "select": ["x"], "constant": 1}',
        b'{"resource": "\xff"}',
        b"[]",
    ],
)
def test_a_broken_view_is_refused_with_its_name(content: bytes) -> None:
    """Found by tools/fuzz.py."""
    with pytest.raises(InputError, match=r"shape\.json"):
        load(content, "shape.json")
