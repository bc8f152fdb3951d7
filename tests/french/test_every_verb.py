"""Every verb in French on the demo and a story: no word that only our English texts use, the same data and exit code.

Outside check: the list of words is made of our own texts (what English says and French does not), and of
tests/data/english_words.txt.
"""

from __future__ import annotations

import re
import shlex
import shutil
from functools import cache
from pathlib import Path

import pytest

from tests.french.test_complete import PACKAGES, flat
from tests.french.test_print import STOP
from tests.paths import ROOT
from woundfhir.catalogue import catalogue, frame
from woundfhir.catalogue.translation import translations
from woundfhir.cli import run
from woundfhir.demo import story
from woundfhir.r4.definitions import resource_types
from woundfhir.texts import read_tables

_WORD = re.compile(r"[^\W\d_]+")
#: What is no text: names of files, keys, options, paths, commands in backticks, codes, what a person wrote in quotes.
_ASIDE = re.compile(
    r"`[^`]*`|\"[^\"]*\"|'[^']*'|\S*[./_]\w\S*|--?[\w-]+|\[[^\]]*\]|\{[^}]*\}|https?:\S+|woundfhir \S+|\b[a-z]+:(?= )"
)


def _words(package: str, language: str) -> set[str]:
    texts = (
        text
        for key, text in flat(read_tables(f"woundfhir.{package}", language))
        if isinstance(text, str) and key[-1] not in ("source", "mark", "wrong", "right")
    )
    return {word for text in texts for word in _WORD.findall(_ASIDE.sub(" ", text.casefold()))}


@cache
def english() -> frozenset[str]:
    """Words of our English texts that neither French texts, nor keys, nor answers of the record have."""
    packages = [one for one in PACKAGES if one != "page"]
    found = {word for one in packages for word in _words(one, "en")} | STOP
    known = {word for one in (*packages, "messages") for word in _words(one, "fr")}
    said = translations()["fr"]
    known |= {
        word
        for texts in said.concepts.values()
        for text in texts.values()
        for word in _WORD.findall(str(text).casefold())
    }
    known |= {
        word
        for listed in said.answers.values()
        for forms in listed.values()
        for text in forms
        for word in _WORD.findall(text.casefold())
    }
    plain = {word.word for one in catalogue().answers.values() for word in one.words}
    plain |= {one.shape for one in catalogue().concepts(fields=True)} | {"word", *resource_types()}
    keys = {one.path for one in catalogue().concepts(fields=True)} | {one.path for one in frame().every_key()}
    known |= {word for text in plain | keys for word in _WORD.findall(text.casefold())}
    return frozenset(word for word in found - known if len(word) > 2)


#: Command -> whether its standard output is data (the same bytes in every language).
VERBS = {
    "demo d": False,
    "config": False,
    "catalogue": False,
    "check story.yaml": False,
    "check story.yaml --all --show-values": False,
    "check tear.yaml --all": False,
    "bundle tear.yaml -o tear.json": False,
    "audit story.yaml tear.yaml": False,
    "audit story.yaml --format csv -o audit.csv": False,
    "trend story.yaml": False,
    "trend story.yaml --wound W1 --svg w1.svg": False,
    "convert story.yaml --to fhir-json": True,
    "convert story.yaml --to fhir-xml": True,
    "convert story.yaml --to ndjson": True,
    "convert story.yaml --to csv": True,
    "convert story.yaml --to record": True,
    "convert story.yaml --to ndjson --workers 1 -o s.ndjson": False,
    "convert foreign.json --to record": True,
    "bundle story.yaml -o h.json --sheet sheet.html": False,
    "bundle story.yaml --as transaction": True,
    "bundle story.yaml --as transaction --chunk 300 -o t.json": False,
    "compare story.yaml changed.yaml": False,
    "receive changed.yaml --into c": False,
    "receive story.yaml --into c": False,
    "rebuild kept": True,
    "form": True,
    "form story.yaml --visit V7 --wound W1": True,
    "read-text words.txt -o draft.yaml": False,
    "profiles": True,
    "profiles out": False,
    "map test": False,
    "map propose foreign.json -o codes.tsv": False,
    "map table story.csv -o table.toml": False,
    "completion bash": True,
}


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    made = {}
    for language in ("en", "fr"):
        made[language] = tmp_path_factory.mktemp(language)
        text = story().decode()
        (made[language] / "story.yaml").write_text(text, "utf-8")
        changed = text.replace("width: 2.2 cm", "width: 2.25 cm").replace("odour: none", "odour: aucune", 1)
        (made[language] / "changed.yaml").write_text(changed, "utf-8")
        (made[language] / "words.txt").write_text("4.1 x 3 cm, mod serous drng, no odour, fever?", "utf-8")
        (made[language] / "story.csv").write_text(
            "client,day,wound,size\nC-1,2026-03-02,left heel,4.2 x 3.1 cm\n", "utf-8"
        )
        shutil.copy(ROOT / "examples" / "skin-tear" / "story.yaml", made[language] / "tear.yaml")
        (made[language] / "foreign.json").write_text(_FOREIGN, "utf-8")
        assert run(["receive", str(made[language] / "story.yaml"), "--into", str(made[language] / "kept")]) == 0
    return made


#: Of another system: a finding that was entered in error, one that nobody knows, a patient.
_FOREIGN = """{"resourceType": "Bundle", "type": "collection", "entry": [
 {"resource": {"resourceType": "Patient", "id": "p", "identifier": [{"system": "urn:x:c", "value": "1"}]}},
 {"resource": {"resourceType": "Observation", "id": "o", "status": "entered-in-error",
  "subject": {"reference": "Patient/p"}, "valueQuantity": {"value": 4, "unit": "cm"},
  "code": {"coding": [{"system": "http://loinc.org", "code": "39126-8"}]}}},
 {"resource": {"resourceType": "Observation", "id": "q", "status": "final", "subject": {"reference": "Patient/p"},
  "code": {"coding": [{"system": "urn:x:codes", "code": "zz"}]}, "valueString": "x"}}]}
"""


@pytest.mark.parametrize("line", VERBS)
def test_a_verb_in_french(
    line: str, folders: dict[str, Path], monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    came = {}
    for language, folder in folders.items():
        monkeypatch.chdir(folder)
        monkeypatch.setenv("WOUNDFHIR_LANG", language)
        code = run(shlex.split(line))
        came[language] = (code, *capfd.readouterr())
    assert came["fr"][0] == came["en"][0] < 2
    if VERBS[line]:
        assert came["fr"][1] == came["en"][1]
    shown = came["fr"][2] + ("" if VERBS[line] else came["fr"][1])
    lines = [one for one in shown.splitlines() if "Source" not in one]
    left = {word for word in _WORD.findall(_ASIDE.sub(" ", "\n".join(lines).casefold())) if word in english()}
    assert left == set(), [one for one in lines if left & set(_WORD.findall(one.casefold()))][:5]


def test_files_that_hold_data_are_the_same(folders: dict[str, Path], monkeypatch: pytest.MonkeyPatch) -> None:
    """A record, FHIR, a table: made again where another process of the tests has run those verbs."""
    lines = {
        "s.ndjson": "convert story.yaml --to ndjson --workers 1 -o s.ndjson",
        "t-1.json": "bundle story.yaml --as transaction --chunk 300 -o t.json",
        "codes.tsv": "map propose foreign.json -o codes.tsv",
    }
    assert set(lines.values()) <= VERBS.keys()
    for language, folder in folders.items():
        monkeypatch.chdir(folder)
        monkeypatch.setenv("WOUNDFHIR_LANG", language)
        assert all((folder / name).exists() or run(shlex.split(line)) < 2 for name, line in lines.items())
    for name in (*lines, "kept/record.yaml"):
        assert (folders["en"] / name).read_bytes() == (folders["fr"] / name).read_bytes(), name


def test_the_list_would_find_english() -> None:
    assert len(english()) > 600
    assert {"received", "nothing", "written", "missing", "values"} & english()
