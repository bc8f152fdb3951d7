"""Rows say what the record says: every answer once, none that does not count, numbers exact."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings

import woundfhir
from tests import strategies
from tests.flat import many
from tests.paths import ROOT
from woundfhir import History, InputError, to_rows
from woundfhir.catalogue import catalogue
from woundfhir.chart import open_record
from woundfhir.flat import NAMES, tables, version

Json = Any
TYPES = {"string": str, "decimal": Decimal, "integer": int, "boolean": bool, "date": date}


def rows(raw: Json, table: str = "facts") -> list[Json]:
    return list(to_rows(History.of(raw), table))


def seen(**groups: Json) -> Json:
    visit = {"id": "V1", "at": "2026-03-02", "wounds": [{"wound": "W1", **groups}]}
    return {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [visit]}


# -- nothing is lost, nothing is joined, nothing is invented ---------------------------------------


def stands(value: Json, path: str, *places: int) -> Iterator[tuple[str, tuple[int, ...], str]]:
    """Yield path, numbers and text of every answer below a value of a plain record."""
    if isinstance(value, str):
        yield path, places, value
    elif isinstance(value, list):
        for number, one in enumerate(value, 1):
            yield from stands(one, path, *places, number)
    elif value.keys() == {"absent"}:
        found = catalogue().answers["absent_reason"].find(value["absent"])
        yield path, places, f"absent: {found.word if found else value['absent']}"
    else:
        yield from below(value, path, places)


def below(value: Json, path: str, places: tuple[int, ...]) -> Iterator[tuple[str, tuple[int, ...], str]]:
    if catalogue().concept(path).shape == "share":
        for number, (word, share) in enumerate(value.items(), 1):
            (_, _, text) = next(stands(share, path))
            yield path, (*places, number), text if text.startswith("absent: ") else f"{word}: {text}"
        return
    for key, one in value.items():
        yield from stands(one, f"{path}.{key}", *places)


def expected(history: History) -> Counter[Any]:
    """Every answer of the notes that count, by the plain record."""
    found: Counter[Any] = Counter()

    def take(visit: str | None, wound: str | None, group: str, answers: Json, *places: int) -> None:
        for key, value in answers.items():
            if (key in catalogue().groups.get(group, {}) or key == "note") and f"{group}.{key}" != "photo.data":
                for path, numbers, text in stands(value, f"{group}.{key}", *places):
                    found[visit, wound, path, numbers, text] += 1

    real = {one["id"] for one in history.wounds if one.get("status") != "entered in error"}
    for wound in history.wounds:
        if wound["id"] in real:
            take(None, wound["id"], "wound", wound)
    for view in open_record(history).counted:
        take(view.id, None, "visit", view.data)
        take(view.id, None, "client", view.data.get("client", {}))
        for entry in view.data.get("wounds", ()):
            if entry["wound"] in real:
                for group in ("assessment", "care", "plan"):
                    take(view.id, entry["wound"], group, entry.get(group, {}))
                for key, group in (("supplies", "supply"), ("photos", "photo")):
                    for number, one in enumerate(entry.get(key, ()), 1):
                        take(view.id, entry["wound"], group, one, number)
                take(view.id, entry["wound"], "entry", {key: entry[key] for key in ("note",) if key in entry})
    return found


@settings(max_examples=60)
@given(strategies.records())
def test_the_facts_are_the_answers_each_once(raw: Json) -> None:
    history = History.of(raw)
    found: Counter[Any] = Counter()
    for row in to_rows(history):
        places = tuple(row[key] for key in ("item", "number") if row[key] is not None)
        text = f"absent: {row['absent']}" if row["absent"] is not None else row["written"]
        found[row["visit_id"], row["wound_id"], row["concept"], places, text] += 1
    assert found == expected(history)


@settings(max_examples=30)
@given(strategies.records())
def test_every_row_keeps_to_the_schema(raw: Json) -> None:
    history = History.of(raw)
    for name, table in tables().items():
        keys = Counter()
        for row in to_rows(history, name):
            assert tuple(row) == table.names
            keys[tuple(row[key] for key in table.key)] += 1
            for column in table.columns:
                if (value := row[column.name]) is not None and column.type in TYPES:
                    assert type(value) is TYPES[column.type], (name, column.name)
        assert all(count == 1 for count in keys.values()), name


def test_sums_over_a_thousand_records_are_those_of_the_records() -> None:
    """Length in cm from cm, mm and inches; supplies in pieces; worked out with fractions from the plain records."""
    raws = list(many.records(1000))
    histories = [History.of(raw) for raw in raws]
    sides = ("length", "width", "depth")
    wanted: Counter[str] = Counter()
    pieces: Counter[str] = Counter()
    for raw in raws:
        for _, entry in many.entries(raw):
            for key in sides:
                wanted[key] += many.length_cm(entry["assessment"].get(key)) or Fraction(0)
            for used in entry.get("supplies", ()):
                if used["quantity"].isdigit():
                    pieces[used["item"]] += int(used["quantity"])
    found: Counter[str] = Counter()
    for row in to_rows(histories, "sizes"):
        for key in sides:
            found[key] += Fraction(row[key] or 0)
    assert found == wanted and min(wanted.values()) > 1000
    of_facts: Counter[str] = Counter()
    for row in to_rows(histories):
        group, _, key = row["concept"].partition(".")
        if group == "assessment" and key in sides and row["unit"] == "cm":
            of_facts[key] += Fraction(row["value"] or 0)
    assert of_facts == wanted
    used_up: Counter[str] = Counter()
    for row in to_rows(histories, "supplies"):
        if row["quantity_unit"] is None and row["quantity"] is not None:
            used_up[row["item_written"]] += int(row["quantity"])
    assert used_up == pieces


# -- what a number says ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "value", "unit", "comparator"),
    [
        ("4.10 cm", "4.10", "cm", None),
        ("41 mm", "4.1", "cm", None),
        ("2 inches", "5.08", "cm", None),  # 2.54 cm to the inch, by definition (1959)
        ("<0.5 cm", None, "cm", "<"),
        ("4.2", "4.2", None, None),
        ("3 thumbs", "3", "thumbs", None),
        ("123456789012345678 cm", "123456789012345678", "cm", None),
        ("0.12345678901234567 cm", "0.12345678901234567", "cm", None),
    ],
)
def test_a_number_stands_in_one_unit_and_as_written(written: str, value: str, unit: str, comparator: str) -> None:
    (row,) = rows(seen(assessment={"length": written}))
    assert (row["unit"], row["comparator"], row["written"]) == (unit, comparator, written)
    assert (row["value"] is None and value is None) or str(row["value"]) == value
    (size,) = rows(seen(assessment={"length": written}), "sizes")
    assert str(size["length"]) == str(value if unit == "cm" else None) and size["length_written"] == written


def test_none_absent_and_not_written_differ() -> None:
    charted = {"tunnels": "nil", "undermining": {"absent": "not assessed"}, "depth": {"absent": "declined"}}
    found = {row["concept"]: (row["word"], row["absent"]) for row in rows(seen(assessment=charted))}
    assert found == {
        "assessment.tunnels": ("none", None),
        "assessment.undermining": (None, "not performed"),
        "assessment.depth": (None, "declined"),
    }
    (size,) = rows(seen(assessment=charted), "sizes")
    assert (size["depth"], size["depth_absent"], size["length"], size["length_absent"]) == (
        None,
        "declined",
        None,
        None,
    )


def test_what_does_not_count_has_no_row() -> None:
    raw = seen(assessment={"length": "4 cm"})
    raw["wounds"].append({"id": "W2", "status": "entered in error"})
    first = raw["visits"][0]
    first["wounds"].append({"wound": "W2", "assessment": {"length": "9 cm"}})
    new = {
        "id": "V2",
        "at": "2026-03-02",
        "status": "amended",
        "replaces": "V1",
        "wounds": [{"wound": "W1", "note": "x"}],
    }
    raw["visits"] += [
        new,
        {**first, "id": "V3", "status": "draft"},
        {**first, "id": "V4", "status": "entered in error"},
    ]
    for name in NAMES:
        assert {row.get("visit_id") for row in rows(raw, name)} <= {None, "V2"}
        assert {row.get("wound_id") for row in rows(raw, name)} <= {None, "W1"}
    assert [row["visit_id"] for row in rows(raw, "visits")] == ["V2"] and rows(raw, "sizes") == []


def test_times_stand_as_written_with_the_instants_that_they_can_mean() -> None:
    raw = seen()
    raw["zone"] = "America/Toronto"
    times = ("2026-03-02T23:30:00-05:00", "2026-03", "2026-03-02", "last spring")
    raw["visits"] = [
        {"id": f"V{number}", "at": at, "written": "2026-04-01T00:00:00Z"} for number, at in enumerate(times)
    ]
    found = {row["at"]: row for row in rows(raw, "visits")}
    night, month, day, words = (found[at] for at in times)
    assert str(night["day"]) == "2026-03-02" and night["at_earliest"] == night["at_latest"]
    assert night["at_earliest"].isoformat() == "2026-03-03T04:30:00+00:00"
    assert month["day"] is None and month["at_earliest"].isoformat() == "2026-03-01T05:00:00+00:00"
    assert month["at_latest"].isoformat() == "2026-04-01T03:59:59.999999+00:00"  # summer time by then
    assert str(day["day"]) == "2026-03-02"
    assert (words["day"], words["at_earliest"], words["at_latest"].isoformat()) == (
        None,
        None,
        "2026-04-01T00:00:00+00:00",
    )


# -- odd histories ---------------------------------------------------------------------------------


def test_a_client_without_visits_has_wounds_and_nothing_else() -> None:
    raw = {"woundfhir": 1, "patient": {"born": "1948"}, "wounds": [{"id": "W1", "kind": "burn"}], "visits": []}
    assert {name: len(rows(raw, name)) for name in NAMES if name != "findings"} == {
        "facts": 1, "clients": 1, "visits": 0, "wounds": 1, "sizes": 0, "changes": 0, "supplies": 0, "plans": 0,
    }  # fmt: skip
    (wound,) = rows(raw, "wounds")
    assert (wound["episodes"], wound["first_day"], wound["closed_day"]) == (0, None, None)


def reopened() -> Json:
    raw = seen()
    measured = [("4 cm", "2 cm"), ("2 cm", "2 cm"), ("0 cm", "0 cm"), ("3 cm", "1 cm"), ("15 mm", "1 cm")]
    raw["visits"] = []
    for week, (long, wide) in enumerate(measured):
        entry = {"wound": "W1", "assessment": {"length": long, "width": wide}}
        raw["visits"].append({"id": f"V{week}", "at": f"2026-03-{1 + week * 7:02d}", "wounds": [entry]})
    return raw


def test_nothing_is_compared_across_a_closure() -> None:
    found = rows(reopened(), "sizes")
    assert [row["episode"] for row in found] == [1, 1, 1, 2, 2]
    assert [row["change_from_first"] for row in found] == [None, -50, -100, None, -50]
    assert [row["change_from_last"] for row in found] == [None, -50, -100, None, -50]
    (wound,) = rows(reopened(), "wounds")
    assert (wound["episodes"], str(wound["episode_day"]), wound["closed_day"]) == (2, "2026-03-22", None)
    closed = reopened()
    del closed["visits"][3:]
    (wound,) = rows(closed, "wounds")
    assert (wound["episodes"], str(wound["closed_day"])) == (1, "2026-03-15")


def test_the_change_is_that_of_trend() -> None:
    """The last change since the first, of every wound of the stories, is what ``trend`` says of it."""
    from woundfhir.measures.course import course

    for story in ("leg-and-sacrum", "skin-tear"):
        history = woundfhir.read(ROOT / "examples" / story / "story.yaml").history
        found = {
            row["wound_id"]: row["change_from_first"] for row in to_rows(history, "sizes") if row["area"] is not None
        }
        for wound, change in found.items():
            trend = course(history, wound).since_first
            assert (change is None and trend is None) or round(trend or Decimal(0), 6) == change


def test_two_wounds_of_one_description_stay_two() -> None:
    raw = seen()
    raw["wounds"] = [
        {"id": "left", "kind": "skin tear", "site": "shin"},
        {"id": "right", "kind": "skin tear", "site": "shin"},
    ]
    raw["visits"][0]["wounds"] = [{"wound": "left", "note": "a"}, {"wound": "right", "note": "b"}]
    assert len({row["wound"] for row in rows(raw, "wounds")}) == 2
    assert {(row["wound_id"], row["written"]) for row in rows(raw) if row["concept"] == "entry.note"} == {
        ("left", "a"),
        ("right", "b"),
    }


# -- bad input -------------------------------------------------------------------------------------


def test_two_records_of_one_client_are_refused() -> None:
    raw = {**seen(), "patient": {"identifiers": [{"system": "urn:example", "value": "1"}]}}
    with pytest.raises(InputError, match="a record of the same client already") as refused:
        list(to_rows([History.of(raw, "a.yaml"), History.of(raw, "b.yaml")]))
    assert str(refused.value).startswith("b.yaml: ")


def test_an_unknown_table_is_named_with_what_is_near() -> None:
    with pytest.raises(InputError, match=r"there is no such table; .*Did you mean supplies\?"):
        to_rows(History.of(seen()), "suplies")
    with pytest.raises(InputError, match="one of them is of type dict"):
        list(to_rows(iter([seen()])))  # type: ignore[list-item]


def test_the_names_of_the_tables_and_their_version_are_what_is_published() -> None:
    """A change of the schema has to change its version: then write the new digest here."""
    from hashlib import sha256

    shape = "\n".join(
        f"{name} {column.name} {column.type} {column.unit}" for name, one in tables().items() for column in one.columns
    )
    assert (version(), sha256(shape.encode()).hexdigest()[:12]) == ("1.0", "e66b64e6c839")
