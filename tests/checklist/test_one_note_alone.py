"""One note judged alone gives what the verdict on the whole record says of it."""

from __future__ import annotations

from typing import Any

import pytest

from tests.paths import ROOT
from woundfhir.checklist import judge
from woundfhir.checklist.one_note import of_note
from woundfhir.errors import InputError
from woundfhir.intake.source import parse
from woundfhir.record import History

PATHS = [ROOT / "woundfhir" / "demo" / "story.yaml", *sorted((ROOT / "examples").rglob("*.yaml"))]


def records() -> list[Any]:
    found = []
    for path in PATHS:
        try:
            found.append(pytest.param(parse(path.read_bytes(), path.name).history, id=path.name))
        except InputError:  # no record, or one that is refused on purpose
            continue
    return found


@pytest.mark.parametrize("history", records())
@pytest.mark.parametrize("left_out", ["", "assessment", "care", "by"])
def test_a_note_alone_is_judged_as_within_the_whole(history: History, left_out: str) -> None:
    visits = [{key: value for key, value in visit.items() if key != left_out} for visit in history.visits]
    for visit in visits:
        entries = visit.get("wounds", ())
        visit["wounds"] = [{key: value for key, value in one.items() if key != left_out} for one in entries]
    history = History.of({**history.data, "visits": visits})
    whole = judge(history)
    for visit in history.visits:
        try:
            wanted = of_note(whole, history, visit["id"])
        except InputError:  # replaced, or in error
            continue
        alone = judge(history, note=visit["id"])
        assert alone.notes == 1
        found = of_note(alone, history, visit["id"])
        assert found.findings == wanted.findings
        assert found.answered == wanted.answered
        assert (found.notes, found.drafts, found.unanswered) == (wanted.notes, wanted.drafts, wanted.unanswered)
