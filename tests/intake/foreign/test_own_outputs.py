"""What we write ourselves: each leaf has one fate, the counts add up, and what is understood changes the record."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.intake.foreign.changing import altered
from tests.intake.foreign.test_laws import bodies, decode, encode, outcome
from woundfhir.fhir import to_fhir
from woundfhir.fhir.leaves import total, words
from woundfhir.handover import bundle
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.source import read_all
from woundfhir.record import History

STORIES = sorted((Path(__file__).parents[3] / "examples").glob("*/story.yaml"))


def story(path: Path) -> History:
    (found,) = read_all([str(path)])
    return found.history


@pytest.mark.parametrize("path", STORIES, ids=lambda path: path.parent.name)
@pytest.mark.parametrize("kind", ["resources", "collection", "transaction", "document"])
def test_the_counts_add_up_and_nothing_is_left_aside(path: Path, kind: Any) -> None:
    history = story(path)
    out = to_fhir(history) if kind == "resources" else [bundle(history, kind, at="2026-03-09T10:00:00Z")]
    came = decode(encode(out))
    _, losses = from_fhir(came)
    assert sum(losses.counts.values()) == total(came)
    assert set(losses.counts) <= {"understood", "reworded", "bookkeeping"}
    assert not losses.items


def test_a_leaf_of_ours_that_is_understood_changes_the_record_when_it_changes() -> None:
    """One leaf for each path and code: no exclusions."""
    came = decode(encode(to_fhir(story(min(STORIES, key=lambda one: one.stat().st_size)))))
    before, losses = outcome(came)
    silent, tried = [], set()
    for at, resource in bodies(came):
        taken = next(one for one in losses.taken if one.came == resource)
        code = str(resource.get("code"))
        for path, kind, _ in taken.leaves():
            shape = (resource["resourceType"], code, words(tuple(0 if isinstance(s, int) else s for s in path)))
            if kind == "understood" and shape not in tried:
                tried.add(shape)
                if outcome(altered(came, (*at, *path)))[0] == before:
                    silent.append(shape)
    assert len(tried) > 100
    assert silent == []
