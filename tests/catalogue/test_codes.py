"""Every code of the catalogue: its check digit, its source, its display, and that it has one meaning.

The codes and displays that sources show stand in ``tests/data/codes.tsv``, each with its source and how certain it is:
``yes``; ``one source`` (written beside a code of our own and marked ``recheck``); ``code only`` (the display was not
seen word for word, so none is written); ``no`` (wrong or deprecated: never written).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import pytest

from tests.catalogue.shown import LOINC, SNOMED, Shown, shown_by_sources
from woundfhir.catalogue import Catalogue, Coding, catalogue
from woundfhir.catalogue.coding import KnownAs
from woundfhir.maps import shipped


class Use(NamedTuple):
    """One place of the catalogue that names a code, and what the code says there."""

    coding: Coding
    where: str
    meaning: str
    written: bool
    recheck: bool = False
    beside: tuple[Coding, ...] = ()


def _known_as(some: tuple[KnownAs, ...], beside: tuple[Coding, ...], where: str) -> Iterator[Use]:
    for one in some:
        yield Use(one.coding, where, "", True, one.recheck, beside)


def _uses(known: Catalogue) -> Iterator[Use]:
    for key, coding in known.codes.items():
        yield Use(coding, f"codes.{key}", key, True)
        yield from _known_as(known.codes_known_as.get(key, ()), (coding,), f"codes.{key}")
    for concept in known.concepts(fields=True):
        main = concept.of is not None and known.groups[concept.group][concept.of].main == concept.key
        meaning = concept.of if main and concept.of else concept.key
        where = ".".join(filter(None, (concept.group, concept.of, concept.key)))
        for coding in concept.codings:
            yield Use(coding, where, meaning, True, concept.recheck, concept.codings)
        yield from _known_as(concept.known_as, concept.codings, where)
        if concept.details:
            yield Use(concept.details, where, f"{meaning}: details", True)
    for answers in known.answers.values():
        for word in answers.words:
            for coding in word.codings:
                yield Use(coding, f"{answers.key}/{word.word}", word.word, True, word.recheck, word.codings)
            yield from _known_as(word.known_as, word.codings, word.key)
    table = shipped().by_code
    for line in (line for some in table.values() for line in some):
        name = "" if line.target is None else line.target.name
        apart = len(table[line.key]) > 1 or line.target is None or line.target.slot == "wound_kind"
        if line.target is not None and (line.target.kind == "concept" or not apart):
            yield Use(Coding(line.system, line.code), name, name.rpartition("/")[2].rpartition(".")[2], False)


@pytest.fixture(scope="module")
def known() -> Catalogue:
    return catalogue()


@pytest.fixture(scope="module")
def uses(known: Catalogue) -> list[Use]:
    return list(_uses(known))


@pytest.fixture(scope="module")
def shown() -> Shown:
    return shown_by_sources()


def codes(uses: list[Use], system: str) -> set[str]:
    """The codes of one system, written or read; not LOINC's answer codes (LA...), nor expressions."""
    found = {use.coding.code for use in uses if use.coding.system == system}
    return {code for code in found if not code.startswith("LA") and code.replace("-", "").isdigit()}


# -- check digits ------------------------------------------------------------------------------------


def luhn(code: str) -> bool:
    """LOINC Users' Guide, check digit (mod 10, Luhn): double every second digit from the right, the sum is 0 mod 10."""
    body, check = code.split("-")
    digits = [int(d) for d in reversed(body)]
    total = sum(sum(divmod(d * 2, 10)) if i % 2 == 0 else d for i, d in enumerate(digits))
    return (10 - total % 10) % 10 == int(check)


# SNOMED CT Release File Specification, appendix on check digits: Verhoeff's dihedral scheme.
_D = [
    [
        (i + j) % 5
        if i < 5 and j < 5
        else (i + j - 5) % 5 + 5
        if i < 5
        else (i - j) % 5 + 5
        if j < 5
        else (i - j + 5) % 5
        for j in range(10)
    ]
    for i in range(10)
]
_P = [list(range(10)), [1, 5, 7, 6, 2, 8, 3, 0, 9, 4]]
for _ in range(6):
    _P.append([_P[-1][_P[1][i]] for i in range(10)])


def verhoeff(code: str) -> bool:
    check = 0
    for i, digit in enumerate(reversed(code)):
        check = _D[check][_P[i % 8][int(digit)]]
    return check == 0


def test_the_check_digit_functions_can_fail() -> None:
    # LOINC Users' Guide works the example 12345: check digit 5. Verhoeff's own example: 236 -> 3 (Verhoeff 1969).
    assert luhn("12345-5") and not luhn("12345-6")
    assert verhoeff("2363") and not verhoeff("2362")


def test_loinc_codes_have_a_valid_check_digit(uses: list[Use]) -> None:
    found = codes(uses, LOINC)
    assert len(found) > 30
    assert [code for code in found if not luhn(code)] == []


def test_snomed_ids_have_a_valid_check_digit(uses: list[Use]) -> None:
    found = codes(uses, SNOMED)
    assert len(found) > 200
    assert [code for code in found if not verhoeff(code)] == []


def test_no_national_extension_code_is_written(uses: list[Use]) -> None:
    """SNOMED CT ids of a national extension carry a namespace: they end in 10 or 11 before the check digit."""
    written = [use.coding.code for use in uses if use.written and use.coding.system == SNOMED]
    assert [code for code in written if code[-3:-1] in ("10", "11", "12")] == []


# -- sources and displays ----------------------------------------------------------------------------


def test_every_loinc_and_snomed_code_is_one_that_a_source_shows(uses: list[Use], shown: Shown) -> None:
    for use in uses:
        if use.coding.system in (LOINC, SNOMED):
            certainties = set(shown.get(use.coding.key, {}).values())
            # A map names the source of each of its lines itself (tests/maps).
            assert certainties - {"no"} or not use.written, (use.where, use.coding.code)
            assert "no" not in certainties, (use.where, use.coding.code, "wrong or deprecated")


def test_a_display_stands_in_a_source_word_for_word_and_is_written_wherever_one_is_shown(
    uses: list[Use], shown: Shown
) -> None:
    for use in uses:
        if use.written and use.coding.system in (LOINC, SNOMED):
            displays = {text for text, sure in shown[use.coding.key].items() if sure in ("yes", "one source")}
            assert use.coding.display in (displays or {None}), (use.where, use.coding, displays)


def test_a_code_of_one_source_is_marked_and_stands_beside_one_of_our_own(
    uses: list[Use], known: Catalogue, shown: Shown
) -> None:
    for use in uses:
        if (
            use.written
            and use.coding.system in (LOINC, SNOMED)
            and set(shown[use.coding.key].values()) == {"one source"}
        ):
            sure = {one.key for one in use.beside if "yes" in shown.get(one.key, {}).values()}
            ours = known.own in {coding.system for coding in use.beside}
            assert use.recheck and (ours or (sure and not use.meaning)), (use.where, use.coding.code)


# -- one meaning -------------------------------------------------------------------------------------

#: Codes that two entries share, with the reason. Each must still be shared: a line that is not needed fails.
SHARED = {
    "72514-3": "one scale, asked at four moments; a code of our own beside it says which",
    "72294-2": "a position on the clock: where undermining begins and where it ends; a code of our own says which",
    "225116006": "irrigation of a wound: the method that is written, and a Procedure that is read as cleansing",
    "416462003": "a wound: the category of every wound's Condition, and the kind of a wound of which no more is known",
}


def test_no_code_has_two_meanings(uses: list[Use]) -> None:
    displays: dict[tuple[str, str], set[str | None]] = {}
    meanings: dict[tuple[str, str], set[str]] = {}
    for use in uses:
        if use.written:
            displays.setdefault(use.coding.key, set()).add(use.coding.display)
        if use.meaning:  # what stands beside a code that decides has the meaning of that one
            meanings.setdefault(use.coding.key, set()).add(use.meaning)
    assert {key: found for key, found in displays.items() if len(found) > 1} == {}
    twice = {code: found for (_, code), found in meanings.items() if len(found) > 1}
    assert {code: sorted(found) for code, found in twice.items() if code not in SHARED} == {}
    assert SHARED.keys() - twice.keys() == set()


def test_a_concept_that_shares_a_code_has_one_that_only_it_has(known: Catalogue, uses: list[Use]) -> None:
    """So that what is written is read back as the same concept."""
    where: dict[tuple[str, str], set[str]] = {}
    for use in uses:
        where.setdefault(use.coding.key, set()).add(use.meaning)
    for concept in known.concepts(fields=True):
        if any(coding.code in SHARED for coding in concept.codings):
            assert any(len(where[coding.key]) == 1 for coding in concept.codings), concept.path
