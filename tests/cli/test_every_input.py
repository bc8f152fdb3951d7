"""Every verb x every kind of input: it takes the input, reads what it wrote, and says of several how to choose one.

The shapes are those of FHIR R4 (search, bundle, NDJSON of HL7's bulk data) and of our own records; the clients are
invented.
"""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.cli.receiving import tree
from tests.intake.foreign.inputs import bundle, client, cm, length, obs, wound
from woundfhir.intake.formats import FORMATS
from woundfhir.r4 import jsonio, ndjson, xmlio
from woundfhir.record import History

Json = Any
SERVER = "http://one.example.org/fhir"
CARD = "urn:example:card"


def person(name: str, size: str) -> list[Json]:
    """What a server keeps of one client: the client, a wound, length and width."""
    here = {"reference": f"Patient/{name}"}
    who = client(name, identifier=[{"system": CARD, "value": f"card-{name}"}])
    of = {"of": here, "focus": [{"reference": f"Condition/w-{name}"}]}
    sizes = [length(f"l-{name}", Decimal(size), **of), obs(f"b-{name}", "39125-0", valueQuantity=cm(1), **of)]
    return [who, wound(f"w-{name}", of=here), *sizes]


def bundled(people: list[list[Json]], path: Path) -> Path:
    return _write(path / "in.json", jsonio.encode(bundle("collection", *_all(people))))


def in_xml(people: list[list[Json]], path: Path) -> Path:
    return _write(path / "in.xml", xmlio.encode(bundle("collection", *_all(people))))


def one_a_line(people: list[list[Json]], path: Path) -> Path:
    return _write(path / "in.ndjson", ndjson.write(_all(people)))


def by_type(people: list[list[Json]], path: Path) -> Path:
    folder = path / "export"
    folder.mkdir()
    for kind in ("Patient", "Condition", "Observation"):
        some = [one for one in _all(people) if one["resourceType"] == kind]
        _write(folder / f"{kind}.ndjson", ndjson.write(some))
    return folder


def pages(people: list[list[Json]], path: Path) -> Path:
    """One search on one server, a page for each type of resource."""
    folder = path / "pages"
    folder.mkdir()
    for number in range(4):
        some = [one[number] for one in people]
        links = [{"relation": "self", "url": f"{SERVER}/Patient?page={number}"}]
        if number < 3:
            links.append({"relation": "next", "url": f"{SERVER}/Patient?page={number + 1}"})
        _write(folder / f"{number}.json", jsonio.encode(bundle("searchset", *some, link=links)))
    return folder


def records(form: str) -> Any:
    def make(people: list[list[Json]], path: Path) -> Path:
        from woundfhir import from_fhir

        one = FORMATS[form]
        some = [from_fhir(resources).history for resources in people]
        return _write(path / f"in{one.suffixes[0]}", one.write_many(some))

    return make


def _all(people: list[list[Json]]) -> list[Json]:
    return [one for some in people for one in some]


def _write(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


#: Kinds of input that may hold several clients, and those of one alone.
MANY = {
    "a Bundle": bundled,
    "a Bundle in XML": in_xml,
    "resources one a line": one_a_line,
    "a file for each type": by_type,
    "pages of a search": pages,
    "records one a line": records("record-ndjson"),
    "a table of records": records("csv"),
}
ONE = {**MANY, "a record": records("record"), "a record in JSON": records("record-json")}
#: Verb -> what it is asked, of one client.
VERBS: dict[str, list[str]] = {
    "convert": ["--to", "record"],
    "check": ["--fail-on", "never"],
    "bundle": ["--as", "collection"],
    "trend": ["--format", "csv"],
    "audit": [],
    "new": [],
    "receive": [],
    "compare": [],
    "rebuild": [],
    "form": [],
}


def ask(said: Any, verb: str, path: Path, into: Path, *more: str) -> tuple[int, str, str]:
    """Run a verb on an input; what only a client's folder has, is received first."""
    if verb == "compare":
        return said("compare", path, path, *more)  # type: ignore[no-any-return]
    if verb == "rebuild":
        code, out, err = said("receive", path, "--into", into, *more)
        return said("rebuild", into) if code < 2 else (code, out, err)  # type: ignore[no-any-return]
    if verb == "form":
        made = said("convert", path, "--to", "record-json", *more)
        if made[0] == 2:
            return made  # type: ignore[no-any-return]
        visit = History.of(jsonio.decode(made[1].encode())).visits[0]
        named = ("--visit", visit["id"], "--wound", visit["wounds"][0]["wound"])
        return said("form", path, *named, *more)  # type: ignore[no-any-return]
    return said(verb, path, *VERBS[verb], *more)  # type: ignore[no-any-return]


@pytest.mark.parametrize("kind", ONE)
@pytest.mark.parametrize("verb", VERBS)
def test_it_takes_the_input_of_one_client(verb: str, kind: str, said: Any, tmp_path: Path) -> None:
    code, out, err = ask(said, verb, ONE[kind]([person("a", "1.11")], tmp_path), tmp_path / "in")
    assert code in (0, 1), err
    if verb not in ("check", "audit", "new", "receive", "compare"):  # these show no answer
        assert "1.11" in out
    if verb in ("convert", "compare", "rebuild", "bundle", "new", "form"):
        assert code == 0, err


@pytest.mark.parametrize("kind", MANY)
@pytest.mark.parametrize("verb", VERBS)
def test_of_several_it_says_how_to_choose_one(verb: str, kind: str, said: Any, tmp_path: Path) -> None:
    path = MANY[kind]([person("a", "1.11"), person("b", "2.22")], tmp_path)
    if verb in ("check", "audit", "trend"):  # they take many
        code, out, _ = ask(said, verb, path, tmp_path / "in")
        assert code in (0, 1)
        assert verb != "audit" or "2 records" in out or "2" in out.split("\n", 1)[0]
    elif verb != "form":
        code, out, err = ask(said, verb, path, tmp_path / "in")
        assert (code, out) == (2, ""), err
        assert "2 clients" in err and "--patient" in err
    if verb == "audit":
        return
    code, out, err = ask(said, verb, path, tmp_path / "in", "--patient", "card-b")
    assert code in (0, 1), err
    assert "1.11" not in out + err and "card-a" not in out + err


@pytest.mark.parametrize("kind", MANY)
def test_only_the_part_of_the_client_is_kept_and_it_makes_the_record_again(
    kind: str, said: Any, tmp_path: Path
) -> None:
    path, into = MANY[kind]([person("a", "1.11"), person("b", "2.22")], tmp_path), tmp_path / "in"
    assert said("receive", path, "--patient", "2", "--into", into)[0] in (0, 1)
    kept = tree(into)
    assert not any(b"1.11" in content or b"card-a" in content for content in kept.values())
    assert any(b"2.22" in content for name, content in kept.items() if name.startswith("received/"))
    assert b'"part_of"' in kept["received/order.json"]
    assert said("rebuild", into)[0] == 0
    again = said("receive", path, "--patient", "card-b", "--into", into)
    assert "Here already, the same" in again[1] and tree(into) == kept
    code, _, err = said("receive", path, "--patient", "card-a", "--into", into)
    assert code == 2 and "these may be two clients" in err
    assert tree(into) == kept


@pytest.mark.parametrize("kind", ONE)
def test_who_is_not_there_is_not_received(kind: str, said: Any, tmp_path: Path) -> None:
    path, into = ONE[kind]([person("a", "1.11")], tmp_path), tmp_path / "in"
    code, _, err = said("receive", path, "--patient", "card-b", "--into", into)
    assert code == 2 and "none fits" in err
    assert not into.exists() or tree(into) == {}


def test_a_resource_alone_is_received(said: Any, tmp_path: Path) -> None:
    path, into = _write(tmp_path / "one.json", jsonio.encode(person("a", "1.11")[0])), tmp_path / "in"
    assert said("receive", path, "--into", into)[0] in (0, 1)
    assert said("rebuild", into)[0] == 0


def test_an_answer_of_a_server_is_not_received(said: Any, tmp_path: Path) -> None:
    issue = [{"severity": "error", "code": "processing"}]
    path = _write(tmp_path / "no.json", jsonio.encode({"resourceType": "OperationOutcome", "issue": issue}))
    code, out, err = said("receive", path, "--into", tmp_path / "in")
    assert (code, out) == (2, "") and "OperationOutcome" in err


def test_an_audit_reads_files_that_are_one_input_together(said: Any, tmp_path: Path) -> None:
    by_type([person("a", "1.11"), person("b", "2.22")], tmp_path)
    (tmp_path / "broken.json").write_bytes(b'{"resourceType": "Patient"')
    code, out, err = said("audit", tmp_path, "--format", "json")
    assert code == 1 and "broken.json" in err
    assert '"records": 2' in out or '"records":2' in out
