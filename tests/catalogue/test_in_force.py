"""A catalogue holds in one context, and what is kept of it is kept apart from that of every other."""

from __future__ import annotations

import queue
import threading
from pathlib import Path

import pytest

from woundfhir.catalogue import Additions, CatalogueError, SiteFacts, catalogue, holding, load, per_catalogue
from woundfhir.fhir.terms import terms
from woundfhir.record.schema import record_schema

SITE = SiteFacts("north", "North clinic", "https://north.example/fhir", Path("north"))
ROPE = {"word": "honey rope", "code": {"system": "north", "code": "rope"}, "substances": ["honey"], "source": "North"}


def added(word: str = "honey rope") -> Additions:
    return Additions(SITE, {"north": SITE.code_system}, answers={"dressing": {"words": [{**ROPE, "word": word}]}})


@per_catalogue()
def dressings() -> int:
    answers = catalogue().answers["dressing"]
    return len(answers.words)


def test_a_catalogue_holds_in_its_block_and_nowhere_else() -> None:
    before, shipped, schema = dressings(), terms(), record_schema()
    for word in ("honey rope", "honey braid"):  # two sites, one after the other
        with holding(load(added(word))) as one:
            assert catalogue() is one
            assert dressings() == before + 1
            assert terms().catalogue is one
            assert catalogue().answers["supply_item"].find(f"{word}s") is not None  # every dressing is a supply
            seen: queue.SimpleQueue[int] = queue.SimpleQueue()
            other = threading.Thread(target=lambda put=seen.put: put(dressings()))
            other.start()
            other.join()
            assert seen.get() == before
    assert dressings() == before
    assert terms() is shipped
    assert record_schema() is schema
    assert catalogue().answers["dressing"].find("honey rope") is None


def test_a_block_that_fails_leaves_nothing_behind() -> None:
    with pytest.raises(RuntimeError), holding(load(added())):
        raise RuntimeError
    assert catalogue().site is None


def test_what_is_added_is_held_to_the_rules_of_what_is_shipped() -> None:
    with pytest.raises(CatalogueError, match="stands for two words"):
        load(added("foam"))
    with pytest.raises(CatalogueError, match="no substance"):
        load(Additions(SITE, {}, answers={"dressing": {"words": [{**ROPE, "substances": ["gold"]}]}}))


def test_the_shipped_catalogue_is_what_it_is_without_additions() -> None:
    assert load(Additions(SITE)).emitted() == catalogue().emitted()
