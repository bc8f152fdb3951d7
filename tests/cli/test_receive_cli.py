"""``receive`` and ``compare`` on the command line: output, exit codes, files; nothing written by half."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tests.cli.receiving import SECRETS, tree, whole
from woundfhir.demo import story
from woundfhir.handover import bundle
from woundfhir.handover.receive import receive
from woundfhir.handover.select import gather
from woundfhir.r4 import jsonio, xmlio
from woundfhir.record import History
from woundfhir.record.files import read_yaml, to_yaml


def test_gaps_are_listed_and_count_where_a_person_is_strict(said: Any, tmp_path: Path) -> None:
    patient = {"identifiers": [{"system": "urn:example:clinic", "value": "C-0417"}]}
    visit = {"id": "V1", "at": "2026-03-02T10:05:00Z", "status": "final", "wounds": [{"wound": "W1", "note": "seen"}]}
    record = {"woundfhir": 1, "patient": patient, "wounds": [{"id": "W1"}], "visits": [visit]}
    path = tmp_path / "came.json"
    path.write_bytes(jsonio.encode(bundle(History.of(record))))
    code, out, _ = said("receive", path)
    assert code == 0
    assert said("receive", path, "--strict")[0] == 1
    assert "  W1, visit V1: " in out.split("Missing by the transfer checklist")[1]


def test_it_shows_and_writes_nothing_without_a_folder(said: Any, came: Path, tmp_path: Path) -> None:
    code, out, _ = said("receive", came)
    assert code == 0
    assert "Wounds: W1, W2. Visits: V6, V7, V8." in out
    assert "Signature: no signature." in out
    assert "Nothing was written" in out
    assert not any(secret in out for secret in SECRETS)
    assert list(tree(tmp_path)) == ["came.json"]


def test_receiving_twice_changes_nothing(said: Any, came: Path, tmp_path: Path) -> None:
    into = tmp_path / "in"
    first = said("receive", came, "--into", into)
    files = tree(into)
    assert "Written (4)" in first[1]
    assert sorted(name.rsplit(".", 1)[1] for name in files) == ["json", "json", "json", "yaml"]
    assert came.read_bytes() in files.values()
    second = said("receive", came, "--into", into)
    assert tree(into) == files
    assert "Nothing to write" in second[1]
    assert "Here already, the same" in second[1]
    assert History.of(read_yaml(files["record.yaml"].decode(), "x")).json() == whole().json()


def test_a_second_bundle_joins_the_first(said: Any, tmp_path: Path) -> None:
    into, record = tmp_path / "in", whole()
    for number, newest in enumerate((1, 3)):
        path = tmp_path / f"{number}.json"
        path.write_bytes(jsonio.encode(bundle(gather(record, newest=newest))))
        code, _, _ = said("receive", path, "--into", into)
        assert code == 0
    files = tree(into)
    assert len(files) == 6
    kept = History.of(read_yaml(files["record.yaml"].decode(), "x"))
    assert {one["id"] for one in kept.visits} == {one["id"] for one in record.visits}


def test_a_conflict_is_reported_without_values_and_kept(said: Any, came: Path, tmp_path: Path) -> None:
    known = whole()
    known.data["visits"][0]["wounds"][0]["assessment"]["length"] = "9.90 cm"
    path = tmp_path / "known.yaml"
    path.write_bytes(to_yaml(known))
    code, out, _ = said("receive", came, "--known", path, "--into", tmp_path / "in")
    assert code == 1
    assert "In conflict with what is known (1)" in out
    assert "  W1, visit V6: the two sides differ; what is known stays\n    length differs\n" in out
    assert "9.90" not in out
    shown = said("receive", came, "--known", path, "--show-values")[1]
    assert "length 9.90 cm in what is known" in shown
    told = json.loads(said("receive", came, "--known", path, "--format", "json")[1])
    assert told["version"] == 1
    assert [one["place"] for one in told["conflicts"]] == ["W1, visit V6"]
    assert "9.90" not in json.dumps(told)
    kept = History.of(read_yaml((tmp_path / "in" / "record.yaml").read_text("utf-8"), "x"))
    assert kept.visits[0]["wounds"][0]["assessment"]["length"] == "9.90 cm"
    assert any(one["place"] == "visits[V6].wounds[W1]" for one in kept.extra)


def test_a_refusal_writes_nothing(said: Any, came: Path, tmp_path: Path) -> None:
    made = jsonio.decode(came.read_bytes())
    made["entry"][0]["resource"]["text"] = {"status": "generated", "div": "<div><script>alert(1)</script></div>"}
    came.write_bytes(jsonio.encode(made))
    into = tmp_path / "in"
    code, out, err = said("receive", came, "--into", into)
    assert (code, out) == (2, "")
    assert "an element script" in err
    assert "Nothing was taken in" in err
    assert not into.exists()


def test_another_client_is_refused_and_the_record_is_untouched(said: Any, came: Path, tmp_path: Path) -> None:
    into = tmp_path / "in"
    into.mkdir()
    other = History.of({"woundfhir": 1, "patient": {"identifiers": [{"system": "urn:example:clinic", "value": "C-9"}]}})
    (into / "record.yaml").write_bytes(to_yaml(other))
    before = tree(into)
    code, out, err = said("receive", came, "--into", into)
    assert (code, out) == (2, "")
    assert "these may be two clients (" in err
    assert not any(secret in err for secret in SECRETS)
    assert tree(into) == before


def test_a_record_that_is_not_the_known_one_is_not_written_over(said: Any, came: Path, tmp_path: Path) -> None:
    known, into = tmp_path / "known.yaml", tmp_path / "in"
    known.write_bytes(to_yaml(gather(whole(), newest=1)))
    into.mkdir()
    (into / "record.yaml").write_text("something else\n", "utf-8")
    code, _, err = said("receive", came, "--known", known, "--into", into)
    assert code == 2
    assert "it cannot be told whose record it is" in err
    assert list(tree(into)) == ["record.yaml"]
    code, _, err = said("receive", came, "--known", known, "--into", into, "--force")
    assert code == 2
    assert "it cannot be told whose record it is" in err
    assert list(tree(into)) == ["record.yaml"]
    (into / "record.yaml").write_bytes(to_yaml(gather(whole(), newest=2)))
    assert said("receive", came, "--known", known, "--into", into)[0] == 2
    assert said("receive", came, "--known", known, "--into", into, "--force")[0] in (0, 1)
    assert len(tree(into)) == 5


def test_the_record_of_another_client_is_never_written_over(said: Any, came: Path, tmp_path: Path) -> None:
    known, into = tmp_path / "known.yaml", tmp_path / "in"
    known.write_bytes(to_yaml(gather(whole(), newest=1)))
    into.mkdir()
    (into / "record.yaml").write_text("woundfhir: 1\npatient:\n  born: 1950-01-01\n", "utf-8")
    before = tree(into)
    for more in (["--force"], ["--force", "--same-client"]):
        code, out, err = said("receive", came, "--known", known, "--into", into, *more)
        assert (code, out) == (2, "")
        assert "it may be the record of another client (contradict: birth date; silent:" in err
        assert tree(into) == before


def test_what_came_and_is_no_fact_makes_the_exit_code_1(said: Any, tmp_path: Path) -> None:
    """One function for every verb: withdrawn or contradicting 1; without a place in the record 1 by --strict."""
    patient = {"resourceType": "Patient", "id": "p", "identifier": [{"system": "urn:example:card", "value": "7"}]}
    spare = {"resourceType": "Observation", "id": "o", "status": "final", "code": {"text": "shoe size"}}
    spare["subject"] = {"reference": "Patient/p"}
    for status, plain in (("final", 0), ("entered-in-error", 1)):
        entries = [{"resource": one} for one in (patient, {**spare, "status": status})]
        path = tmp_path / f"{status}.json"
        path.write_text(json.dumps({"resourceType": "Bundle", "type": "collection", "entry": entries}), "utf-8")
        verbs = (["convert", path, "--to", "record"], ["trend", path], ["bundle", path, "--at", "2026-03-09T10:00:00Z"])
        for verb in [*verbs, ["compare", path, path], ["receive", path]]:
            assert said(*verb)[0] == plain, verb
            assert said(*verb, "--strict")[0] == 1, verb
        taken = receive(path)
        assert (taken.asks, taken.left_aside) == (bool(plain), True)


def test_a_folder_that_cannot_be_written_leaves_nothing(said: Any, came: Path, tmp_path: Path) -> None:
    into = tmp_path / "in"
    (into / "record.yaml").mkdir(parents=True)
    code, _, err = said("receive", came, "--into", into, "--known", came)
    assert code == 2
    assert err.count("\n") == 1
    assert tree(into) == {}


def test_the_same_identifier_with_other_content_is_reported(said: Any, came: Path, tmp_path: Path) -> None:
    into = tmp_path / "in"
    said("receive", came, "--into", into)
    made = jsonio.decode(came.read_bytes())
    other = jsonio.decode(jsonio.encode(bundle(gather(History.of(read_yaml(story().decode(), "story")), newest=4))))
    came.write_bytes(jsonio.encode({**other, "identifier": made["identifier"]}))
    assert "its identifier came before with another content" in said("receive", came, "--into", into)[1]


def test_what_r4_does_not_define_is_taken_in_and_listed(said: Any, tmp_path: Path) -> None:
    came, into = tmp_path / "came.xml", tmp_path / "in"
    sent = xmlio.encode(bundle(whole()))
    came.write_bytes(sent.replace(b"</Composition>", b'<mood value="good"/></Composition>', 1))
    assert came.read_bytes() != sent
    _, out, _ = said("receive", came, "--into", into)
    assert "Bundle.entry[0].resource.mood: no element of FHIR R4" in out
    assert '<mood xmlns="http://hl7.org/fhir" value="good"/>' in (into / "record.yaml").read_text("utf-8")


# -- compare ---------------------------------------------------------------------------------------


def test_compare(said: Any, came: Path, tmp_path: Path) -> None:
    record = tmp_path / "record.yaml"
    record.write_bytes(to_yaml(whole()))
    assert said("compare", record, came) == (0, "No difference.\n", "")
    other = whole()
    other.data["visits"][0]["wounds"][0]["assessment"]["length"] = "9.90 cm"
    other.data["visits"] = other.data["visits"][:-1]
    changed = tmp_path / "changed.yaml"
    changed.write_bytes(to_yaml(other))
    code, out, _ = said("compare", came, changed)
    assert code == 1
    assert out.splitlines() == ["W1, visit V6: length differs", "only in A: visit V8"]
    assert " 9.90 cm in B" in said("compare", came, changed, "--show-values")[1]
    told = json.loads(said("compare", came, changed, "--format", "json")[1])
    assert told["summary"] == {"differs": 2, "written_differently": 0}
    assert told["differences"][0]["path"] == "visits[V6].wounds[W1].assessment.length"
    assert "a" not in told["differences"][0]


def test_compare_refuses_two_clients(said: Any, came: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.json"
    other.write_text('{"woundfhir": 1, "patient": {"identifiers": [{"system": "x", "value": "y"}]}}', "utf-8")
    code, out, err = said("compare", came, other)
    assert (code, out) == (2, "")
    assert "these may be two clients (silent: identifier, birth date, name, sex)" in err
    assert not any(secret in err for secret in SECRETS)


def test_of_several_clients_one_part_is_kept_and_all_of_it_where_that_is_asked(said: Any, tmp_path: Path) -> None:
    """Nobody else's data is in a client's folder by itself; a signature is over all that came, to the byte."""
    path = tmp_path / "ward.ndjson"
    lines = [
        {"resourceType": "Patient", "id": key, "identifier": [{"system": "urn:example:mrn", "value": key}]}
        for key in ("A-1", "B-2")
    ]
    path.write_text("\n".join(map(json.dumps, lines)))
    code, out, _ = said("receive", path, "--patient", "A-1", "--into", tmp_path / "part")
    assert code == 0 and "--keep-whole" in out
    assert not any(b"B-2" in content for content in tree(tmp_path / "part").values())
    code, out, _ = said("receive", path, "--patient", "A-1", "--keep-whole", "--into", tmp_path / "all")
    assert code == 0 and "the part of this client is kept" not in out
    (whole_file,) = [name for name in tree(tmp_path / "all") if name.startswith("received/whole/")]
    assert tree(tmp_path / "all")[whole_file] == path.read_bytes()
    assert said("rebuild", tmp_path / "all")[0] == 0
    assert "B-2" not in said("convert", tmp_path / "all", "--to", "record")[1]
