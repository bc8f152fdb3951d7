"""Many clients in one input come back as so many histories, in every form, and never as one."""

from __future__ import annotations

import random as chance
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from tests.strategies import records
from woundfhir import InputError, bundle, from_fhir, merge, read, read_many, to_fhir
from woundfhir.intake.formats import FORMATS
from woundfhir.intake.source import histories
from woundfhir.r4 import jsonio
from woundfhir.record import History

Json = Any
BASE = "https://one.example.org/fhir"


def numbered(raws: list[dict[str, Any]]) -> list[History]:
    """Clients with a number each; names, births and all else may be the same."""
    for number, raw in enumerate(raws):
        raw["patient"]["identifiers"] = [{"system": "urn:example:clinic", "value": f"C-{number}"}]
    return [History.of(raw) for raw in raws]


def entries(history: History) -> list[Json]:
    return [{"fullUrl": f"{BASE}/{r['resourceType']}/{r['id']}", "resource": r} for r in to_fhir(history)]


def pages(found: list[Json], size: int) -> list[Json]:
    """A search on one server in pages, as R4 (http, search) describes them."""
    cut = [found[start : start + size] for start in range(0, len(found), size)]
    links = [[{"relation": "self", "url": f"{BASE}?page={n}"}] for n in range(len(cut))]
    for n in range(len(cut) - 1):
        links[n].append({"relation": "next", "url": f"{BASE}?page={n + 1}"})
    return [
        {"resourceType": "Bundle", "type": "searchset", "link": link, "entry": some}
        for link, some in zip(links, cut, strict=True)
    ]


# -- forms: a list of clients to what read_many takes ------------------------------------------------

#: Shrinking two whole records takes minutes, and says no more.
NO_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)
Write = Callable[[list[History], chance.Random, Path], Json]


def shuffled(items: list[Json], random: chance.Random) -> list[Json]:
    return random.sample(items, len(items))


def _ndjson(clients: list[History], random: chance.Random, folder: Path) -> Json:
    return b"".join(jsonio.encode(r) + b"\n" for r in shuffled([r for c in clients for r in to_fhir(c)], random))


def _a_file_a_type(clients: list[History], random: chance.Random, folder: Path) -> Json:
    found: dict[str, list[bytes]] = {}
    for one in shuffled([r for c in clients for r in to_fhir(c)], random):
        found.setdefault(one["resourceType"], []).append(jsonio.encode(one) + b"\n")
    for kind, lines in found.items():
        (folder / f"{kind}.ndjson").write_bytes(b"".join(lines))
    return folder


def _bundles(clients: list[History], random: chance.Random, folder: Path) -> Json:
    return shuffled([bundle(one, "collection") for one in clients], random)


def _one_bundle(clients: list[History], random: chance.Random, folder: Path) -> Json:
    inner = [entry for one in clients for entry in bundle(one, "collection")["entry"]]
    return {"resourceType": "Bundle", "type": "collection", "entry": shuffled(inner, random)}


def _transactions(clients: list[History], random: chance.Random, folder: Path) -> Json:
    inner = [entry for one in clients for entry in bundle(one, "transaction")["entry"]]
    return {"resourceType": "Bundle", "type": "transaction", "entry": shuffled(inner, random)}


def _pages(clients: list[History], random: chance.Random, folder: Path) -> Json:
    return shuffled(pages(shuffled([e for c in clients for e in entries(c)], random), 3), random)


def _records(clients: list[History], random: chance.Random, folder: Path) -> Json:
    return FORMATS["record-ndjson"].write_many(shuffled(clients, random))


def _table(clients: list[History], random: chance.Random, folder: Path) -> Json:
    return FORMATS["csv"].write_many(shuffled(clients, random))


def _folder(clients: list[History], random: chance.Random, folder: Path) -> Json:
    forms = ["record", "record-json", "csv", "ndjson", "fhir-json", "fhir-xml", "record-ndjson"]
    for number, one in enumerate(clients):
        form = FORMATS[random.choice(forms)]
        (folder / f"{number}{form.suffixes[0]}").write_bytes(form.write(one))
    return folder


def _decoded(clients: list[History], random: chance.Random, folder: Path) -> Json:
    return shuffled([r for c in clients for r in to_fhir(c)], random)


def _mixed_lines(clients: list[History], random: chance.Random, folder: Path) -> Json:
    half = len(clients) // 2
    lines = [jsonio.encode(r) + b"\n" for c in clients[half:] for r in to_fhir(c)]
    return b"".join(shuffled([FORMATS["record-ndjson"].write(c) for c in clients[:half]] + lines, random))


WRITE: dict[str, Write] = {
    "NDJSON": _ndjson,
    "a folder with one file a resource type": _a_file_a_type,
    "Bundles": _bundles,
    "one Bundle": _one_bundle,
    "one transaction": _transactions,
    "pages of a search": _pages,
    "records one a line": _records,
    "a table": _table,
    "a folder of files": _folder,
    "decoded resources": _decoded,
    "records and resources in one file": _mixed_lines,
}


def said(history: History) -> Json:
    """All that is said, whatever the order of lists: shuffled resources put them in another one."""
    data = {key: value for key, value in history.data.items() if key != "extra"}
    return unordered(data)


def unordered(value: Json) -> Json:
    if isinstance(value, dict):
        return {key: unordered(item) for key, item in value.items()}
    return sorted((unordered(item) for item in value), key=repr) if isinstance(value, list) else value


def number_of(one: History) -> str:
    return str(one.patient["identifiers"][0]["value"])


@pytest.mark.parametrize("form", WRITE)
@settings(max_examples=15, phases=NO_SHRINKING)
@given(raws=st.lists(records(most_visits=1), min_size=2, max_size=4), random=st.randoms(use_true_random=False))
def test_so_many_clients_come_back(form: str, raws: list[dict[str, Any]], random: Any, tmp_path_factory: Any) -> None:
    clients = numbered(raws)
    found = list(read_many(WRITE[form](clients, random, tmp_path_factory.mktemp("many"))))
    assert sorted(number_of(one.history) for one in found) == sorted(number_of(one) for one in clients)
    back = {number_of(one.history): one.history for one in found}
    ids: set[str] = set()
    for client in clients:
        one = back[number_of(client)]
        assert said(client) == said(one), form
        mine = {f"{r['resourceType']}/{r['id']}" for r in to_fhir(one)}
        assert not mine & ids, "two clients share an id"
        ids |= mine


@pytest.mark.parametrize("form", ["NDJSON", "one Bundle", "pages of a search", "decoded resources"])
def test_where_one_client_is_needed_it_says_how_many_there_are(form: str, tmp_path: Path) -> None:
    clients = numbered([{"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}]} for _ in range(3)])
    written = WRITE[form](clients, chance.Random(1), tmp_path)
    with pytest.raises(InputError, match="of 3 clients") as caught:
        from_fhir(written) if isinstance(written, list) else read(written)
    assert "--patient" in str(caught.value)
    assert "C-" not in str(caught.value)


@settings(max_examples=40, phases=NO_SHRINKING)
@given(st.lists(records(most_visits=1), min_size=2, max_size=2))
def test_no_two_clients_are_merged(raws: list[dict[str, Any]]) -> None:
    one, other = numbered(raws)
    with pytest.raises(InputError, match="these may be two clients"):
        merge(one, other)


def test_one_page_of_a_search_goes_by_its_own_name_and_several_by_that_of_the_first() -> None:
    (history,) = numbered([{"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}]}])
    found = [(f"{number}.json", jsonio.encode(page)) for number, page in enumerate(pages(entries(history), 1))]
    assert [one.name for one in histories(found[:1])] == ["0.json"]
    assert [one.name for one in histories(found)] == [f"0.json and {len(found) - 1} more"]
