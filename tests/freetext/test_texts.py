"""Free texts in different hands against what a careful colleague would chart; the figures stand in the output.

No outside source: the texts and what is expected of them are ours (common practice, no source). ``texts.yaml`` was
written before the reader; ``texts_2.yaml`` after it (at the first reading 3 of 40 certain readings were wrong and 1 of
5 hazards was missed); ``texts_3.yaml`` after the second was passed (2 of 29 wrong, of one reading; no hazard missed).
``texts_4.yaml`` of another hand (1 of 95 wrong, 2 hazards missed); ``texts_5.yaml`` with all facts written down before
(1 of 122 wrong, 60 of 180 not certain, no hazard missed). What they showed was mended in general, and all are held.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.freetext.scoring import Score, load, score
from woundfhir.catalogue import catalogue
from woundfhir.checklist import check
from woundfhir.freetext import read_text
from woundfhir.freetext.draft import draft, history, plain, record
from woundfhir.intake.source import parse

#: The share of what a careful colleague would chart that must be read as certain, for each set. In the fifth all of it
#: was written down before the first run (120 of 180 were certain then), so that it is the one that measures recall.
SETS = {"texts.yaml": 0.85, "texts_2.yaml": 0.85, "texts_3.yaml": 0.85, "texts_4.yaml": 0.85, "texts_5.yaml": 0.77}
#: Language, hazard or "-", text: see the file.
STRANGERS = [
    row.split("\t")
    for row in (Path(__file__).parent / "strangers.tsv").read_text("utf-8").splitlines()
    if not row.startswith("#")
]
CASES = [case for name in SETS for case in load(name)]
IDS = [case["name"].replace(" ", "-") for case in CASES]


def counted(name: str) -> list[Score]:
    return [score(case) for case in load(name)]


@pytest.mark.parametrize("name", SETS)
def test_the_figures(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    scores = counted(name)
    right = sum(one.right for one in scores)
    missed, wrong = (sum(len(getattr(one, key)) for one in scores) for key in ("missed", "wrong"))
    likely, likely_wrong = sum(one.likely for one in scores), sum(len(one.likely_wrong) for one in scores)
    asked, not_asked = sum(one.asked for one in scores), sum(len(one.not_asked) for one in scores)
    vain = sum(len(one.asked_in_vain) for one in scores)
    with capsys.disabled():
        print(
            f"\n{name}: {len(scores)} texts; certain: {right} right, {wrong} wrong, {missed} not read; "
            f"likely: {likely} right, {likely_wrong} wrong; hazards: {asked} asked, {not_asked} missed, {vain} in vain"
        )
    assert wrong == 0 and not_asked == 0
    assert right / (right + missed) >= SETS[name]
    assert vain <= len(scores) // 10


@pytest.mark.parametrize("case", CASES, ids=IDS)
def test_nothing_certain_is_wrong_and_no_hazard_is_passed_over(case: Any) -> None:
    one = score(case)
    assert one.wrong == [] and one.not_asked == []


def test_signs_that_are_denied_by_name_are_proposed_and_not_dropped() -> None:
    found = read_text("No redness, no swelling.")
    assert {(one.path, one.value, one.certainty) for one in found.readings} == {
        ("assessment.infection_signs", "none", "likely")
    }
    assert found.unread == () and found.alarms == ()


def test_what_was_refused_was_not_done() -> None:
    assert not any(one.path == "visit.purpose" for one in read_text("Client refused dressing change today.").readings)


def test_there_are_at_least_twenty_five_texts_of_the_first_kind() -> None:
    assert len(load("texts.yaml")) >= 25


@pytest.mark.parametrize("case", CASES, ids=IDS)
def test_the_draft_is_a_record_that_every_verb_reads_and_holds_only_what_is_certain(case: Any) -> None:
    found = read_text(case["text"])
    back = parse(draft(found).encode(), "draft.yaml").history
    assert back.data == history(found).data and back.data.get("extra") is None
    assert back.visits[0]["status"] == "draft"
    assert all(one.level in ("information", "warning", "error") for one in check(back))


@pytest.mark.parametrize("case", CASES, ids=IDS)
def test_every_word_that_is_read_is_one_of_the_catalogue(case: Any) -> None:
    for one in read_text(case["text"]).readings:
        concept = catalogue().concept(one.path)
        if concept.answers is not None and isinstance(one.value, str):
            assert concept.answers.find(one.value) is not None, (one.path, one.value)
        for key, value in one.value.items() if not isinstance(one.value, str) and concept.is_group else ():
            answers = concept.fields[key].answers
            assert answers is None or answers.find(value) is not None, (one.path, key, value)


@pytest.mark.parametrize("case", CASES, ids=IDS)
def test_words_stand_in_the_text_and_nothing_is_both_read_and_not_read(case: Any) -> None:
    found = read_text(case["text"])
    for one in found.readings:
        assert 0 <= one.start < one.end <= len(case["text"])
    for start, end in found.unread:
        assert not any(one.start <= start and end <= one.end for one in found.readings)


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ("no odour", "assessment.odour"),
        ("nil odour", "assessment.odour"),
        ("odour: nil", "assessment.odour"),
        ("without odour", "assessment.odour"),
        ("odour absent", "assessment.odour"),
        ("no signs of infection", "assessment.infection_signs"),
        ("no undermining or tunnelling", "assessment.tunnels"),
        ("no drainage", "assessment.exudate_amount"),
    ],
)
def test_what_is_denied_is_none(text: str, path: str) -> None:
    assert [(one.path, one.value) for one in read_text(text).of("certain") if one.path == path] == [(path, "none")]


@pytest.mark.parametrize(
    ("text", "read"),
    [
        (
            "Plaie au talon gauche 4,2 x 3,1 x 0,5 cm, exsudat séreux modéré, pas d'odeur.",
            {"wound.kind": "heel ulcer", "wound.side": "left", "assessment.length": "4.2 cm",
             "assessment.depth": "0.5 cm", "assessment.exudate_type": "serous", "assessment.odour": "none"},
        ),
        ("Gros orteil droit. ITB droit 0,85", {"wound.side": "right", "wound.site": "great toe"}),
        ("Pas de frissons, température 38,4", {"client.temperature": "38.4 Cel"}),
    ],
)  # fmt: skip
def test_french_is_read_with_its_commas_and_its_side_behind(text: str, read: dict[str, str]) -> None:
    certain = {one.path: one.value for one in read_text(text).of("certain")}
    assert {path: certain.get(path) for path in read} == read


@pytest.mark.parametrize(
    ("text", "tunnels"),
    [
        ("tunnels at 3 o'clock 2 cm and 7 o'clock 1.5 cm", [("3", "2 cm"), ("7", "1.5 cm")]),
        ("tunnel 3 cm at 6 o'clock, 2 cm at 9 o'clock", [("6", "3 cm"), ("9", "2 cm")]),
        ("sinus à 3 h de 2 cm et à 7 h de 1,5 cm", [("3", "2 cm"), ("7", "1.5 cm")]),
    ],
)
def test_each_tunnel_of_a_sentence_is_read(text: str, tunnels: list[tuple[str, str]]) -> None:
    found = [one.value for one in read_text(text).of("certain") if one.path == "assessment.tunnels"]
    assert found == [{"clock": clock, "depth": depth} for clock, depth in tunnels]


@pytest.mark.parametrize("text", ["odour not checked", "odour?", "if odour, call", "odour was foul last week", "odour"])
def test_what_nobody_says_of_today_is_not_certain(text: str) -> None:
    assert not any(one.path == "assessment.odour" for one in read_text(text).of("certain"))


@pytest.mark.parametrize(
    ("text", "hazard"),
    [
        ("redness is spreading up the leg", "infection"),
        ("the big toe is black", "circulation"),
        ("could not find the last piece of foam", "packing"),
        ("bleeding will not stop", "bleeding"),
        ("temp 38.4", "infection"),
        ("allergic to silver?", "allergy"),
        ("no odour but fever", "infection"),
        ("spredding rednes", "infection"),
        ("not sure if redness is spreading", "infection"),
        ("pt c/o chest pain and SOB this am", "sudden"),
        ("chest feels tight since this morning", "sudden"),
        ("SOB, L leg swollen, 4 layer compression applied", "sudden"),
        ("BG 18.2 this morning", "glucose"),
        ("CBG was 3.1, shaky", "glucose"),
        ("blood sugar 326 mg/dL", "glucose"),
        ("3 yo child with scald burn to R arm", "burn"),
        ("infant burn L arm from kettle", "burn"),
        ("burn of R hand", "burn"),
        ("chem burn, alkali", "burn"),
        ("suicidal, says she is a burden", "harm"),
        ("hit by husband, bruises, afraid to go home", "harm"),
        ("temp 100.9F", "infection"),
        ("T 101.2 F", "infection"),
        ("? infection", "infection"),
        ("cannot rule out infection", "infection"),
        ("pain out of proportion, crepitus", "infection"),
        ("no bleeding except when packing removed, then brisk", "bleeding"),
        ("no allergies except latex", "allergy"),
        ("never had fever like this", "infection"),
        ("denies chest pain but SOB on stairs", "sudden"),
        ("told MD about chest pain", "sudden"),
        ("black toe in the shoe", "circulation"),
        ("gros orteil noir dans la chaussure trop petite", "circulation"),
        ("toe black rest pain severe", "circulation"),
        ("contract nurse found pump off at 0200", "pump"),
        ("unwell with a cold sweat", "sepsis"),
        ("burn on hand treated with burn cream", "burn"),
        ("confus ce matin au rendez-vous", "sepsis"),
        ("confused the day after surgery", "sepsis"),
        ("fell yesterday, on apixaban", "sudden"),
        ("chute hier, sous warfarine", "sudden"),
        ("denies pain, chest tight since morning", "sudden"),
        ("toes white and numb from the cold", "circulation"),
        ("foot cold in the sock", "circulation"),
        ("old pump off since last night", "pump"),
        ("two pieces of ribbon packed, one removed", "packing"),
        ("retiré 1 mèche sur 2", "packing"),
        ("ITB 0,45", "circulation"),
        ("T 38,6", "infection"),
        ("FIE\u0300VRE ET FRISSONS", "infection"),
        ("pas de pus mais fièvre à 39", "infection"),
        ("pas sûr si infecté", "infection"),
        ("pas de changement, pus encore présent", "infection"),
        ("Saignement pas contrôlé", "bleeding"),
        ("son pied est froid et son mari l'a amenée", "circulation"),
        ("Elle dit que ses orteils sont noirs", "circulation"),
        ("avisé le médecin de la douleur thoracique", "sudden"),
        *((text, hazard) for _, hazard, text in STRANGERS if hazard != "-"),
    ],
)
def test_hazards_are_asked_about_whatever_was_read(text: str, hazard: str) -> None:
    assert hazard in {one.hazard.key for one in read_text(text).alarms}


@pytest.mark.parametrize(
    "text",
    [
        "no fever",
        "denies fever or chills",
        "temp 36.8",
        "taught to call if bleeding",
        "bleeding: none",
        "nkda",
        "denies chest pain or SOB",
        "no SOB",
        "no suicidal ideation",
        "BG 6.2",
        "CBG 14.9",
        "glucose 110",
        "temp 98.6F",
        "covered with ABD pad",
        "no known drug allergies",
        "sugar paste 20 g",
        "no s/s infection",
        "burning on cleansing",
        "white toes on the sock",
        "a client, a son: taught to call if a fever",
        "feet in blue slippers",
        "Enseignement : fièvre, rougeur, pus à surveiller",
        "fell yesterday in the bathroom, no injury",
        "risque de chute, anticoagulé",
        "yesterday's bleeding has stopped",
        "drowsy after lunch nap but easily roused",
        "feet cold from outside",
        "old pump off the contract",
        "denies chest pain, SOB, fever",
        "1 out, 2 strips in",
        "pas d\u2019os visible",
        "n'a plus de fièvre",
        "ne présente pas de signes d'infection",
        "Ø S et S d'infection",
        "fièvre : non",
        "no chest pain, pas de fièvre",
        "cellulite en 2019",
        "son mari a de la fièvre",
        "si vous avez de la fièvre, appelez",
        "enseigné les signes d'infection à la cliente",
        "surveiller fièvre, rougeur, pus",
        *(text for _, hazard, text in STRANGERS if hazard == "-"),
    ],
)
def test_a_hazard_that_is_denied_or_taught_is_not_asked_about(text: str) -> None:
    assert read_text(text).alarms == ()


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ("cellulitis improving, still red to knee", "assessment.healing_trend"),
        ("no s/s infection. pus from the lower end", "assessment.infection_signs"),
        ("no redness, swelling or warmth but temp 38.9", "assessment.infection_signs"),
    ],
)
def test_what_a_hazard_beside_it_speaks_against_is_asked_about(text: str, path: str) -> None:
    assert [one.certainty for one in read_text(text).readings if one.path == path] == ["ask"]


def test_a_temperature_in_fahrenheit_keeps_its_unit() -> None:
    assert [one.value for one in read_text("temp 100.9F").of("certain")] == ["100.9 [degF]"]


@pytest.mark.parametrize(
    "text", ["", " \n", "???", "…", "x" * 500, "0 x 0 x 0", "\x00\x1b[31m", "4 x x 3 cm", "İİİ no odour"]
)
def test_any_text_is_read_without_a_fault(text: str) -> None:
    found = read_text(text)
    assert plain(found)["version"] == 1 and record(found)["woundfhir"] == 1
    parse(draft(found).encode(), "draft.yaml")


def test_the_same_text_gives_the_same_draft() -> None:
    assert len({draft(read_text(CASES[0]["text"])) for _ in range(3)}) == 1
