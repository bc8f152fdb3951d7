"""Tables of one and of many clients, as agencies keep them: never two clients in one record, never a row lost.

The shapes (repeated columns, columns filled in once, sorted by date, pasted under each other, exported with
semicolons) are common practice in spreadsheets, no source.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.strategies import records
from woundfhir.errors import InputError
from woundfhir.intake.source import parse
from woundfhir.record import History
from woundfhir.record.table import to_csv, to_csv_many
from woundfhir.record.table_reading import read_csv

HEAD = (
    "woundfhir,patient.identifiers.1.system,patient.identifiers.1.value,patient.name.family,patient.born,patient.sex,"
)
HEAD += "wound.id,wound.side,visit.id,visit.at,assessment.length\n"
S = "urn:example:card"


def table(*rows: str, head: str = HEAD) -> str:
    return head + "".join(f"{row}\n" for row in rows)


def told(*rows: str, head: str = HEAD) -> list[tuple[str, list[str], list[str]]]:
    """Number, wounds and lengths of each client that a table holds."""
    found = []
    for one in read_csv(table(*rows, head=head), "t.csv"):
        numbers = [i.get("value", "") for i in one.patient.get("identifiers", ())]
        lengths = [e.get("assessment", {}).get("length", "") for v in one.visits for e in v.get("wounds", ())]
        found.append((",".join(numbers), [w["id"] for w in one.wounds], lengths))
    return found


TWO = [("1", ["W1"], ["1 cm", "2 cm"]), ("2", ["W1"], ["9 cm"])]

READ: dict[str, list[str]] = {
    "client columns in every row": [
        f"1,{S},1,Doe,1948,F,W1,left,V1,,1 cm",
        f"1,{S},1,Doe,1948,F,W1,left,V2,,2 cm",
        f"1,{S},2,Roe,1950,M,W1,right,V1,,9 cm",
    ],
    "client columns in the first row of each": [
        f"1,{S},1,Doe,1948,F,W1,left,V1,,1 cm",
        ",,,,,,W1,,V2,,2 cm",
        f",{S},2,Roe,1950,M,W1,right,V1,,9 cm",
    ],
    "scattered": [
        f"1,{S},1,Doe,1948,F,W1,left,V1,,1 cm",
        f"1,{S},2,Roe,1950,M,W1,right,V1,,9 cm",
        f"1,{S},1,Doe,1948,F,W1,left,V2,,2 cm",
    ],
    "only the number repeated": [
        f"1,{S},1,Doe,1948,F,W1,left,V1,,1 cm",
        f"1,{S},2,Roe,1950,M,W1,right,V1,,9 cm",
        f"1,{S},1,,,,W1,,V2,,2 cm",
    ],
    "the system written once": [
        f"1,{S},1,Doe,1948,F,W1,left,V1,,1 cm",
        "1,,1,,,,W1,,V2,,2 cm",
        "1,,2,Roe,1950,M,W1,right,V1,,9 cm",
    ],
    "numbers without a system are this table's": [
        "1,,1,Doe,1948,F,W1,left,V1,,1 cm",
        "1,,2,Roe,1950,M,W1,right,V1,,9 cm",
        "1,,1,Doe,1948,F,W1,left,V2,,2 cm",
    ],
    "same name and birth, other number": [
        f"1,{S},1,Doe,1948,F,W1,left,V1,,1 cm",
        f"1,{S},1,Doe,1948,F,W1,left,V2,,2 cm",
        f"1,{S},2,Doe,1948,F,W1,right,V1,,9 cm",
    ],
    "empty rows between": [
        f"1,{S},1,Doe,1948,F,W1,left,V1,,1 cm",
        "",
        ",,,,,,W1,,V2,,2 cm",
        ",,,,,,,,,,",
        f",{S},2,Roe,1950,M,W1,right,V1,,9 cm",
    ],
}


@pytest.mark.parametrize("rows", READ.values(), ids=list(READ))
def test_another_clients_row_begins_another_history(rows: list[str]) -> None:
    assert told(*rows) == TWO


def test_rows_without_a_name_go_on_with_the_client_above_them() -> None:
    rows = [f"1,{S},{client},Doe,1948,F,W1,left,V1,,{client} cm" for client in (1, 2, 3)]
    below = [f",,,,,,W1,,V2,,{client + 10} cm" for client in (1, 2, 3)]
    together = [row for pair in zip(rows, below, strict=True) for row in pair]
    assert told(*together) == [(str(client), ["W1"], [f"{client} cm", f"{client + 10} cm"]) for client in (1, 2, 3)]


def test_of_one_client_the_rows_without_a_name_may_stand_anywhere() -> None:
    rows = (",,,,,,W1,left,V1,,1 cm", f"1,{S},1,Doe,1948,F,W1,,V2,,2 cm", ",,,,,,W2,,V2,,3 cm")
    assert told(*rows) == [("1", ["W1", "W2"], ["1 cm", "2 cm", "3 cm"])]


A, B = f"1,{S},1,Doe,1948,F,W1,left,V1,,1 cm", f"1,{S},2,Roe,1950,M,W1,right,V1,,9 cm"
REFUSED: dict[str, tuple[list[str], str]] = {
    "birth date of another year": ([A, f"1,{S},1,Doe,1949,F,W1,,V2,,2 cm"], "row 3, column 5: it contradicts row 2"),
    "another family name": ([A, f"1,{S},1,Roe,1948,F,W1,,V2,,2 cm"], "row 3, column 4: it contradicts row 2"),
    "another sex": ([A, f"1,{S},1,Doe,1948,M,W1,,V2,,2 cm"], "row 3, column 6: it contradicts row 2"),
    "a birth date, more closely": ([A, f"1,{S},1,Doe,1948-03,F,W1,,V2,,2 cm"], "row 3, column 5: it contradicts"),
    "another side of the wound": ([A, ",,,,,,W1,right,V2,,2 cm"], "row 3, column 8: it contradicts the cell in row 2"),
    "another time of the visit": (
        [f"1,{S},1,Doe,,,W1,,V1,2026-03-02,1 cm", ",,,,,,W2,,V1,2026-03-03,2 cm"],
        "row 3, column 10: it contradicts the cell in row 2",
    ),
    "two lengths of one wound at one visit": ([A, ",,,,,,W1,,V1,,2 cm"], "row 3, column 11: it contradicts"),
    "the same, with rows between": ([A, B, f"1,{S},1,,,,W1,,V1,,2 cm"], "row 4, column 11: it contradicts the cell in"),
    "a row that names nobody, where clients are mixed": ([A, B, A, ",,,,,,W1,,V2,,2 cm"], "row 5: it names no client"),
    "a row that names nobody before two clients": ([",,,,,,W1,,V2,,2 cm", A, B], "row 2: it names no client"),
    "a name only, beside a number": ([A, "1,,,Doe,1948,F,W1,,V2,,2 cm"], "row 3, column 5: it cannot be told whether"),
    "sex only": ([A, "1,,,,,F,W1,,V2,,2 cm"], "row 3, column 6: it cannot be told whether"),
    "name and birth date only, twice": (
        ["1,,,Doe,1948,F,W1,,V1,,1 cm", "1,,,Doe,1948,F,W1,,V2,,2 cm"],
        "row 3, column 5: it cannot be told whether its client is that of row 2 (agree: birth date, name, sex;",
    ),
    "unknown, twice": (["1,,unknown,,,,W1,,V1,,1 cm", "1,,unknown,,,,W1,,V2,,2 cm"], "row 3, column 3: it cannot be"),
    "zeros, twice": ([f"1,{S},0000,,,,W1,,V1,,1 cm", f"1,{S},0000,,,,W1,,V2,,2 cm"], "row 3, column 3: it cannot be"),
    "a number without hyphens": ([A.replace(",1,Doe", ",44-1,"), A.replace(",1,Doe", ",441,")], "row 3, col"),
    "an answer without a wound": ([A, ",,,,,,,,V2,,2 cm"], "row 3, column 11: expected the columns visit.id and"),
    "a side without a wound": ([A, ",,,,,,,left,V2,,"], "row 3, column 8: expected a value in the column wound.id"),
    "a cell too many": ([A + ",x"], "row 2: expected no more cells than columns"),
    "a quote left open": ([A, '"'], "expected CSV with quotes closed"),
}  # fmt: skip


@pytest.mark.parametrize("rows, message", REFUSED.values(), ids=list(REFUSED))
def test_what_contradicts_or_cannot_be_decided_is_refused_with_its_place(rows: list[str], message: str) -> None:
    with pytest.raises(InputError) as caught:
        told(*rows)
    assert f"t.csv, {message}" in str(caught.value) or message in str(caught.value)
    for value in ("Doe", "Roe", "1948", "1949", "1950", "44", "2 cm", S):
        assert value not in str(caught.value).replace("t.csv", "")


HEADERS = {
    "a column twice": ("woundfhir,patient.born,patient.born", "row 1, column 3: it is the same as column 2"),
    "a column twice, in other letters": ("woundfhir,patient.born,Patient.Born", "row 1, column 3: it is the same"),
    "a number twice": (
        "woundfhir,patient.identifiers.1.value,patient.identifiers.01.value",
        "row 1, column 3: it is the same as column 2",
    ),
    "a column below an id": ("woundfhir,wound.id.1,visit.id\n1,a,b", "row 2, column 2: expected a value in the column"),
    "a column above an id": ("woundfhir,wound,visit.id\n1,a,b", "row 2, column 2: expected a value in the column"),
    "both": ("woundfhir,wound.id,wound.id.1,visit.id\n1,a,b,c", "row 2, column 3: expected a value in the column"),
    "an answer and its parts": (
        "woundfhir,wound.id,visit.id,assessment.odour,assessment.odour.absent\n1,W1,V1,none,declined",
        "row 2, column 5: another column holds a part of this one",
    ),
    "cells without a column": ("woundfhir,patient.born,\n1,1948,x", "row 2, column 3: expected a name in the header"),
    "nothing": ("", "expected a header row"),
}


@pytest.mark.parametrize("content, message", HEADERS.values(), ids=list(HEADERS))
def test_a_header_that_says_two_things_is_refused(content: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        read_csv(content, "t.csv")
    assert message in str(caught.value)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_semicolons_tabs_and_a_byte_order_mark_are_read(delimiter: str, mark: bytes, end: str) -> None:
    content = mark + table(A, B).replace(",", delimiter).replace("\n", end).encode()
    with pytest.raises(InputError, match="it holds the records of 2 clients"):
        parse(content, "t.csv")
    content = mark + table(A).replace(",", delimiter).replace("\n", end).encode()
    assert parse(content, "t.csv").history.wounds == [{"id": "W1", "side": "left"}]


def test_a_decimal_comma_stays_as_it_was_written() -> None:
    content = "woundfhir;wound.id;visit.id;assessment.length\n1;W1;V1;4,1 cm\n"
    (one,) = read_csv(content, "t.csv")
    assert one.visits[0]["wounds"][0]["assessment"]["length"] == "4,1 cm"


LABELS = "client,woundfhir,patient.born,wound.id\n"


def test_a_column_of_clients_decides() -> None:
    found = read_csv(LABELS + "a,1,1948,W1\nb,1,1948,W1\na,1,,W2\n", "t.csv")
    assert [[w["id"] for w in one.wounds] for one in found] == [["W1", "W2"], ["W1"]]


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ("a,1,1948,W1\na,1,1950,W2\n", "row 3, column 3: it contradicts the cell in row 2"),
        ("unknown,1,1948,W1\nunknown,1,1948,W2\n", "row 2, column 1: expected what tells this client"),
        ("a,1,1948,W1\n,1,1948,W2\n", "row 3: expected what tells this client"),
        ("a,1,1948,W1\nb,1,1948,W1\na,,,W2\n,,,W3\n", "row 5: it names no client"),
    ],
)
def test_a_column_of_clients_that_does_not_tell_them_apart_is_refused(rows: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        read_csv(LABELS + rows, "t.csv")
    assert message in str(caught.value)


@settings(max_examples=60)
@given(st.lists(records(most_visits=1), min_size=1, max_size=4))
def test_many_clients_come_back_from_one_table(raws: list[dict[str, Any]]) -> None:
    """Also clients of whom nothing is known, and two of whom the same is written."""
    histories = [History.of(raw) for raw in raws]
    assert [one.data for one in read_csv(to_csv_many(histories).decode(), "t")] == [one.data for one in histories]


@settings(max_examples=40)
@given(st.lists(records(most_visits=1), min_size=2, max_size=3), st.randoms(use_true_random=False))
def test_the_order_of_the_rows_joins_nobody(raws: list[dict[str, Any]], random: Any) -> None:
    """Tables pasted under each other and shuffled: as many clients, each with all that was written of them."""
    header, *rows = to_csv_many([History.of(plain(raw, n)) for n, raw in enumerate(raws)]).decode().split("\r\n")[:-1]
    random.shuffle(rows)
    found = read_csv("\r\n".join([header, *rows]), "t")
    back = {one.patient["identifiers"][0]["value"]: one for one in found}
    assert len(back) == len(raws)
    for number, raw in enumerate(raws):
        one, written = back[f"N-{number}"], History.of(plain(raw, number))
        assert sorted(w["id"] for w in one.wounds) == sorted(w["id"] for w in written.wounds)
        assert {v["id"] for v in one.visits} == {v["id"] for v in written.visits}


def plain(raw: dict[str, Any], number: int) -> dict[str, Any]:
    """A client with a number, without line ends inside cells, so that lines can be shuffled."""
    text = {"identifiers": [{"system": S, "value": f"N-{number}"}]}
    visits = [{"id": v["id"].split()[0], "wounds": [{"wound": e["wound"]} for e in v["wounds"]]} for v in raw["visits"]]
    wounds = [{"id": wound["id"]} for wound in raw["wounds"]]
    return {"woundfhir": 1, "patient": text, "wounds": wounds, "visits": visits}


def test_one_client_needs_no_column_of_clients() -> None:
    one = History.of({"woundfhir": 1, "patient": {"born": "1948-03"}, "wounds": [{"id": "W1"}, {"id": "W2"}]})
    assert to_csv_many([one]) == to_csv(one)
    assert b"client" not in to_csv(one)
