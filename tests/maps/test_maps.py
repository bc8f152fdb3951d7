"""Maps of codes: both forms, what they may say, which one decides, and what a report says of what was lost."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

import woundfhir
from tests.catalogue.test_codes import luhn, verhoeff
from woundfhir.catalogue import catalogue
from woundfhir.cli import cli
from woundfhir.errors import InputError
from woundfhir.fhir.read_context import CONFLICT
from woundfhir.maps import CodeMap, Table, conceptmap, load, parse, shipped, tsv, using

SITE = "https://example.org/codes"
HEAD = "subject_id\tsubject_label\tpredicate_id\tobject_id\n"


def written(tmp_path: Path, *lines: str, name: str = "site.tsv") -> Path:
    path = tmp_path / name
    path.write_text(HEAD + "".join(f"{line}\n" for line in lines), "utf-8")
    return path


def observation(code: str, system: str = SITE, **value: Any) -> dict[str, Any]:
    return {
        "resourceType": "Observation",
        "id": "o",
        "status": "final",
        "code": {"coding": [{"system": system, "code": code}]},
        "subject": {"reference": "Patient/p"},
        "effectiveDateTime": "2026-03-02",
        **(value or {"valueQuantity": {"value": 3, "unit": "cm"}}),
    }


def assessment(history: Any) -> dict[str, Any]:
    entries = [entry for visit in history.visits for entry in visit.get("wounds", ())]
    return entries[0].get("assessment", {}) if entries else {}


# -- what is shipped ---------------------------------------------------------------------------------


def test_every_shipped_line_has_a_source_a_label_and_a_right_check_digit() -> None:
    lines = [line for one in shipped().layers[0] for line in one.mappings]
    assert len(lines) > 60
    for line in lines:
        assert line.label and line.source, line.where
        if line.system == "http://snomed.info/sct" and line.code.isdigit():
            assert verhoeff(line.code), line.where
        if line.system == "http://loinc.org" and not line.code.startswith("LA"):  # answer codes count otherwise
            assert luhn(line.code), line.where


def test_every_shipped_loss_says_what_is_lost() -> None:
    lines = [line for one in shipped().layers[0] for line in one.mappings if line.loss]
    assert [line.where for line in lines if line.equivalence != "wider" and not line.comment] == []


def test_no_shipped_line_reads_a_code_that_the_catalogue_writes() -> None:
    known = catalogue()
    staged = {word.codings[0].key for word in known.answers["pressure_stage"].words}  # the kind, as Condition.code
    beside = {
        one.coding.key
        for some in [c.known_as for c in known.concepts(fields=True)]
        + [word.known_as for answers in known.answers.values() for word in answers.words]
        for one in some
        if one.fit != "equal"
    }  # written beside a code that decides; alone they say more or less, and a map says what is lost
    assert shipped().by_code.keys() & set(known.emitted()) - staged - beside <= {
        ("http://snomed.info/sct", "225116006"),  # the way of cleansing that is written; a Procedure of others
        ("http://snomed.info/sct", "427832005"),  # written of the edge; as a Condition a dehisced surgical wound
    }


# -- both forms --------------------------------------------------------------------------------------


@pytest.mark.parametrize("code_map", shipped().layers[0], ids=lambda one: one.name)
def test_both_forms_give_a_map_back(code_map: CodeMap) -> None:
    said = [(one.key, one.target, one.equivalence, one.label, one.comment) for one in code_map.mappings]
    again = tsv.read(tsv.write(code_map), "again.tsv")
    assert [(one.key, one.target, one.equivalence, one.label, one.comment) for one in again.mappings] == said
    resource = json.loads(json.dumps(conceptmap.write(code_map)))
    back = conceptmap.read(resource, "again.json")
    assert sorted(map(str, ((one.key, one.target, one.equivalence) for one in back.mappings))) == sorted(
        map(str, ((one.key, one.target, one.equivalence) for one in code_map.mappings))
    )
    assert [i for i in woundfhir.validate(resource) if i.severity == "error"] == []


def test_a_concept_map_of_others_names_standard_codes() -> None:
    element = {"code": "L", "target": [{"code": "39126-8", "equivalence": "equivalent"}]}
    none = {"code": "260413007", "equivalence": "equal"}
    groups = [
        {"source": SITE, "target": "http://loinc.org", "element": [element]},
        {"source": SITE, "target": "http://snomed.info/sct", "element": [{"code": "N", "target": [none]}]},
        {"source": SITE, "element": [{"code": "X"}]},
    ]
    found = conceptmap.read({"resourceType": "ConceptMap", "group": groups}, "a.json").mappings
    assert found[0].target is not None and found[0].target.name == "assessment.length"
    lists = {one.target.slot for one in found if one.code == "N" and one.target}
    assert {"exudate_amount", "odour", "bleeding"} <= lists  # a code of every list that has the answer
    assert found[-1].code == "X" and not found[-1].read


# -- what is refused ---------------------------------------------------------------------------------

WRONG = {
    "to nothing": (["sct:1\t\tskos:exactMatch\t"], "line 2", "the map leads to nothing"),
    "to no concept": (["sct:1\t\tskos:exactMatch\tconcept:assessment.lenght"], "line 2", "concept:assessment.length"),
    "to no answer": (["sct:1\t\tskos:exactMatch\tanswer:side/lefft"], "line 2", "answer:side/left"),
    "to no code of ours": (["sct:1\t\tskos:exactMatch\tloinc:1-8"], "line 2", "the map leads to nothing"),
    "to two answers": (
        ["sct:1\t\tskos:exactMatch\tanswer:side/left", "sct:1\t\tskos:exactMatch\tanswer:side/right"],
        "line 3",
        "read as another thing in {path}, line 2",
    ),
    "to two concepts": (
        ["sct:1\t\tskos:exactMatch\tconcept:assessment.length", "sct:1\t\tskos:exactMatch\tconcept:assessment.width"],
        "line 3",
        "line 2",
    ),
    "to something and nothing": (
        ["sct:1\t\tskos:exactMatch\tanswer:side/left", "sct:1\t\tskos:exactMatch\tsssom:NoTermFound"],
        "line 3",
        "line 2",
    ),
    "no system": (["L\t\tskos:exactMatch\tanswer:side/left"], "line 2", "SYSTEM|CODE"),
    "no predicate": (["sct:1\t\tsame\tanswer:side/left"], "line 2", "skos:exactMatch"),
}


@pytest.mark.parametrize("case", WRONG)
def test_a_map_that_does_not_hold_names_file_and_line(case: str, tmp_path: Path) -> None:
    lines, where, words = WRONG[case]
    path = written(tmp_path, *lines)
    with pytest.raises(InputError) as caught, using([path]):
        pass
    assert f"{path}, {where}" in str(caught.value)
    assert words.format(path=path) in str(caught.value)
    ran = CliRunner().invoke(cli, ["check", "--map", str(path), "-"], standalone_mode=False)
    assert isinstance(ran.exception, InputError)


def test_a_misspelt_column_and_what_is_no_map_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="Did you mean subject_id"):
        parse(b"subjct_id\tpredicate_id\tobject_id\n", "a.tsv")
    with pytest.raises(InputError, match="a ConceptMap"):
        parse(b'{"resourceType": "Patient"}', "a.json")
    with pytest.raises(InputError, match="a folder with maps"):
        load(tmp_path)
    with pytest.raises(InputError, match="no such file"):
        load(tmp_path / "none.tsv")


# -- which one decides -------------------------------------------------------------------------------


def test_a_later_map_decides_and_only_about_the_codes_that_it_names(tmp_path: Path) -> None:
    first = written(tmp_path, f"{SITE}|L\tLength\tskos:exactMatch\tconcept:assessment.length", name="1.tsv")
    second = written(tmp_path, f"{SITE}|L\tWidth\tskos:exactMatch\tconcept:assessment.width", name="2.tsv")
    assert assessment(woundfhir.read([observation("L")]).history) == {}
    assert assessment(woundfhir.read([observation("L")], maps=first).history) == {"length": "3 cm"}
    assert assessment(woundfhir.read([observation("L")], maps=[first, second]).history) == {"width": "3 cm"}
    assert assessment(woundfhir.read([observation("L")], maps=[second, first]).history) == {"length": "3 cm"}
    assert assessment(woundfhir.read([observation("L")]).history) == {}  # and nothing of it stays in force
    (many,) = woundfhir.read_many([observation("L")], maps=first)
    assert assessment(many.history) == {"length": "3 cm"}


def test_a_site_may_read_otherwise_what_the_catalogue_writes_or_not_at_all(tmp_path: Path) -> None:
    came = observation("39126-8", "http://loinc.org")
    other = written(tmp_path, "loinc:39126-8\t\tskos:exactMatch\tconcept:assessment.depth", name="1.tsv")
    never = written(tmp_path, "loinc:39126-8\t\tskos:exactMatch\tsssom:NoTermFound", name="2.tsv")
    assert assessment(woundfhir.read([came]).history) == {"length": "3 cm"}
    assert assessment(woundfhir.read([came], maps=other).history) == {"depth": "3 cm"}
    assert assessment(woundfhir.read([came], maps=never).history) == {}


@pytest.mark.parametrize(
    ("predicate", "kinds"),
    [
        ("skos:exactMatch", {"understood"}),
        ("fhir:equivalent", {"understood"}),
        ("skos:broadMatch", {"reworded"}),
        ("skos:narrowMatch", {"reworded"}),
        ("skos:closeMatch", {"reworded"}),
        ("fhir:disjoint", {"kept"}),
    ],
)
def test_the_report_says_what_is_lost_by_a_map(predicate: str, kinds: set[str], tmp_path: Path) -> None:
    came = observation("E", valueCodeableConcept={"coding": [{"system": SITE, "code": "S"}], "text": "xyz"})
    site = written(
        tmp_path,
        f"{SITE}|E\t\tskos:exactMatch\tconcept:assessment.edge_colour",
        f"{SITE}|S\t\t{predicate}\tanswer:edge_colour/red",
    )
    history, report = woundfhir.read([came], maps=site)
    words = {line.why for line in report.all if line.path.startswith("Observation.valueCodeableConcept.coding")}
    assert assessment(history) == {"edge_colour": "xyz" if predicate == "fhir:disjoint" else "red"}
    if kinds == {"reworded"}:
        assert any("site.tsv, line 3" in why and "its code says" in why for why in words)
    else:
        assert not any("its code says" in why for why in words)
    assert "xyz" not in " ".join(words)


def test_explain_says_which_map_decides(tmp_path: Path) -> None:
    site = written(tmp_path, f"{SITE}|L\tLength\tskos:exactMatch\tconcept:assessment.length")
    run = CliRunner().invoke
    assert "Map:     general.tsv, line" in run(cli, ["explain", "399912005"]).output
    assert "Map:     the catalogue" in run(cli, ["explain", "loinc|39126-8"]).output
    found = run(cli, ["explain", f"{SITE}|L", "--map", str(site)])
    assert "concept:assessment.length" in found.output and f"{site}, line 2" in found.output.replace("\n         ", " ")


def test_one_table_for_all(tmp_path: Path) -> None:
    table = Table([*shipped().layers, load(written(tmp_path, f"{SITE}|L\t\tskos:exactMatch\tanswer:side/left"))])
    assert [one.target.id for one in table.meaning(SITE, "L") if one.target] == ["answer:side/left"]
    assert {one.target.kind for one in table.meaning("http://snomed.info/sct", "416462003") if one.target} == {
        "answer",
        "code",
    }


# -- a display that contradicts its code -------------------------------------------------------------


def coded(code: str, display: str, system: str = "http://snomed.info/sct") -> dict[str, Any]:
    return {"coding": [{"system": system, "code": code, "display": display}]}


@pytest.mark.parametrize("display", ["Length of Wound", "wound length", "Länge", "LENGTH OF WOUND"])
def test_other_words_for_the_same_are_no_contradiction(display: str) -> None:
    came = {**observation("x"), "code": coded("39126-8", display, "http://loinc.org")}
    assert assessment(woundfhir.read([came]).history) == {"length": "3 cm"}


def test_a_display_that_names_another_entry_is_a_conflict_and_neither_is_read() -> None:
    width = {**observation("x"), "code": coded("39126-8", "Width of Wound", "http://loinc.org")}
    history, report = woundfhir.read([width])
    assert assessment(history) == {} and {one.kind for one in report.items} == {"conflict"}
    edge = observation("72304-9", "http://loinc.org", valueCodeableConcept=coded("449748001", "Rolled wound edge"))
    edge["valueCodeableConcept"] = coded("449748001", catalogue().word("edge/rolled").codings[0].display or "rolled")
    history, report = woundfhir.read([edge])
    assert assessment(history) == {} and {one.kind for one in report.items} == {"conflict"}
    wound = {"resourceType": "Condition", "id": "c", "subject": {"reference": "Patient/p"}}
    wound |= {"code": coded("428220001", "Skin tear"), "bodySite": [coded("84607009", "sacrum")]}
    history, report = woundfhir.read([wound])
    assert [one.get("site") for one in history.wounds] == [CONFLICT] and report.asks


def test_members_and_references_that_lead_in_a_circle_end() -> None:
    one = {**observation("39126-8", "http://loinc.org"), "id": "a", "hasMember": [{"reference": "Observation/b"}]}
    other = {**observation("39125-0", "http://loinc.org"), "id": "b", "hasMember": [{"reference": "Observation/a"}]}
    one["focus"], other["focus"] = [{"reference": "Observation/b"}], [{"reference": "Observation/a"}]
    itself = {**observation("39127-6", "http://loinc.org"), "id": "c", "partOf": [{"reference": "Observation/c"}]}
    history, report = woundfhir.read([one, other, itself])
    assert report.values and len(history.wounds) <= 1


def test_a_code_of_the_wrong_system_is_not_read() -> None:
    came = observation("399912005", "http://loinc.org")
    assert assessment(woundfhir.read([came]).history) == {}
