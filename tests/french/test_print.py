"""What is printed in French: no English word of ours in it, numbers and days by locale, the language named.

Outside checks: Babel (Unicode CLDR) for days and the decimal sign; html `lang` and FHIR `language` by BCP 47.
"""

from __future__ import annotations

import json
import re
from datetime import date, time
from pathlib import Path
from typing import Any

import pytest
from babel.dates import format_date, format_time
from babel.numbers import format_decimal, get_decimal_symbol
from lxml import etree

from tests.french.conftest import OWN
from tests.paths import DATA, ROOT
from woundfhir import InputError, Site, bundle, check, to_fhir
from woundfhir.audit import Audit
from woundfhir.audit.page import as_html
from woundfhir.audit.tables import as_text
from woundfhir.catalogue import catalogue
from woundfhir.checklist import judge
from woundfhir.checklist.policy import load
from woundfhir.checklist.site import compose
from woundfhir.cli import run
from woundfhir.demo import story
from woundfhir.drawing import clock_face, trend_chart
from woundfhir.handover.course import course_of
from woundfhir.handover.sheet.page import sheet_html
from woundfhir.handover.summary.words import long
from woundfhir.intake.resources import from_fhir
from woundfhir.language import clock, decimal_mark, grouped, speaking
from woundfhir.newnote import new_note
from woundfhir.record import History
from woundfhir.report import Judged, render

#: Words of English that are no words of French, and that our own texts use all the time.
STOP = frozenset((DATA / "english_words.txt").read_text("utf-8").split())
_WORD = re.compile(r"[^\W\d_]+(?:'s)?")
#: What is cited as published, keys and commands, and paths of the record.
_CITED = re.compile(
    r"`[^`]*`|[A-Za-z]+\[\d+\]\S*|\[[^\]]*\]|\([^()]*\)|\{[^}]*\}"
    r"|https?:\S+|[A-Za-z_]+\.[A-Za-z_.\[\]0-9]+|\b\w+_\w+\b"
)


def english_in(text: str) -> set[str]:
    """Return the words of the stop list in a text."""
    return {word for word in _WORD.findall(_CITED.sub(" ", text)) if word.casefold() in STOP and word != OWN}


def words_of(page: bytes) -> str:
    tree = etree.fromstring(page, etree.HTMLParser(encoding="utf-8"))
    for found in tree.iter("style", "code"):
        found.clear()
    for found in tree.iter():
        if found.get("class") == "small":  # sources, cited as published
            found.text = ""
    return " ".join(tree.itertext())


def test_the_stop_list_would_find_english(own: History) -> None:
    assert len(english_in(words_of(sheet_html(own)))) > 15
    assert len(english_in("\n".join(f"{one.message} {one.fix} {one.why}" for one in check(own)))) > 10


def test_findings_are_french(own: History) -> None:
    bare = History.of({**own.data, "visits": [{k: v for k, v in one.items() if k != "client"} for one in own.visits]})
    with speaking("fr"):
        found = check(bare, checklist="transfer")
    assert len(found) > 5
    for one in found:
        assert english_in(f"{one.message} {one.why} {one.part}") == set(), one.rule
        assert english_in(re.sub(r"\b(?:yes|no|closed)\b|\S+: ", " ", one.fix)) == set(), one.rule


@pytest.mark.parametrize("form", ["text", "html", "json", "outcome", "junit"])
def test_a_report_is_french(own: History, form: str) -> None:
    with speaking("fr"):
        judged = Judged("dossier", judge(own), own)
        report = render([judged], form).decode()
        brief = render([judged], "text", brief=True).decode()
    assert english_in(brief) == set()
    if form == "text":
        told = re.sub(r"Source[ \u00a0]:.*?(?=\n {0,6}\S|\Z)", "", report, flags=re.S)
        assert english_in(told) == set()
    if form == "html":
        assert etree.fromstring(report.encode(), etree.HTMLParser()).get("lang") == "fr-CA"
        assert english_in(words_of(report.encode())) == set()
    if form == "json":
        made = json.loads(report)
        assert english_in(made["summary"]["verdict"]) == set()
        assert all(english_in(one["message"]) == set() for one in made["findings"])


def test_the_sheet_is_french(own: History) -> None:
    page = sheet_html(own, language="fr-CA")
    assert etree.fromstring(page).get("lang") == "fr-CA"
    assert english_in(words_of(page)) == set()


def test_the_document_is_french_and_the_rest_of_it_the_same(own: History) -> None:
    english, french = (bundle(own, language=tag) for tag in ("en", "fr-CA"))
    head = french["entry"][0]["resource"]
    assert (head["language"], english["entry"][0]["resource"]["language"]) == ("fr", "en")
    texts = [head["text"]["div"], *(section["text"]["div"] for section in head["section"])]
    for div in texts:
        assert 'lang="fr"' in div
        assert english_in(" ".join(etree.fromstring(div).itertext())) == set()
    assert english_in(" ".join([head["title"], *(section["title"] for section in head["section"])])) == set()
    assert french["entry"][1:] == english["entry"][1:]


def test_the_record_and_its_fhir_are_the_same_in_every_language(own: History) -> None:
    plain = to_fhir(own)
    with speaking("fr"):
        assert to_fhir(own) == plain
        assert from_fhir(plain).history.data == own.data
        assert History.of(own.data).data == own.data


def test_a_french_document_is_read_as_the_english_one(own: History) -> None:
    english, french = (from_fhir(bundle(own, language=tag)) for tag in ("en", "fr"))
    assert french.history.data == english.history.data == own.data
    assert french.report.counts == english.report.counts


def test_drawings_new_note_and_audit_are_french(own: History) -> None:
    with speaking("fr"):
        chart = trend_chart(course_of(own, "W1")).decode()
        hollow = [{"from": "2", "to": "6", "depth": "3.5 cm"}]
        face = clock_face("4.1 cm", None, hollow, [{"clock": "4", "depth": "2 cm", "end_felt": "no"}]).decode()
        note = new_note("déchirure cutanée", "évaluation complète")
        audit = Audit(compose(None), load(None))
        audit.take(own)
        page, text = as_html(audit), as_text(audit)
    for svg in (chart, face):
        shown = re.sub(r"Source.*", "", " ".join(etree.fromstring(svg).itertext()))
        assert english_in(shown) == set()
    assert "3,5\u00a0cm" in face
    comments = " ".join(line.partition("# ")[2] for line in note.splitlines())
    assert english_in(re.sub(r"\{.*|\b[a-z_]+:", "", comments)) <= {"final", "note"}
    assert english_in(text) == set()
    assert english_in(words_of(page)) == set()


@pytest.mark.parametrize("day", [date(2026, 4, day) for day in range(6, 13)])
def test_days_are_those_of_cldr(day: date) -> None:
    with speaking("fr"):
        assert long(day.isoformat()) == f"{format_date(day, 'EEE', locale='fr_CA')} {day.isoformat()}"
    assert long(day.isoformat()) == f"{format_date(day, 'EEE', locale='en')} {day.isoformat()}"


def test_numbers_and_hours() -> None:
    with speaking("fr"):
        assert decimal_mark("2.5") == f"2{get_decimal_symbol('fr_CA')}5"
        assert clock("14:30") == "14\u00a0h\u00a030"  # french.tsv, line 4 (OQLF)
        assert clock("09:05") == format_time(time(9, 5), "short", locale="fr_CA").replace(" ", "\u00a0")
        assert [grouped(one) for one in (999, 1250, -1234567)] == [
            format_decimal(one, locale="fr_CA") for one in (999, 1250, -1234567)
        ]
    assert [grouped(one) for one in (999, -1234567)] == [format_decimal(one, locale="en") for one in (999, -1234567)]
    assert clock("25:00") == "25:00"
    assert (decimal_mark("2.5"), clock("14:30")) == ("2.5", "14:30")


def test_the_form_and_the_code_system_carry_translations() -> None:
    """R4, extension translation; CodeSystem.concept.designation: language and value."""
    form = json.loads((ROOT / "profiles" / "Questionnaire-wound-visit.json").read_text("utf-8"))
    system = json.loads((ROOT / "profiles" / "CodeSystem-wound-care.json").read_text("utf-8"))

    def items(holder: dict[str, Any]) -> list[dict[str, Any]]:
        return [one for item in holder.get("item", ()) for one in (item, *items(item))]

    found = {item["linkId"]: item for item in items(form)}
    assert all("_text" in item for item in found.values())
    parts = {part["url"]: part for part in found["assessment.odour"]["_text"]["extension"][0]["extension"]}
    assert (parts["lang"]["valueCode"], parts["content"]["valueString"]) == (
        "fr",
        "Y a-t-il une odeur après le nettoyage?",
    )
    options = [one["valueCoding"] for item in found.values() for one in item.get("answerOption", ())]
    assert all("_display" in option for option in options)
    told = [one for one in system["concept"] if "designation" in one]
    assert len(told) > 600
    assert {designation["language"] for one in told for designation in one["designation"]} == {"fr"}


def test_a_site_speaks_its_language(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text(
        'name = "nord"\ntitle = "Nord"\nbase = "https://nord.example/fhir"\nlanguage = "fr"\n', "utf-8"
    )
    with Site(tmp_path):
        assert catalogue().concept("assessment.odour").label == "Odeur"
    assert catalogue().concept("assessment.odour").label == "Odour"
    (tmp_path / "site.toml").write_text(
        'name = "nord"\ntitle = "Nord"\nbase = "https://nord.example/fhir"\nlanguage = "tlh"\n', "utf-8"
    )
    with pytest.raises(InputError, match="language"):
        Site(tmp_path)


@pytest.mark.parametrize("way", ["option", "variable"])
def test_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str], way: str) -> None:
    (tmp_path / "story.yaml").write_bytes(story())
    given = ["--lang", "fr"] if way == "option" else []
    with pytest.MonkeyPatch.context() as patch:
        if way == "variable":
            patch.setenv("WOUNDFHIR_LANG", "fr_CA.UTF-8")
        code = run(["check", str(tmp_path / "story.yaml"), *given])
    shown = capsys.readouterr().out
    assert (code, shown.splitlines()[0]) == (1, "1 de sécurité, 3 à ajouter.")
    assert run(["check", str(tmp_path / "story.yaml"), "--lang", "tlh"]) == 2
    assert "expected one of en, fr" in capsys.readouterr().err
