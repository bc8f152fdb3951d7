"""Codes that others know, written beside ours: each is one of an outside table, with how it fits.

The table, ``tests/data/codes_2.tsv``: 210 codes with the entry of the catalogue that each fits, how, and who shows it.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from typing import NamedTuple

import pytest

from tests.catalogue.shown import shown_by_sources
from tests.paths import DATA
from woundfhir.catalogue import Catalogue, catalogue
from woundfhir.catalogue.coding import KnownAs


@pytest.fixture(scope="module")
def known() -> Catalogue:
    return catalogue()


class Row(NamedTuple):
    """What the outside table says of one code."""

    display: str
    fits: set[str]
    sure: bool


@pytest.fixture(scope="module")
def outside() -> dict[tuple[str, str], Row]:
    """``tests/data/codes_2.tsv``: 210 codes with the entry of the catalogue that each fits, how, and who shows it."""
    found: dict[tuple[str, str], Row] = {}
    with (DATA / "codes_2.tsv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file, delimiter="\t"):
            key = (row["system"], row["code"])
            fits = found[key].fits if key in found else set()
            found[key] = Row(row["display"], fits | {row["fit"]}, row["confirmed"] == "yes")
    return found


#: Fits that differ from the table's, with the reason.
ANOTHER_FIT = {
    "385948000": "names one subject of the teaching at a visit; ours is any",
    "19712007": "names the transfer to another facility; ours is any handover",
}


def _all_known_as(known: Catalogue) -> Iterator[tuple[str, KnownAs]]:
    for concept in known.concepts(fields=True):
        yield from ((concept.path, one) for one in concept.known_as)
    for answers in known.answers.values():
        yield from ((word.key, one) for word in answers.words for one in word.known_as)
    for name, some in known.codes_known_as.items():
        yield from ((name, one) for one in some)


def test_a_code_written_beside_ours_is_one_of_the_outside_table(
    known: Catalogue, outside: dict[tuple[str, str], Row]
) -> None:
    found, shown = list(_all_known_as(known)), shown_by_sources()
    assert len(found) > 90
    for where, one in found:
        if one.coding.code == "38227-5":  # in codes.tsv alone
            continue
        row = outside[one.coding.key]
        assert one.coding.display == row.display, where
        assert one.fit in row.fits or one.coding.code in ANOTHER_FIT, where
        assert one.recheck or row.sure or "yes" in shown[one.coding.key].values(), where
        assert one.source, where


def test_every_sure_code_of_the_outside_table_that_means_the_same_is_written_or_says_why_not(
    known: Catalogue, outside: dict[tuple[str, str], Row]
) -> None:
    """Equal, and shown by two organisations: other systems understand it, so that it goes out."""
    emitted = known.emitted()
    left = {code for (system, code), row in outside.items() if row.sure and row.fits == {"equal"}} - {
        code for _, code in emitted
    }
    assert left == set(NOT_WRITTEN)


NOT_WRITTEN = {
    "401221002": "the test that gives the index: a procedure, never the value",
    "73211009": "a disease as the question of a yes or no: a reader of codes alone takes a no for the disease",
    "182764009": "the same",
    "77176002": "smoking is charted in words",
    "8517006": "the same",
    "8392000": "the same",
    "8310-5": "as a vital sign it binds value and unit, which a nurse's own words do not hold; read by a map",
    "social-history": "a category: every Observation of ours is an exam",
    "vital-signs": "the same",
    "procedure": "a category for details of a step, which stand in extensions",
    "72298-3": "whether there is any; ours is a list of tunnels",
}


@pytest.mark.parametrize("first", [True, False])
def test_what_means_the_same_stands_first_and_what_says_less_after_ours(known: Catalogue, first: bool) -> None:
    tried = 0
    for concept in known.concepts(fields=True):
        for one in concept.known_as:
            order = [coding.key for coding in concept.written({key: next(iter(v)) for key, v in one.where.items()})]
            ours = order.index(concept.codings[0].key)
            before = order.index(one.coding.key) < ours
            if (one.fit != "wider" and not one.recheck) == first:
                tried += 1
                assert before == first, concept.path
    assert tried > 3


def test_what_means_the_same_is_read_alone_and_what_says_less_or_more_is_not(known: Catalogue) -> None:
    for answers in known.answers.values():
        for word in answers.words:
            for one in word.known_as:
                found = answers.by_code.get(one.coding.key)
                assert (found is word) if one.fit == "equal" else (found is not word), word.key
    for concept in known.concepts(fields=True):
        for one in concept.known_as:
            assert (one.coding.key in concept.keys) == (one.fit == "equal" and not one.where), concept.path
