"""Nothing that was written is lost, and nothing is written over unseen."""

from __future__ import annotations

import json
from pathlib import Path
from threading import Thread

import pytest
from hypothesis import given
from hypothesis import strategies as st

from woundfhir.errors import InputError
from woundfhir.page.draft import SUFFIX, Draft, begin, changing, read, throw_away

NAMES = st.sampled_from(["assessment.odour", "assessment.length", "care.securement[0].method"])
WORDS = st.lists(st.sampled_from(["none", "faint", "4", "5"]), max_size=1)
#: Which window, how much of the draft it has seen, what it sends.
SENDINGS = st.lists(st.tuples(st.integers(0, 1), NAMES, WORDS), max_size=12)


@given(SENDINGS)
def test_two_windows_write_nothing_over_unseen(sendings: list[tuple[int, str, list[str]]]) -> None:
    draft = Draft("d1")
    seen = [0, 0]
    shown: list[dict[str, list[str]]] = [{}, {}]
    for window, name, new in sendings:
        before = {key: list(value) for key, value in draft.of("W1").items()}
        conflicts = draft.send("W1", {name: new}, seen[window], f"nurse {window}")
        now = draft.of("W1").get(name, [])
        if conflicts:
            assert now == before.get(name, [])  # it stays
            assert before.get(name, []) != shown[window].get(name, [])  # this window had not seen it
            assert conflicts[0].sent == new  # and what was sent is not lost
        else:
            assert now == new or new == shown[window].get(name, [])
        seen[window], shown[window] = draft.number, {key: list(value) for key, value in draft.of("W1").items()}


@given(SENDINGS)
def test_the_journal_gives_every_earlier_state(sendings: list[tuple[int, str, list[str]]]) -> None:
    draft = Draft("d1")
    states = {0: dict[str, list[str]]()}
    for _, name, new in sendings:
        draft.put("W1", {name: new})
        states[draft.number] = {key: list(value) for key, value in draft.of("W1").items()}
    for number, state in states.items():
        for name in ("assessment.odour", "assessment.length", "care.securement[0].method"):
            assert draft.was("W1", name, number) == state.get(name, [])


def test_what_is_changed_is_no_longer_marked_as_taken_over() -> None:
    draft = Draft("d1")
    draft.carry("W1", {"care.cleansing.solution": ["normal saline"], "care.securement[0].method": ["tape"]}, "V8")
    draft.send("W1", {"care.cleansing.solution": ["sterile water"]}, draft.number)
    assert draft.marks("W1") == {"care.securement": "V8"}


def test_two_windows_at_once_lose_nothing(tmp_path: Path) -> None:
    draft = begin(tmp_path, {"at": "2026-04-07"})

    def work(number: int) -> None:
        for count in range(10):
            with changing(tmp_path, draft.id) as held:
                held.send("W1", {f"assessment.note_{number}_{count}": ["x"]}, held.number)

    threads = [Thread(target=work, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(read(tmp_path / f"{draft.id}{SUFFIX}").of("W1")) == 40


def test_an_error_in_the_middle_writes_nothing(tmp_path: Path) -> None:
    draft = begin(tmp_path, {})
    with pytest.raises(RuntimeError), changing(tmp_path, draft.id) as held:
        held.put("W1", {"assessment.odour": ["none"]})
        raise RuntimeError
    assert read(tmp_path / f"{draft.id}{SUFFIX}").of("W1") == {}


def test_a_draft_that_is_thrown_away_stays_under_another_name(tmp_path: Path) -> None:
    draft = begin(tmp_path, {})
    throw_away(tmp_path, draft.id)
    assert [path.name for path in tmp_path.iterdir()] == ["d1-1.thrown-away"]
    with pytest.raises(InputError, match="signed or thrown away"):
        read(tmp_path / f"{draft.id}{SUFFIX}")


def test_a_file_that_is_no_draft_is_refused_without_its_words(tmp_path: Path) -> None:
    (tmp_path / f"d1{SUFFIX}").write_text(json.dumps({"id": "Ida Example-Rowan"}))
    with pytest.raises(InputError) as refused:
        read(tmp_path / f"d1{SUFFIX}")
    assert "Ida" not in str(refused.value)
