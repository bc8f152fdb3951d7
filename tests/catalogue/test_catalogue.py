"""The catalogue holds together: every entry is whole and names its source. Its codes: test_codes.py."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from tests.paths import ROOT
from woundfhir.catalogue import Catalogue, CatalogueError, catalogue
from woundfhir.catalogue.model import RESOURCES
from woundfhir.catalogue.page import check_together
from woundfhir.catalogue.reader import Reader
from woundfhir.freetext.language import language
from woundfhir.record.shapes import SHAPES


@pytest.fixture(scope="module")
def known() -> Catalogue:
    return catalogue()


def test_every_concept_and_word_names_its_source(known: Catalogue) -> None:
    assert [c.path for c in known.concepts() if not c.source] == []
    assert [w.word for a in known.answers.values() for w in a.words if not w.source] == []
    assert [key for key, source in known.sources.items() if not source] == []


def test_every_shape_and_place_is_used_and_known(known: Catalogue) -> None:
    concepts = list(known.concepts(fields=True))
    assert {c.shape for c in concepts} == set(SHAPES)
    assert {c.resource for c in concepts} == RESOURCES


def test_no_concept_name_stands_in_code_outside_the_catalogue_rules_and_demo(known: Catalogue) -> None:
    """One place for each piece of knowledge: converters know shapes and places, not concepts."""
    names = {c.key for c in known.concepts() if "_" in c.key}
    rooms = {"catalogue", "chart", "checklist", "measures", "demo", "drawing", "handover", "photos", "cli", "report"}
    rooms |= {"audit", "freetext", "newnote"}  # read the words for each, as the rules ask for each
    found = []
    for path in sorted((ROOT / "woundfhir").rglob("*.py")):
        if rooms & set(path.relative_to(ROOT).parts):
            continue
        text = path.read_text("utf-8")
        found += [f"{path.name}: {n}" for n in re.findall(r"[\"']([a-z_]+)[\"']", text) if n in names - _ALSO_ENVELOPE]
    assert found == []


#: Words that are a concept and also a member of FHIR or of the record's frame.
_ALSO_ENVELOPE = {"dressing_change", "wound_assessment"}


def test_units_are_ucum_as_a_unit_library_reads_them(known: Catalogue) -> None:
    """Every UCUM code, read by ucumvert (UCUM's own grammar), against pint, by what it measures."""
    from ucumvert import PintUcumRegistry

    registry = PintUcumRegistry()
    same = {
        "cm": "centimeter",
        "mm": "millimeter",
        "m": "meter",
        "[in_i]": "inch",
        "cm2": "centimeter**2",
        "mm2": "millimeter**2",
        "cm3": "centimeter**3",
        "mL": "milliliter",
        "L": "liter",
        "%": "percent",
        "mm[Hg]": "mmHg",
        "[psi]": "psi",
        "Cel": "degC",
        "[degF]": "degF",
        "g": "gram",
        "kg": "kilogram",
        "min": "minute",
        "h": "hour",
        "d": "day",
        "wk": "week",
        "mo": "month",
        "a": "year",
        "mmol/L": "millimole/liter",
        "1": "dimensionless",
    }
    codes = set(known.units.values())
    assert {code for code in codes if not code.startswith("{")} == set(same)
    for code, name in same.items():
        assert registry.from_ucum(code).is_compatible_with(registry.Quantity(1, name)), code


def test_no_file_of_the_catalogue_names_a_person_or_brand() -> None:
    """Brand names carry marks; the catalogue's words carry none."""
    for path in sorted(Path(ROOT / "woundfhir" / "catalogue" / "data").rglob("*.toml")):
        assert not re.search("[\u2122\u00ae]", path.read_text("utf-8")), path.name


_WHOLE = {"label": "Lustre", "shape": "text", "source": "own code"}
_ASKED = {"why": "Because.", "example": "lustre: dull", "source": "a test", "mark": "seen"}


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ({"shape": "text"}, "assessment.lustre: lacks label"),
        ({**_WHOLE, "role": "required"}, "assessment.lustre: required, so it needs a table 'asked'"),
        ({**_WHOLE, "asked": _ASKED}, "assessment.lustre: optional, so it has no table 'asked'"),
        ({**_WHOLE, "role": "expected", "asked": {**_ASKED, "why": ""}}, "assessment.lustre.asked: lacks why"),
        ({**_WHOLE, "role": "expected", "asked": {**_ASKED, "mark": "sure"}}, "assessment.lustre.asked: mark is one"),
        ({**_WHOLE, "role": "expected", "asked": {**_ASKED, "whi": "x"}}, "assessment.lustre.asked: unknown keys"),
        ({**_WHOLE, "section": "gloss", "rank": 1}, "assessment.lustre: no section 'gloss' in sections.toml"),
        ({**_WHOLE, "section": "findings"}, "assessment.lustre: a section needs a rank"),
        ({**_WHOLE, "rank": 3}, "assessment.lustre: a section needs a rank"),
        ({**_WHOLE, "section": "findings", "rank": 1, "unprinted": "x"}, "it has a section, so it cannot be unprinted"),
        ({**_WHOLE, "hazard": {"yes": "dragon"}}, "assessment.lustre: no hazard dragon in hazards.toml"),
        ({**_WHOLE, "front": {"missing": "x"}}, "assessment.lustre: front holds question"),
    ],
)
def test_an_incomplete_entry_is_refused_in_clear_words(entry: dict[str, Any], words: str) -> None:
    with pytest.raises(CatalogueError, match=re.escape(words)):
        Reader().concept("assessment", "lustre", entry)


def test_no_two_concepts_of_a_group_stand_at_one_place_of_a_section() -> None:
    reader = Reader()
    made = {key: reader.concept("plan", key, {**_WHOLE, "section": "plan", "rank": 1}) for key in ("dull", "bright")}
    with pytest.raises(CatalogueError, match=r"plan\.bright: rank 1 of its section is that of plan\.dull"):
        check_together({"plan": made})


def test_a_word_cannot_name_a_hazard_that_does_not_exist() -> None:
    word = {"word": "dull", "source": "own code", "tags": ["hazard:dragon"]}
    with pytest.raises(CatalogueError, match=r"answers\.lustre\.dull: no hazard dragon"):
        Reader().answer_list("lustre", {"words": [word]})


def test_every_hazard_is_named_by_an_answer_or_found_by_the_hand_over(known: Catalogue) -> None:
    """A hazard that nothing names would never be shown; the allergy is found by comparing two parts of the record.

    Some are named by free text alone, where the record has words of its own for what they are about.
    """
    named = {tag.removeprefix("hazard:") for lst in known.answers.values() for word in lst.words for tag in word.tags}
    named |= {key for concept in known.concepts(fields=True) for key in concept.page.hazards.values()}
    named |= {key for key, hazard in known.hazards.items() if hazard.tags}
    named -= {"burn"}  # the tag of a kind of wound, which is no hazard
    words = language().raw
    in_words = words["hazard_phrases"].keys() | {figure["hazard"] for figure in words["figures"].values()}
    assert known.hazards.keys() - named - in_words == set()
    assert all(hazard.ask.endswith("?") for hazard in known.hazards.values())
