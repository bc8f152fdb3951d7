"""A site's folder with a mistake in it: one message, which names the file and the place."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.site.test_site import folder
from woundfhir.catalogue import catalogue
from woundfhir.errors import InputError
from woundfhir.site import Site

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
