"""Errors in French: which sentences of the code have theirs, that each is found again, and that no English is left.

Outside check: none for the words (no source; see DEVELOPERS.md); the sentences are collected from the code by ``ast``.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.french.templates import sentences
from tests.french.test_print import english_in
from tests.paths import ROOT
from woundfhir.cli import run
from woundfhir.demo import story
from woundfhir.language import speaking
from woundfhir.messages import known, translated
from woundfhir.texts import read_tables, slots_of

#: Rooms whose errors an integrator or a programmer meets: English where they have no French.
OF_INTEGRATORS = frozenset(("server", "service", "maps", "cda", "v2", "definitions", "spark", "flat"))
#: What is no sentence: names of options, of elements, of files, of arguments of our functions, of parts of a place.
_NO_WORDS = re.compile(
    r"(?:[-\w.\[\]{}:,*]|\b(?:ignore|checklist|visits), )+|--[\w-]+(?: [\w-]+)?|woundfhir map table \{name\} -o .*"
    r"|R4[ ,].*|\{key\}: \{expression\}|\{\w+\}(?:\.\{label\})? is (?:at least 1|0\.\.1|\{many\})"
    r"|check_bundle takes a Bundle|\{words\} \(\{type\}\)|\{where\}\S*|\{name\}, Bundle\.signature"
    r"|(?:\{kept\}|http:)/\S+|\{where\}, ignore\.\{code\}|\{path\}: the shape.*"
)
_MODIFIERS = ROOT / "woundfhir/intake/modifiers.tsv"
FRENCH = known("fr")


def _needs_words(text: str) -> bool:
    return _NO_WORDS.fullmatch(text) is None


def test_every_error_that_a_nurse_or_a_transfer_team_meets_has_its_french() -> None:
    assert len(sentences()) > 1000
    missing = {text: rooms for text, rooms in sentences().items() if text not in FRENCH and _needs_words(text)}
    assert {text: rooms for text, rooms in missing.items() if not rooms <= OF_INTEGRATORS} == {}


def test_how_many_are_english_still() -> None:
    """The number that README, the guide and CHANGELOG may name."""
    worded = [text for text in sentences() if _needs_words(text)]
    english = [text for text in worded if text not in FRENCH]
    assert len(english) / len(worded) < 0.05


def test_no_french_is_left_of_what_the_code_no_longer_says() -> None:
    ours = {
        text
        for table, texts in read_tables("woundfhir.messages", "fr").items()
        if table
        not in (
            "click",
            "frame",
            "counts",
            "why",
            "inferred",
            "modifiers",
            "client",
            "signature",
            "text",
            "parts",
            "sent",
        )
        for text in texts
    }
    assert sorted(ours - sentences().keys()) == []


def test_every_reason_of_the_modifiers_has_its_french_and_no_other_stands_there() -> None:
    reasons = {row.rsplit("\t", 1)[-1] for row in _MODIFIERS.read_text("utf-8").splitlines() if row[0] != "#"}
    assert read_tables("woundfhir.messages", "fr")["modifiers"].keys() == reasons - {"", "why"}


def test_a_reason_is_french_behind_its_place_and_with_a_semicolon_of_its_own() -> None:
    error = "its visit was entered in error, and it was not; it stands in a note of its own"
    with speaking("fr"):
        shown = translated(f"kept: Bundle.entry[2]: Observation: {error} (3 values)").replace("\u00a0", " ")
        assert shown == (
            "gardé à part : Bundle.entry[2] : Observation : "
            "sa visite a été inscrite par erreur, mais non ce constat; il figure dans une note à part (3 valeurs)"
        )
        shown = translated("Medication: other content (a medicine): carried as it came (3 values)").replace(
            "\u00a0", " "
        )
        assert shown == "Medication : autre contenu (un médicament) : transporté tel quel (3 valeurs)"
        assert translated("a: b; c: d") == "a\u00a0: b; c\u00a0: d"


def test_what_was_concluded_is_french(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A visit of resources without an Encounter, a wound of findings without one, in the report of convert."""
    code = {"coding": [{"system": "http://loinc.org", "code": "39126-8"}]}
    size = {"resourceType": "Observation", "id": "o", "status": "final", "code": code}
    size |= {"effectiveDateTime": "2026-03-02T10:00:00Z", "valueQuantity": {"value": 4, "unit": "cm"}}
    (tmp_path / "size.json").write_text(json.dumps(size), "utf-8")
    report = tmp_path / "report.txt"
    assert run(["convert", str(tmp_path / "size.json"), "-t", "csv", "--report", str(report), "--lang", "fr"]) == 0
    lines = [line for line in report.read_text("utf-8").splitlines() if line.startswith("conclu")]
    assert len(lines) > 1
    assert english_in(re.sub(r"\bEncounter|Observation\b", " ", " ".join(lines))) == set(), lines
    capsys.readouterr()


def test_a_client_whose_main_record_is_another_is_read_in_french(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """R4, Patient.link.type ``refer``; Patient.name.use ``anonymous``: reasons out of the table of modifiers."""
    link = {"other": {"reference": "Patient/q"}, "type": "refer"}
    name = {"use": "anonymous", "family": "Qxz"}
    person = {"resourceType": "Patient", "id": "p", "link": [link], "name": [name]}
    path = tmp_path / "patient.json"
    path.write_text(json.dumps(person), "utf-8")
    assert run(["check", str(path), "--all", "--format", "json", "--lang", "fr"]) == 1
    found = json.loads(capsys.readouterr().out)["findings"]
    text = "\n".join(one["message"] for one in found if one["rule"] == "FH03")
    assert "un autre dossier de ce client est le principal" in text and "un nom qui cache qui c'est" in text


@pytest.mark.parametrize("given", ["many", "2.5", "'"])
def test_what_is_no_number_is_refused_in_french(given: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["bundle", "story.yaml", "--newest", given, "--lang", "fr"]) == 2
    assert f"« {given} » n'est pas un nombre entier." in capsys.readouterr().err.replace("\u00a0", " ")


@pytest.mark.parametrize("text", sorted(text for text in FRENCH if "{" in text and "!r}" not in text))
def test_a_sentence_is_found_again_and_keeps_what_stands_in_its_slots(text: str) -> None:
    names = slots_of(text)
    assert slots_of(FRENCH[text]).keys() <= names.keys()
    values = {name: f"Qx{number}Z" for number, name in enumerate(names)}
    with speaking("fr"):
        shown = translated(text.format(**values))
    assert shown == re.sub(r"\{(\w+)(?::\w+)?\}", lambda one: values[one[1]], FRENCH[text])


@pytest.mark.parametrize("text", sorted(FRENCH))
def test_it_is_french(text: str) -> None:
    bare = re.sub(r"`[^`]*`|'[^']*'|\"[^\"]*\"|--?[\w-]+|\b[A-Z][\w.]+", " ", FRENCH[text])
    assert english_in(bare) <= {"last", "record", "wound", "open", "why"}  # words that are keys


_NOTE = """woundfhir: 1
patient: {identifiers: [{system: 'urn:example:clinic', value: C-1}]}
wounds: [{id: W1, kind: plaie de pression, site: talon}]
visits: [{id: V1, at: 2026-03-02T10:05-05:00, status: final, wounds: [{wound: W1, assessment: {length: 4 cm}}]}]
"""
#: Bad input, by what was done to the note, and a part of what is said of it.
BAD = {
    "no YAML": (_NOTE.replace("{id: W1", "{id: W1]"), "du YAML lisible"),
    "unknown wound": (_NOTE.replace("wound: W1", "wound: W9"), "un identifiant qui figure sous 'wounds'"),
    "one id twice": (_NOTE.replace("wounds: [{id: W1,", "wounds: [{id: W1}, {id: W1,", 1), "utilisé une seule fois"),
    "key twice": (_NOTE + "woundfhir: 1\n", "chaque clé figure une fois"),
    "nothing": ("", "un dossier de plaies ou des ressources FHIR"),
    "a list": ("[1, 2]", "un objet JSON entre accolades"),
    "a comma": (_NOTE.replace("length: 4 cm", "length: 4,1 cm"), "attendu\u00a0: clé: valeur, et une virgule"),
    "no table": ('a,b\n"1', ""),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_answered_in_french(case: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text, words = BAD[case]
    path = tmp_path / "note.yaml"
    path.write_text(text, "utf-8")
    assert run(["check", str(path)]) == 2
    english = capsys.readouterr().err
    assert run(["check", str(path), "--lang", "fr"]) == 2
    french = capsys.readouterr().err
    assert words in french and french != english
    assert english_in(french.replace(str(path), "").replace("`woundfhir demo`", "").replace("'wounds'", "")) == set()


#: Options that contradict each other, and other refusals, in a folder with the demo's story.
REFUSED = [
    ["bundle", "story.yaml", "--chunk", "5"],
    ["bundle", "story.yaml", "--sign", "nokey.pem"],
    ["bundle", "story.yaml", "--sheet", "sheet.doc"],
    ["bundle", "story.yaml", "--compact", "--to", "fhir-xml"],
    ["bundle", "story.yaml", "--since", "March"],
    ["bundle", "story.yaml", "--wound", "W9"],
    ["bundle", "story.yaml", "--as", "mhd", "--to", "fhir-xml"],
    ["check", "story.yaml", "--visit", "V99"],
    ["check", "story.yaml", "--today", "soon"],
    ["check", "story.yaml", "--ignore", "PK01"],
    ["check", "story.yaml", "--policy", "nowhere"],
    ["check", "story.yaml", "--checklist", "nowhere"],
    ["check", "story.yaml", "--patient", "7"],
    ["compare", "story.yaml", "nofile.yaml"],
    ["convert", "story.yaml"],
    ["convert", "story.yaml", "-o", "story.yaml"],
    ["convert", "story.yaml", "--errors", "e.tsv", "-t", "csv"],
    ["explain", "NOTHING"],
    ["form", "story.yaml"],
    ["new", "story.yaml", "--wound", "W9"],
    ["new", "--kind", "nonsense"],
    ["read-text", "nofile.txt"],
    ["rebuild", "nofolder"],
    ["receive", "story.yaml", "--at", "2026-03-02"],
    ["receive", "story.yaml", "--verify-key", "story.yaml"],
    ["trend", "story.yaml", "--wound", "W9"],
    ["trend", "story.yaml", "--svg", "x.svg"],
    ["page", "nofolder"],
    ["audit", "nofolder"],
    ["config", "--site", "nofolder"],
]


@pytest.mark.parametrize("args", REFUSED, ids=" ".join)
def test_a_refusal_is_in_french_with_the_same_exit_code(
    args: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "story.yaml").write_bytes(story())
    monkeypatch.chdir(tmp_path)
    code = run(args)
    plain = capsys.readouterr()
    assert run([*args, "--lang", "fr"]) == code == 2
    french = capsys.readouterr()
    assert french.out == plain.out and french.err != plain.err
    told = re.sub(r"`[^`]*`|--?[\w-]+|'[^']*'|\S+\.\w+|\b(?:ontario|transfer|standard|last|record)\b", " ", french.err)
    assert english_in(told) == set(), french.err


def test_what_a_bundle_breaks_of_r4_is_said_in_french(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By check, and among the notices of receive."""
    person = {"resourceType": "Patient", "id": "p", "birthDate": "2026-02-31", "gender": "f", "colour": 1}
    period = {"start": "2026-03-03", "end": "2026-01-01"}
    wound = {"resourceType": "Condition", "id": "w", "subject": {"reference": "Patient/p"}, "onsetPeriod": period}
    size = {"resourceType": "Observation", "id": "o", "subject": {"reference": "Patient/p"}, "valueQuantity": "4 cm"}
    entries = [{"resource": one} for one in (person, wound, size)]
    path = tmp_path / "bundle.json"
    path.write_text(json.dumps({"resourceType": "Bundle", "type": "collection", "entry": entries}), "utf-8")
    assert run(["check", str(path), "--all", "--format", "json", "--lang", "fr"]) == 1
    found = json.loads(capsys.readouterr().out)["findings"]
    broken = [one for one in found if one["rule"] in ("FH01", "FH03")]
    assert len(broken) > 7
    for one in broken:
        named = r"https?:\S+|\b[\w-]+[.\d-]\S*|female, male, other, unknown"
        text = re.sub(named, " ", one["message"])
        assert english_in(text) == set(), one["message"]
    run(["receive", str(path), "--lang", "fr"])
    assert "attendu : l'URL absolue de la ressource (full-url)" in re.sub("\\xa0", " ", capsys.readouterr().out)
