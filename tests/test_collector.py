"""The garbage collector is as it was after every public call, also after one that fails."""

from __future__ import annotations

import gc
import weakref
from collections.abc import Callable, Iterator
from typing import Any

import pytest

import woundfhir
from woundfhir import collector
from woundfhir.errors import InputError
from woundfhir.record import History

HISTORY = History.of({"woundfhir": 1, "patient": {"born": "1948-03"}})
CALLS: list[Callable[[], Any]] = [
    lambda: woundfhir.to_fhir(HISTORY),
    lambda: woundfhir.bundle(HISTORY, "collection"),
    lambda: woundfhir.dumps(HISTORY, format="fhir-json"),
    lambda: woundfhir.loads('{"resourceType":"Patient","birthDate":"1948-03"}'),
    lambda: woundfhir.from_fhir({"resourceType": "Patient", "birthDate": "1948-03"}),
    lambda: woundfhir.check(HISTORY),
]


@pytest.fixture(autouse=True)
def _as_before() -> Iterator[None]:
    before = gc.isenabled()
    yield
    gc.enable() if before else gc.disable()


@pytest.mark.parametrize("works", [True, False])
@pytest.mark.parametrize("call", CALLS)
def test_it_is_as_it_was(call: Callable[[], Any], works: bool) -> None:
    gc.enable() if works else gc.disable()
    call()
    assert gc.isenabled() is works


def test_it_is_as_it_was_after_an_error() -> None:
    gc.enable()
    with pytest.raises(InputError):
        woundfhir.from_fhir([{"resourceType": "Patient", "id": name, "gender": "female"} for name in ("a", "b")])
    assert gc.isenabled()


def test_what_was_made_is_taken_as_old_and_circles_in_it_are_still_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(collector, "_MANY", 10)
    alive: list[weakref.ref[_Circle]] = []
    kept: list[list[int]] = []
    gc.enable()
    for _ in range(2 * collector._EACH):
        with collector.resting():
            kept += [[] for _ in range(1_000)]
            circle = _Circle()
            circle.self = circle
            alive.append(weakref.ref(circle))
            del circle
        assert gc.get_freeze_count() == 0
    assert sum(one() is not None for one in alive) < collector._EACH


def test_what_somebody_froze_stays_frozen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(collector, "_MANY", -1)
    gc.enable()
    gc.freeze()
    try:
        woundfhir.to_fhir(HISTORY)
        assert gc.get_freeze_count()
    finally:
        gc.unfreeze()


class _Circle:
    self: _Circle
