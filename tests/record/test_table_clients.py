"""Whose a row is, with what is known of clients on the disk: the same as where each row is held against everybody."""

from __future__ import annotations

import random
from typing import Any

import pytest

from woundfhir.errors import InputError
from woundfhir.record.clients import evidence, identifiers
from woundfhir.record.table_clients import Cell, Clients, Column, Row

CHART, CARD = ("patient", "identifiers", "1", "value"), ("patient", "identifiers", "2", "value")
BORN, NAME, SEX = ("patient", "born"), ("patient", "name"), ("patient", "sex")
POOLS: dict[Column, tuple[str, ...]] = {
    CHART: ("C-1", "c 1", "C-2", "C-3", ""),
    CARD: ("77", "78", "", ""),
    BORN: ("1950-01-02", "1950-01-03", "", "", ""),
    NAME: ("Invented One", "Invented Two", "", ""),
    SEX: ("female", "", ""),
}


class Everybody:
    """The plain way: all that is known of all clients in memory, and a row held against each of them.

    Where all of them have a number of one system that the row has too, only those with one of its numbers can be meant
    (the others have another of that system); what says the same as a row before, with a number, is of the same client.
    """

    def __init__(self) -> None:
        self.cells: list[dict[Column, str]] = []
        self.seen: dict[tuple[tuple[Column, str], ...], int] = {}
        self.patient: Any = Clients((), "a")._patient

    def of(self, row: Row) -> int | None:
        cells = {column: cell.text for column, cell in row.cells.items()}
        if not cells or (key := tuple(cells.items())) in self.seen:
            return self.seen[key] if cells else None
        same = []
        for number in self.candidates(self.patient(cells)):
            known = self.cells[number]
            graded = evidence(self.patient(cells), self.patient(known))
            other = "identifier" not in graded.agree and {"identifier", "name"} & set(graded.contradict)
            if not graded.same and not other:
                raise InputError("a", "one client, or another", "b")
            same += [number] if graded.same else []
        if len(same) > 1:
            raise InputError("a", "one client, or another", "b")
        if not same:
            self.cells.append({})
        found = same[0] if same else len(self.cells) - 1
        self.cells[found] = {**cells, **self.cells[found]}
        if identifiers(self.patient(cells)):
            self.seen[key] = found
        return found

    def candidates(self, patient: Any) -> list[int]:
        known = [identifiers(self.patient(one)) for one in self.cells]
        said = identifiers(patient)
        if not any(all(system in one for one in known) for system in said):
            return [*range(len(known))]
        mine = {(system, plain(value)) for system, values in said.items() for value in values}
        return [
            at
            for at, one in enumerate(known)
            if mine & {(system, plain(value)) for system, values in one.items() for value in values}
        ]


def plain(value: str) -> str:
    return value.casefold().replace(" ", "").replace("-", "")


def outcomes(clients: Any, rows: list[Row]) -> list[int | str | None]:
    found: list[int | str | None] = []
    for row in rows:
        try:
            found.append(clients.of(row))
        except InputError:
            found.append("refused")
    return found


@pytest.mark.parametrize("seed", range(60))
def test_a_row_is_whose_it_is_when_held_against_everybody(seed: int) -> None:
    chance = random.Random(seed)
    pools = {column: some for column, some in POOLS.items() if column is CHART or chance.random() < 0.6}
    rows = [
        Row(number, {column: Cell(text, number, 1) for column, some in pools.items() if (text := chance.choice(some))})
        for number in range(1, 40)
    ]
    clients = Clients((), "a")
    expected = outcomes(Everybody(), rows)
    assert outcomes(clients, rows) == expected
    assert clients.count == len({one for one in expected if isinstance(one, int)})


def test_a_new_chart_number_beside_the_card_of_another_founds_no_client() -> None:
    clients = Clients((), "a")
    rows = [{CHART: "C-1", CARD: "77"}, {CHART: "C-2", CARD: "78"}, {CHART: "C-3", CARD: "77"}]
    asked = [Row(n, {column: Cell(text, n, 1) for column, text in one.items()}) for n, one in enumerate(rows, 1)]
    assert outcomes(clients, asked) == [0, 1, "refused"]
    assert clients.count == 2
