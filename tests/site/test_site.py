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


# -- bad input -----------------------------------------------------------------------------------------

WORD = '[[answers.dressing.words]]\nword = "x"\nsubstances = []\n'
HEAD = 'name = "n"\ntitle = "N"\nbase = "https://n.example"\n'
ELEMENT = '[concepts.care.lift]\nlabel = "Lift"\n'

BAD: dict[str, tuple[str, str, str]] = {
    # what is wrong: the file, a part of the place, a part of the message
    "bad TOML": ("name = \n", "site.toml", "at line 1"),
    "no code base": ('name = "n"\ntitle = "N"\n', "base", "needed are name, title, base"),
    "our code base": (
        HEAD.replace("n.example", "w3id.org/woundfhir/n"),
        "line 3, base",
        "none below that of woundfhir",
    ),
    "no address": (HEAD.replace("https://n.example", "n.example"), "line 3, base", "an address of your own"),
    "unknown key": (HEAD + "answrs = 1\n", "line 4, answrs", "Did you mean answers?"),
    "unknown key inside": (
        HEAD + WORD + 'synonyms = ["y"]\n',
        "line 7, answers.dressing.words 1.synonyms",
        "one of also",
    ),
    "wrong shape": (HEAD + WORD + 'also = "y"\n', "line 7, answers.dressing.words 1.also", "a list"),
    "unknown group": (HEAD + '[concepts.asessment.x]\nlabel = "X"\n', "concepts.asessment", "one of: wound"),
    "no substances": (
        HEAD + '[[answers.dressing.words]]\nword = "x"\n',
        "line 4, answers.dressing.words.1",
        "allergies",
    ),
    "a word that is taken": (
        HEAD + WORD.replace('"x"', '"Foams"'),
        "answers.dressing.words.1",
        "a spelling of foam dressing",
    ),
    "a synonym that is taken": (HEAD + WORD + 'also = ["alginate"]\n', "answers.dressing.words.1", "calcium alginate"),
    "two words of one spelling": (HEAD + WORD + WORD, "line 4, answers.dressing", "stands for two words"),
    "unknown tag": (
        HEAD + WORD + 'tags = ["honeyy"]\n',
        "line 7, answers.dressing.words.1.tags",
        "Did you mean honey?",
    ),
    "unknown substance": (HEAD + WORD.replace("[]", '["silvre"]'), "line 6", "Did you mean silver?"),
    "unknown list": (
        HEAD + WORD.replace("answers.dressing", "answers.dresing"),
        "answers.dresing",
        "Did you mean dressing?",
    ),
    "a wrong LOINC code": (HEAD + WORD + 'code = {system = "loinc", code = "39126-9"}\n', "line 7", "a code of LOINC"),
    "a wrong SNOMED code": (
        HEAD + WORD + 'code = {system = "sct", code = "13954006"}\n',
        "line 7",
        "a code of SNOMED CT",
    ),
    "a code without source": (
        HEAD + WORD + 'code = {system = "sct", code = "13954005"}\n',
        "answers.dressing.words.1",
        "'source'",
    ),
    "unknown code system": (
        HEAD + WORD + 'code = {system = "lonic", code = "1"}\n',
        "code.system",
        "Did you mean loinc?",
    ),
    "one code for two": (
        HEAD + WORD + 'code = {code = "a"}\n' + WORD.replace('"x"', '"y"') + 'code = {code = "a"}\n',
        "words.2.code",
        "two",
    ),
    "an element that is taken": (
        HEAD + '[concepts.assessment.length]\nlabel = "L"\nshape = "text"\n',
        "line 4",
        "is taken",
    ),
    "a key of the record": (
        HEAD + '[concepts.care.note]\nlabel = "N"\nshape = "text"\n',
        "concepts.care.note",
        "is taken",
    ),
    "a field that is taken": (
        HEAD + '[concepts.care.primary_dressing.fields.dressing]\nlabel = "D"\nshape = "text"\n',
        "fields.dressing",
        "another key",
    ),
    "fields of what has none": (
        HEAD + '[concepts.assessment.length.fields.x]\nlabel = "D"\nshape = "text"\n',
        "assessment.length",
        "a group or step",
    ),
    "no label": (HEAD + '[concepts.care.lift]\nshape = "text"\n', "line 4, concepts.care.lift", "'label'"),
    "unknown shape": (HEAD + ELEMENT + 'shape = "txet"\n', "line 6, concepts.care.lift.shape", "Did you mean text?"),
    "no list": (HEAD + ELEMENT + 'shape = "choice"\n', "concepts.care.lift", "'answers'"),
    "unknown unit": (HEAD + ELEMENT + 'shape = "quantity"\nunit = "inches"\n', "concepts.care.lift.unit", "UCUM"),
    "no reason": (HEAD + ELEMENT + 'shape = "text"\nrole = "expected"\n', "concepts.care.lift", "asked"),
    "unknown condition": (
        HEAD + ELEMENT + 'shape = "text"\nwhen = ["open wonud"]\n',
        "lift.when",
        "Did you mean open wound?",
    ),
    "unknown section": (HEAD + ELEMENT + 'shape = "text"\nsection = "plans"\n', "lift.section", "Did you mean plan?"),
    "a step elsewhere": (HEAD + '[concepts.plan.x]\nlabel = "X"\nshape = "step"\n', "concepts.plan.x", "group or step"),
    "a label of nothing": (
        HEAD + '[labels.fr]\n"dressing/foam dresing" = "mousse"\n',
        "line 5",
        "Did you mean dressing/foam dressing?",
    ),
    "a label in English": (HEAD + '[labels.en]\n"dressing/foam dressing" = "mousse"\n', "labels.en", "not English"),
    "a label of two words": (
        HEAD + '[labels.fr]\n"dressing/foam dressing" = "m"\n"dressing/gauze" = "m"\n',
        "answers.dressing",
        "two words",
    ),
    "one key in two groups": (
        HEAD + ELEMENT + 'shape = "text"\n' + (ELEMENT + 'shape = "text"\n').replace("care", "plan"),
        "concepts.plan.lift",
        "is taken",
    ),
    "a code with blanks": (
        HEAD + WORD + 'code = {code = "a  b"}\n',
        "line 7, answers.dressing.words 1.code",
        "two blanks",
    ),
    "a word of two lines": (HEAD + WORD.replace('"x"', '"x\\ny"'), "line 5", "one line"),
    "a key too long": (
        HEAD + ELEMENT.replace("lift", "l" * 41) + 'shape = "text"\n',
        "line 4",
        "a key of small letters",
    ),
    "no version": (HEAD + 'version = "new"\n', "line 4, version", "three numbers"),
    "a name that is taken": (HEAD.replace('"n"', '"loinc"'), "line 1, name", "does not use"),
}


@pytest.mark.parametrize("what", BAD)
def test_a_bad_file_gets_one_message_with_its_place(tmp_path: Path, what: str) -> None:
    text, place, words = BAD[what]
    with pytest.raises(InputError) as error:
        Site(folder(tmp_path / "site", text))
    assert str(tmp_path) in str(error.value)
    assert place in error.value.where
    assert words in str(error.value)
    assert catalogue().site is None


def test_a_bad_folder_gets_one_message(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    (tmp_path / "empty").mkdir()
    good = folder(tmp_path / "good")
    for path, words in (
        (tmp_path / "nowhere", "there is no such folder"),
        (tmp_path / "file", "it is a file"),
        (tmp_path / "empty", "there is no such file"),
    ):
        with pytest.raises(InputError, match=words):
            Site(path)
    (good / "polcy.toml").write_text("")
    with pytest.raises(InputError, match=r"polcy\.toml: expected one of .* Did you mean policy\.toml\?"):
        Site(good)


def test_a_bad_file_beside_is_named_when_the_folder_is_read(tmp_path: Path) -> None:
    maps = tmp_path / "site" / "maps"
    maps.mkdir(parents=True)
    for name, content, words in (
        ("policy.toml", "x = 1", "policy.toml"),
        ("checklist.toml", 'name = "x"', "checklist.toml"),
        ("defaults.toml", "size = 1", "defaults.toml"),
        (
            "maps/a.tsv",
            "subject_id\tpredicate_id\tobject_id\nsct:13954005\tskos:exactMatch\tconcept:care.nothing\n",
            "a.tsv",
        ),
    ):
        path = folder(tmp_path / "site") / name
        path.write_text(content, "utf-8")
        with pytest.raises(InputError, match=words):
            Site(tmp_path / "site")
        path.unlink()
    (maps / "b.tsv").write_text(
        "subject_id\tpredicate_id\tobject_id\nnorth-clinic:shelf-mate\tskos:exactMatch\tanswer:dressing/honey rope\n"
    )
    assert Site(tmp_path / "site").catalogue.site is not None
