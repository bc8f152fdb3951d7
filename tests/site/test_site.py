"""A site's folder: its words and data elements in every verb, no leak from one site to the next, and bad folders."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

import woundfhir
from tests.paths import ROOT
from woundfhir.catalogue import catalogue
from woundfhir.errors import InputError
from woundfhir.r4.check_digits import is_loinc, is_snomed
from woundfhir.site import Site

EXAMPLE = (ROOT / "woundfhir" / "site" / "example.toml").read_text("utf-8")
NOTE: dict[str, Any] = {
    "woundfhir": 1,
    "patient": {"identifiers": [{"system": "https://north-clinic.example/clients", "value": "1"}], "born": "1948-03"},
    "wounds": [{"id": "W1", "kind": "venous leg ulcer", "site": "lower leg", "side": "left", "status": "open"}],
    "visits": [
        {
            "id": "V1",
            "at": "2026-03-02T10:00-05:00",
            "status": "final",
            "purpose": ["dressing change"],
            "wounds": [
                {
                    "wound": "W1",
                    "assessment": {"tape_reaction": "strips the skin"},
                    "care": {"primary_dressing": {"dressing": "honey rope", "shelf": "B 4"}},
                }
            ],
        }
    ],
}


def folder(path: Path, text: str = EXAMPLE, **files: str) -> Path:
    path.mkdir(exist_ok=True)
    (path / "site.toml").write_text(text, "utf-8")
    for name, content in files.items():
        (path / name.replace("__", "/").replace("_toml", ".toml").replace("_tsv", ".tsv")).write_text(content, "utf-8")
    return path


@pytest.fixture
def clinic(tmp_path: Path) -> Site:
    return Site(folder(tmp_path / "clinic"))


# -- what holds inside, and nowhere else ---------------------------------------------------------------


def test_a_record_with_words_of_the_site_goes_to_fhir_and_back(clinic: Site) -> None:
    with clinic:
        history = woundfhir.History.of(NOTE)
        assert history.extra == []
        resources = woundfhir.to_fhir(history)
        back = woundfhir.from_fhir(resources).history
        assert back.data == history.data
        assert woundfhir.loads(woundfhir.dumps(history, format="csv")).data == history.data
    text = json.dumps(resources, default=str)
    own = "https://north-clinic.example/fhir/CodeSystem/north-clinic"
    coded = {one["code"] for found in _codings(resources) if (one := found).get("system") == own}
    assert coded == {"honey-rope", "tape-reaction-lifts-the-skin", "assessment-tape-reaction"}
    assert "https://north-clinic.example/fhir/StructureDefinition/observation-tape-reaction" in text
    assert "https://north-clinic.example/fhir/StructureDefinition/care-primary-dressing-shelf" in text
    assert "https://w3id.org/woundfhir/StructureDefinition/observation-tape-reaction" not in text


def _codings(found: Any) -> list[dict[str, Any]]:
    if isinstance(found, list):
        return [one for item in found for one in _codings(item)]
    if not isinstance(found, dict):
        return []
    return [*found.get("coding", []), *(one for item in found.values() for one in _codings(item))]


def test_another_program_without_the_folder_keeps_what_it_does_not_know(clinic: Site) -> None:
    with clinic:
        history = woundfhir.History.of(NOTE)
        resources = woundfhir.to_fhir(history)
    elsewhere = woundfhir.from_fhir(resources).history
    assert "tape_reaction" not in json.dumps(elsewhere.visits)
    again = woundfhir.to_fhir(elsewhere)
    with clinic:
        assert woundfhir.from_fhir(again).history.data["visits"] == history.data["visits"]


def test_two_sites_one_after_the_other_do_not_see_each_other(tmp_path: Path, clinic: Site) -> None:
    other = Site(folder(tmp_path / "south", EXAMPLE.replace("north", "south").replace("honey rope", "honey braid")))
    for site, word, base in (
        (clinic, "honey rope", "north"),
        (other, "honey braid", "south"),
        (clinic, "honey rope", "north"),
    ):
        with site:
            answers = catalogue().answers["dressing"]
            assert [one.word for one in answers.words if one.word.startswith("honey r") or "braid" in one.word] == [
                word
            ]
            text = json.dumps(woundfhir.to_fhir(woundfhir.History.of(NOTE)), default=str)
            assert f"https://{base}-clinic.example/fhir" in text
            assert any(one.rule == "GAP-assessment.tape_reaction" for one in _found(tape=None))
    assert catalogue().site is None
    assert not any("tape_reaction" in one.rule for one in _found(tape=None))


def _found(tape: str | None) -> list[woundfhir.Finding]:
    raw = json.loads(json.dumps(NOTE))
    if tape is None:
        del raw["visits"][0]["wounds"][0]["assessment"]["tape_reaction"]
        raw["visits"][0]["wounds"][0]["assessment"]["odour"] = "none"
    return woundfhir.check(woundfhir.History.of(raw))


def test_maps_of_one_site_do_not_hold_in_another_inside_it(tmp_path: Path, clinic: Site) -> None:
    from woundfhir.maps import in_force
    from woundfhir.tables.in_force import in_force as tables

    path = folder(tmp_path / "mapped", EXAMPLE.replace("north", "south"))
    (path / "maps").mkdir()
    (path / "maps" / "shelf.tsv").write_text(
        "subject_id\tpredicate_id\tobject_id\nsouth-clinic:rope-2\tskos:exactMatch\tanswer:dressing/honey rope\n"
    )
    (path / "maps" / "list.toml").write_text('table = 1\n[[column]]\nname = "Date"\nto = "visit.at"\n')
    system = "https://south-clinic.example/fhir/CodeSystem/south-clinic"
    with Site(path):
        assert [one.target and one.target.id for one in in_force().meaning(system, "rope-2")] == [
            "answer:dressing/honey rope"
        ]
        assert len(tables()) == 1
        with clinic:
            assert in_force().meaning(system, "rope-2") == []
            assert tables() == ()
        assert len(tables()) == 1
    assert tables() == ()


def test_a_history_of_a_site_is_refused_outside(clinic: Site) -> None:
    with clinic:
        history = woundfhir.History.of(NOTE)
        with pytest.raises(InputError, match=r"Use History\.data"):
            history.record  # noqa: B018
    for use in (woundfhir.to_fhir, woundfhir.check, woundfhir.dumps, woundfhir.bundle):
        with pytest.raises(InputError, match="whose site holds here"):
            use(history)  # type: ignore[operator]


def test_presence_rule_and_allergy_hear_the_words_of_the_site(clinic: Site) -> None:
    raw = {**NOTE, "patient": {**NOTE["patient"], "allergies": [{"to": "honey"}]}}
    with clinic:
        assert [one for one in _found("x") if "tape_reaction" in one.path] == []
        assert any(one.rule == "GAP-assessment.tape_reaction" for one in _found(None))
        safety = [one for one in woundfhir.check(woundfhir.History.of(raw)) if one.severity == "caution"]
        assert any("llerg" in one.message for one in safety)


def test_labels_in_french_are_read(clinic: Site) -> None:
    with clinic:
        assert catalogue().word("dressing/honey rope").labels == (("fr", "mèche au miel"),)
        found = catalogue().answers["dressing"].find("Mèche au miel")
        assert found is not None
        assert found.word == "honey rope"


def test_numbers_of_the_clinic_name_wounds_and_visits_of_others(clinic: Site) -> None:
    wound = {
        "resourceType": "Condition",
        "id": "x",
        "identifier": [
            {"system": "https://other.example", "value": "9"},
            {"system": "https://north-clinic.example/wounds", "value": "N-12"},
        ],
        "subject": {"reference": "Patient/p"},
        "code": {"text": "venous leg ulcer"},
        "bodySite": [{"text": "lower leg"}],
    }
    resources = [{"resourceType": "Patient", "id": "p", "birthDate": "1948"}, wound]
    assert [one["id"] for one in woundfhir.from_fhir(resources).history.wounds] == ["9"]
    with clinic:
        assert [one["id"] for one in woundfhir.from_fhir(resources).history.wounds] == ["N-12"]


def test_policy_checklist_and_defaults_of_the_folder_hold_where_no_other_is_named(tmp_path: Path) -> None:
    shutil.copy(ROOT / "woundfhir" / "checklist" / "policies" / "example.toml", tmp_path / "policy")
    path = folder(
        tmp_path / "site",
        policy_toml=(ROOT / "woundfhir/checklist/policies/example.toml").read_text("utf-8"),
        checklist_toml='name = "ours"\nversion = "1"\ntitle = "Ours"\n[ignore]\n"GAP-wound.cause" = "not asked here"\n',
        defaults_toml='setting = "clinic"\n',
    )
    from woundfhir.checklist import judge

    with Site(path):
        history = woundfhir.History.of(NOTE)
        verdict = judge(history)
        assert verdict.checklist == "ours 1"
        assert not verdict.policy.startswith("ontario")
        assert not any("setting" in one.rule for one in verdict.findings)
        other = judge(history, policy="international", checklist="standard")
        assert other.policy.startswith("international")
        assert other.checklist.startswith("standard")
    assert any("setting" in one.rule for one in woundfhir.check(woundfhir.loads(json.dumps(NOTE))))


def test_what_is_read_step_by_step_is_read_by_the_site_of_the_call(clinic: Site, tmp_path: Path) -> None:
    """A generator goes on in the context in which it was made, wherever its next step is asked for."""
    (tmp_path / "note.json").write_text(json.dumps(NOTE), "utf-8")
    with clinic:
        steps = woundfhir.read_many([tmp_path / "note.json"] * 2)
        first = next(steps).history
    second = next(steps).history
    assert second.extra == []
    assert first.site == second.site
    steps.close()
    assert catalogue().site is None


def test_the_json_schema_of_a_site_is_its_own(clinic: Site) -> None:
    from woundfhir.record.schema import record_schema

    with clinic:
        assert record_schema()["$id"] == "https://north-clinic.example/fhir/record.schema.json"
        assert "tape_reaction" in json.dumps(record_schema())
    assert record_schema()["$id"] == "https://w3id.org/woundfhir/record.schema.json"
    assert "tape_reaction" not in json.dumps(record_schema())


# -- check digits --------------------------------------------------------------------------------------


def test_check_digits_hold_for_every_published_code_and_fail_for_each_with_another_digit() -> None:
    """The codes of the catalogue come from published lists (tests/data/codes.tsv)."""
    for system, code in catalogue().emitted():
        test = {"http://loinc.org": is_loinc, "http://snomed.info/sct": is_snomed}.get(system)
        if test is not None and not code.startswith("LA"):
            assert test(code)
            assert not any(test(f"{code[:-1]}{digit}") for digit in "0123456789" if digit != code[-1])
