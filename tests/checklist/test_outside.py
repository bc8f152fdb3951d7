"""The rules against published lists and numbers. Each test names its source; ``notes`` are invented."""

from __future__ import annotations

from typing import Any

import pytest

from tests.checklist.casebook import FOLDER, findings
from woundfhir.checklist import rules

Json = Any
HAZARDS = FOLDER.parent / "hazards.yaml"


def codes(**case: Json) -> set[str]:
    """The codes of all findings on a case."""
    return {one.rule for one in findings(case)}


# -- CMS, MDS 3.0 RAI Manual v1.20.1, section M (US public domain): staging by the deepest tissue lost -------------

_DERMIS = {"granulation": "~", "slough": "~", "dermis": "100 %"}
_RED = {"granulation": "100 %", "slough": "~"}
_COVERED = {"granulation": "~", "slough": "40 %", "eschar": "60 %"}
_PARTLY = {"granulation": "60 %", "slough": "40 %"}


@pytest.mark.parametrize(
    ("stage", "tissue", "exposed", "asks"),
    [
        # M0300B: stage 2 is partial loss, pink or red, without slough or bruising.
        ("stage 2", _DERMIS, "none", set()),
        ("stage 2", _PARTLY, "none", {"PI01"}),
        # M0300C: stage 3, slough may be there and does not hide the depth; no bone, tendon or muscle.
        ("stage 3", _PARTLY, "none", set()),
        ("stage 3", _RED, "none", set()),
        ("stage 3", _PARTLY, "bone", {"PI03"}),
        ("stage 3", _PARTLY, "tendon", {"PI03"}),
        ("stage 3", _PARTLY, "muscle", {"PI03"}),
        # M0300D: stage 4, with exposed bone, tendon or muscle.
        ("stage 4", _PARTLY, "bone", set()),
        ("stage 4", _PARTLY, "none", set()),
        # M0300F: unstageable, the bed hidden by slough or eschar.
        ("unstageable", _COVERED, "none", set()),
        ("stage 3", _COVERED, "none", {"PI02"}),
        ("stage 4", _COVERED, "none", {"PI02"}),
        ("unstageable", _RED, "none", {"PI04"}),
        # M0300F: with a deep structure in view it is not unstageable, slough or not.
        ("unstageable", _COVERED, "tendon", {"PI03"}),
    ],
)
def test_mds_section_m_stage_follows_the_deepest_tissue(stage: str, tissue: Json, exposed: str, asks: set[str]) -> None:
    """CMS, MDS 3.0 RAI Manual v1.20.1, section M, M0300A to G."""
    assessment = {"pressure_injury_stage": stage, "tissue": tissue, "exposed": [exposed]}
    # What is exposed is asked about besides, whatever the stage (SF01).
    assert codes(base="pressure", assessment=assessment) - {"SF01"} == asks


@pytest.mark.parametrize(("stage", "asks"), [("stage 1", {"PI05"}), ("deep tissue", {"PI05"}), ("stage 2", set())])
def test_mds_section_m_an_injury_that_opened_is_staged_anew(stage: str, asks: set[str]) -> None:
    """CMS, MDS 3.0 RAI Manual v1.20.1, section M: stage 1 and deep tissue injury lie under whole skin."""
    assessment = {"pressure_injury_stage": stage, "tissue": _DERMIS, "depth": "0.1 cm"}
    assert codes(base="pressure", assessment=assessment) == asks


_CAME_BACK = {
    "done": "rose in hospital, discussed",
    "about": ["worse"],
    "told": ["NP"],
    "when": "2026-03-04T10:30:00-05:00",
}
_TWO = {"pressure_injury_stage": "stage 2", "tissue": _DERMIS}


@pytest.mark.parametrize(
    ("poa", "plan", "asks"),
    [
        # Came in at stage 2, rose to 3 here: at the higher stage not present on admission.
        ("yes", {}, {"PI07"}),
        ("no", {}, set()),
        # Rose during a stay elsewhere before coming back: present on admission at re-entry, and the note says so.
        ("yes", {"reassessment": "rose in hospital before she came back on 3 March"}, {"PI07"}),
        ("yes", {"escalation": [_CAME_BACK]}, set()),
    ],
)
def test_mds_section_m_present_on_admission_is_asked_when_the_stage_rises(poa: str, plan: Json, asks: set[str]) -> None:
    """CMS, MDS 3.0 RAI Manual v1.20.1, section M0300, present on admission, examples (quoted by a secondary source)."""
    before = [{"visit": {"at": "2026-02-26T10:00:00-05:00"}, "assessment": _TWO}]
    assert codes(base="pressure", wound={"present_on_admission": poa}, plan=plan, before=before) == asks


def test_mds_section_m_the_same_stage_on_return_asks_nothing() -> None:
    """CMS, MDS 3.0 RAI Manual v1.20.1, section M0300: acquired here, hospitalised, back at the same stage."""
    before = [{"visit": {"at": "2026-02-26T10:00:00-05:00"}}]
    assert codes(base="pressure", wound={"present_on_admission": "no"}, before=before) == set()


def test_no_reverse_staging() -> None:
    """NPUAP position 1995, as quoted by Berlowitz 2005; CMS RAI Manual: a healing stage 4 stays stage 4."""
    four = {"pressure_injury_stage": "stage 4"}
    before = [{"visit": {"at": "2026-02-26T10:00:00-05:00"}, "assessment": four}]
    assert codes(base="pressure", before=before) == {"CO02"}
    assert codes(base="pressure", assessment=four, before=before) == set()


@pytest.mark.parametrize(("day", "asks"), [("2026-02-19", set()), ("2026-02-18", {"CO06"})])
def test_mds_section_m_no_progress_is_asked_after_fourteen_days(day: str, asks: set[str]) -> None:
    """CMS, MDS 3.0 RAI Manual v1.20.1, section M0300B and D: no evidence of progress within 14 days."""
    middle = {"visit": {"at": "2026-02-25T10:00:00-05:00"}}
    before = [{"visit": {"at": f"{day}T10:00:00-05:00"}}, middle]
    assert codes(base="pressure", wound={"onset": "2026-01"}, before=before) == asks


# -- BC Provincial Nursing Skin and Wound Committee, Procedure: Wound Packing ------------------------------------

_STRIP = {"material": "packing strip", "length": "20 cm", "width": "1 cm", "tail_visible": "yes", "loose": "yes"}


@pytest.mark.parametrize(
    ("depth", "asks"), [("0.9 cm", set()), ("1.0 cm", set()), ("10 mm", set()), ("1.1 cm", {"PK01"})]
)
def test_packing_is_counted_in_any_space_deeper_than_one_centimetre(depth: str, asks: set[str]) -> None:
    """BC Provincial Nursing Skin and Wound Committee, Procedure: Wound Packing: count above 1 cm of depth."""
    assert codes(base="packing", assessment={"depth": depth, "tunnels": "none"}, care={"packing": [_STRIP]}) == asks
    tunnel = [{"clock": "4", "depth": depth, "end_felt": "yes"}]
    shallow = {"depth": "0.5 cm", "tunnels": tunnel}
    assert codes(base="packing", assessment=shallow, care={"packing": [_STRIP]}) == asks


@pytest.mark.parametrize(
    ("put", "out", "asks"), [(1, 1, set()), (2, 2, set()), (2, 1, {"PK02"}), (1, 2, {"PK02"}), (1, 0, {"PK02"})]
)
def test_pieces_out_are_pieces_in(put: int, out: int, asks: set[str]) -> None:
    """BC Provincial Nursing Skin and Wound Committee, Procedure: Wound Packing: the number removed and inserted."""
    last = {**_STRIP, "pieces_in": str(put), "pieces_reason": "two tunnels"}
    now = {**_STRIP, "pieces_in": "1", "pieces_out": str(out)}
    before = [{"visit": {"at": "2026-03-02T10:00:00-05:00"}, "care": {"packing": [last]}}]
    assert codes(base="packing", care={"packing": [now]}, before=before) == asks


# -- RNAO, Cleansing the Wound; NPUAP and EPUAP 2009 -------------------------------------------------------------


@pytest.mark.parametrize(
    ("volume", "asks"),
    [("50 mL", {"CH03"}), ("99 mL", {"CH03"}), ("100 mL", set()), ("150 mL", set()), ("0.1 L", set())],
)
def test_a_pressure_injury_is_cleansed_with_at_least_a_hundred_millilitres(volume: str, asks: set[str]) -> None:
    """RNAO, Cleansing the Wound (from Assessment and Management of Pressure Injuries, 2016): at least 100 to 150 mL."""
    assert codes(base="pressure", care={"cleansing": {"volume": volume}}) == asks
    # The guideline is about pressure injuries: no amount is published for other wounds.
    assert codes(care={"cleansing": {"volume": volume}}) == set()


@pytest.mark.parametrize(
    ("psi", "asks"), [("3", {"CH06"}), ("4", set()), ("7.5", set()), ("15", set()), ("16", {"CH06"})]
)
def test_irrigation_is_between_four_and_fifteen_psi(psi: str, asks: set[str]) -> None:
    """NPUAP and EPUAP 2009: 4 to 15 psi; a 35 mL syringe with a 19 gauge needle gives 7 to 8 psi (teaching pages)."""
    assert codes(care={"cleansing": {"pressure": f"{psi} psi"}}) == asks


def test_the_volume_for_lacerations_is_not_asked_of_other_wounds() -> None:
    """50 to 100 mL a centimetre is a figure of emergency medicine for lacerations (coucm.org, irrigation myths)."""
    assert codes(base="full", assessment={"length": "4.5 cm", "width": "4.0 cm"}) == set()


# -- Woo and Sibbald 2009: three of five, three of seven ---------------------------------------------------------

_LOCAL = ["not healing", "exudate increasing", "red friable granulation", "debris in the bed", "smell"]
_DEEP = [
    "size increasing",
    "warmer than the other side",
    "bone reached or exposed",
    "new breakdown",
    "redness and swelling spreading",
    "exudate increasing",
    "smell",
]


@pytest.mark.parametrize("count", range(1, 6))
def test_three_of_five_signs_ask_for_a_look(count: int) -> None:
    """Woo KY and Sibbald RG, Ostomy Wound Manage 2009;55(8):40-48: any three of the five signs of local infection."""
    warm = {"temperature_difference": "0.1 Cel"}
    assert ("FU05" in codes(assessment={"infection_signs": _LOCAL[:count], **warm})) is (count >= 3)


@pytest.mark.parametrize("count", range(1, 8))
def test_three_of_seven_signs_ask_for_a_call(count: int) -> None:
    """Woo KY and Sibbald RG, Ostomy Wound Manage 2009;55(8):40-48: any three of the seven signs of deep infection."""
    found = codes(assessment={"infection_signs": _DEEP[:count]})
    assert ("FU06" in found) is (count >= 3)
    assert "FU05" not in found


@pytest.mark.parametrize(("warmer", "asks"), [("1.6 Cel", False), ("1.67 Cel", True), ("3 Cel", True)])
def test_three_degrees_fahrenheit_warmer_count_as_a_sign(warmer: str, asks: bool) -> None:
    """Woo and Sibbald 2009: 3 degrees Fahrenheit, a difference of 1.67 degrees Celsius."""
    signs = {"infection_signs": ["size increasing", "new breakdown"], "temperature_difference": warmer}
    assert ("FU06" in codes(assessment=signs)) is asks


# -- limb pressure -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("index", "ontario", "international"),
    [
        ("0.49", {"LL04"}, {"LL04"}),
        ("0.50", {"LL04"}, {"LL03"}),
        ("0.59", {"LL04"}, {"LL03"}),
        ("0.60", {"LL03"}, {"LL03"}),
        ("0.79", {"LL03"}, {"LL03"}),
        ("0.80", set(), set()),
        ("1.20", set(), set()),
        ("1.21", {"LL03"}, set()),
        ("1.30", {"LL03"}, set()),
        ("1.31", {"LL03"}, {"LL03"}),
    ],
)
def test_guidelines_differ_on_the_range_of_the_index(index: str, ontario: set[str], international: set[str]) -> None:
    """RNAO: below 0.8 or above 1.2 refer; Rabe 2020: below 0.6 none; NICE text, above 1.3 and below 0.5 (quoted)"""
    pressure = {"limb_pressure": [{"side": "left", "index": index, "date": "2026-02-27"}]}
    assert codes(base="leg", assessment=pressure) == ontario
    assert codes(base="leg", assessment=pressure, policy="international") == international


@pytest.mark.parametrize(
    ("ankle", "arms", "index"),
    [((125, 120), (130, 128), "0.96"), ((120, 118), (130, 128), "0.92"), ((104, 98), (130, 124), "0.80")],
)
def test_the_index_that_published_examples_give_holds(ankle: Json, arms: Json, index: str) -> None:
    """Published examples 125/130 = 0.96 and 120/130 = 0.92 (a consumer page); rule: HEIW Wales, higher over higher."""
    one = {
        "side": "left",
        "date": "2026-02-27",
        "dorsalis_pedis": f"{ankle[0]} mmHg",
        "posterior_tibial": f"{ankle[1]} mmHg",
        "brachial_left": f"{arms[0]} mmHg",
        "brachial_right": f"{arms[1]} mmHg",
    }
    assert codes(base="leg", assessment={"limb_pressure": [{**one, "index": index}]}) == set()
    assert codes(base="leg", assessment={"limb_pressure": [{**one, "index": "0.86"}]}) == {"LL14"}


def test_felt_pulses_do_not_stand_for_a_measured_pressure() -> None:
    """WOCN Society, Ankle brachial index, best practice document, 2005, revised 2011: palpation alone is unreliable."""
    felt = {"pulses": "palpable", "limb_pressure": [{"side": "left", "date": "2026-02-27", "by": "pulses felt"}]}
    assert {"LL01", "LL02"} <= codes(base="leg", assessment=felt)


# -- hand-over ---------------------------------------------------------------------------------------------------

#: RNAO recommendation 4.1 (2007 and 2011 texts): the list of nursing items for discharge and transfer of care.
_RNAO_4_1 = {
    "risk factors": {"TR01"},
    "pressure points and skin before discharge": {"TR02"},
    "bed or mattress, seating, transfer technique": {"TR03"},
    "history of ulcers, previous treatments": {"TR04"},
    "products not effective": {"GAP-wound.not_effective"},
    "stage, site and size; dressing type and frequency": {"TR05"},
    "allergies and adverse reactions": {"FA01"},
    "relevant laboratory results": {"TR06"},
    "client and family response and adherence": {"TR07"},
    "pain management": {"TR08"},
    "closed ulcers": {"TR09"},
    "ongoing interprofessional support": {"TR10"},
    "nutritional support (earlier texts)": {"TR11"},
    "advance notice (earlier texts)": {"TR17"},
}


def test_an_empty_hand_over_lacks_every_item_of_the_nursing_list() -> None:
    """RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1, discharge and transfer."""
    found = codes(
        base="pressure",
        visit={"purpose": ["transfer"]},
        patient={"conditions": "~", "allergies": "~"},
        assessment="~",
        care="~",
        plan="~",
        supplies="~",
    )
    assert {item: want for item, want in _RNAO_4_1.items() if not want <= found} == {}


def test_a_full_hand_over_lacks_none() -> None:
    """The same list, all of it written."""
    assert codes(base="transfer") == set()


def test_a_note_that_is_no_hand_over_is_not_asked_for_the_list() -> None:
    """The list is for discharge and transfer alone; the checklist 'transfer' asks for it all the same."""
    assert codes(base="full") == set()
    assert {"TR02", "TR06", "TR15"} <= codes(base="full", checklist="transfer")


# -- HL7 FHIR R4 -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("element", "without", "asks"),
    [("date", {"written": "~"}, "HD04"), ("author", {"by": "~"}, "HD05"), ("status", {"status": "~"}, "HD06")],
)
def test_what_a_fhir_document_requires_of_its_header_is_asked_for(element: str, without: Json, asks: str) -> None:
    """HL7 FHIR R4, Composition: date, author and status are 1..; read from the models of fhir.resources."""
    from fhir.resources.R4B.composition import Composition

    extra = Composition.model_fields[element].json_schema_extra or {}
    assert Composition.model_fields[element].is_required() or extra.get("element_required") is True
    assert codes(visit=without) == {asks}


def test_a_rule_from_memory_or_a_poor_source_is_a_prompt() -> None:
    """A source that was recalled, or is of low quality, asks or recommends, and never requires (a promise of ours)."""
    for one in rules():
        if one.page.mark in ("from memory", "low-quality source") and not one.code.startswith("GAP-"):
            assert one.severity in ("recommended", "caution"), one.code
