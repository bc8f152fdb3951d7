"""Numbers where they enter: exact, without an exponent, and bounded before any memory is spent on them."""

from __future__ import annotations

import resource as system
from decimal import Decimal
from typing import Any

import pytest

from woundfhir.errors import InputError
from woundfhir.intake.given import read
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.source import parse
from woundfhir.record import History
from woundfhir.record.units import amount


def note(length: str) -> bytes:
    return (
        '{"woundfhir": 1, "patient": {}, "wounds": [{"id": "W"}], "visits": [{"id": "V", "wounds": '
        f'[{{"wound": "W", "assessment": {{"length": {length}}}}}]}}]}}'
    ).encode()


def observation(value: str) -> bytes:
    return (
        '{"resourceType": "Observation", "status": "final", "code": {"coding": [{"system": "http://loinc.org", '
        f'"code": "39126-8"}}]}}, "valueQuantity": {{"value": {value}, "unit": "cm"}}}}'
    ).encode()


def length(history: History) -> Any:
    return history.visits[0]["wounds"][0]["assessment"]["length"]


@pytest.mark.parametrize(
    ("written", "kept"), [("1E+2", "100"), ("1e2", "100"), ("4.10", "4.10"), ("41e-1", "4.1"), ("1.50E1", "15.0")]
)
def test_an_exponent_is_a_number_and_not_words(written: str, kept: str) -> None:
    assert length(read(note(written)).history) == kept


_LONG = ["1e999999999", "-1E-999999999", "9" * 41, "0." + "1" * 60, "1e99999999999999999999999", "9" * 5000]


@pytest.mark.parametrize("made", [note, observation], ids=["record", "FHIR"])
@pytest.mark.parametrize("written", _LONG, ids=lambda text: text[:12])
def test_a_number_without_end_is_refused_with_a_place_and_no_memory(written: str, made: Any) -> None:
    before = system.getrusage(system.RUSAGE_SELF).ru_maxrss
    with pytest.raises(InputError) as caught:
        parse(made(written), "note.json")
    assert "note.json" in str(caught.value) and written not in str(caught.value)
    assert system.getrusage(system.RUSAGE_SELF).ru_maxrss - before < 100_000  # kB on Linux


def test_the_message_says_where_and_what_was_expected() -> None:
    with pytest.raises(InputError) as caught:
        parse(note("1e999999999"), "note.json")
    assert "line 1, column 132: a number that is too long; expected a number of at most 40 digits" in str(caught.value)


def test_digits_inside_a_text_are_no_number() -> None:
    assert length(read(note('"1e999999999 cm"')).history) == "1e999999999 cm"


def test_the_same_in_xml() -> None:
    content = (
        b'<Basic xmlns="http://hl7.org/fhir"><extension url="u"><valueDecimal value="1e999999999"/></extension></Basic>'
    )
    with pytest.raises(InputError, match="a number that is too long"):
        parse(content, "note.xml")


@pytest.mark.parametrize("value", [Decimal("1e999999999"), 10**400, float("inf"), Decimal("Infinity")], ids=type)
def test_the_same_for_python_numbers(value: Any) -> None:
    raw = {"woundfhir": 1, "patient": {"born": value}}
    with pytest.raises(InputError, match=r"patient\.born: .*expected a number of at most 40 digits"):
        History.of(raw)
    code = {"coding": [{"system": "http://loinc.org", "code": "39126-8"}]}
    with pytest.raises(InputError):
        from_fhir([{"resourceType": "Observation", "code": code, "valueQuantity": {"value": value, "unit": "cm"}}])


def test_nan_says_that_there_is_no_number() -> None:
    assert "born" not in History.of({"woundfhir": 1, "patient": {"born": float("nan")}}).patient


def test_a_sign_of_comparison_stays_and_is_not_computed_with() -> None:
    found = read(observation('3.2, "comparator": "<"')).history
    assert length(found) == "<3.2 cm"
    assert amount("<3.2 cm", "cm") is None


def test_all_faults_of_a_record_come_in_one_message() -> None:
    raw = {"woundfhir": 1, "patient": {"born": ["Secret"]}, "wounds": [{}], "visits": [{"id": "V", "status": "Secret"}]}
    with pytest.raises(InputError) as caught:
        History.of(raw, "note.yaml")
    text = str(caught.value)
    assert text.startswith("note.yaml: 3 places do not fit; expected patient.born: ")
    assert "visits[0].status: one of: draft, final" in text and "wounds[0]: the key 'id'" in text
    assert "Secret" not in text and "\n" not in text


@pytest.mark.parametrize(
    ("key", "near"), [("visit", "visits"), ("Wound", "wounds"), ("vists", "visits"), ("zones", "zone")]
)
def test_a_misspelt_key_at_the_top_is_refused_with_the_right_one(key: str, near: str) -> None:
    with pytest.raises(InputError) as caught:
        History.of({"woundfhir": 1, "patient": {}, key: []}, "note.yaml")
    assert f"a key that the record does not have; expected '{near}:'" in str(caught.value)


def test_other_keys_at_the_top_are_kept() -> None:
    assert History.of({"woundfhir": 1, "patient": {}, "colour": "blue"}).extra[0]["place"] == "colour"


def test_check_names_the_nearest_key() -> None:
    from woundfhir.checklist import check

    raw = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W"}], "visits": [
        {"id": "V", "wounds": [{"wound": "W", "assessment": {"lenght": "4 cm"}}]}]}  # fmt: skip
    (found,) = [one for one in check(History.of(raw)) if one.rule == "SE17"]
    assert "Did you mean 'length'?" in found.fix


def test_a_day_that_does_not_exist_is_found() -> None:
    from woundfhir.checklist import check

    raw = {"woundfhir": 1, "patient": {"born": "1948-02-30"}, "wounds": [{"id": "W", "onset": "2026-02-30"}]}
    assert {one.path for one in check(History.of(raw)) if one.rule == "SE11"} == {"patient.born", "wounds[0].onset"}


def test_all_misspelt_keys_at_the_top_stand_in_one_list() -> None:
    with pytest.raises(InputError, match=r"2 keys .* 'visits:' instead of visit; 'wounds:' instead of wound"):
        History.of({"woundfhir": 1, "visit": [], "wound": [], "patient": {"born": "1948"}})
