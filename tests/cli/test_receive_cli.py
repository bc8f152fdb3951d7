"""``receive`` and ``compare`` on the command line: output, exit codes, files; nothing written by half."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, generate_private_key
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, PublicFormat

from tests.handover import vectors
from woundfhir.cli import run
from woundfhir.demo import story
from woundfhir.fhir.wire import jsonio
from woundfhir.handover import bundle
from woundfhir.handover.gather import gather
from woundfhir.output import render_resource
from woundfhir.record import History
from woundfhir.record.files import read_yaml, to_yaml

Said = tuple[int, str, str]
SECRETS = ("Example-Rowan", "C-0417", "1948-03", "Ida")


def whole() -> History:
    return gather(History.of(read_yaml(story().decode(), "story")), newest=3)


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Any:
    def call(*args: object) -> Said:
        code = run([str(arg) for arg in args])
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return code, out, err

    return call


@pytest.fixture
def came(tmp_path: Path) -> Path:
    path = tmp_path / "came.json"
    path.write_bytes(jsonio.encode(bundle(whole())))
    return path


def tree(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def gaps(out: str) -> int:
    """The exit code that belongs to what was told of a bundle without conflicts."""
    return int("Missing by the transfer checklist" in out)


def test_gaps_are_told_and_make_the_exit_code_1(said: Any, tmp_path: Path) -> None:
    patient = {"identifiers": [{"system": "urn:example:clinic", "value": "C-0417"}]}
    visit = {"id": "V1", "at": "2026-03-02T10:05:00Z", "status": "final", "wounds": [{"wound": "W1", "note": "seen"}]}
    record = {"woundfhir": 1, "patient": patient, "wounds": [{"id": "W1"}], "visits": [visit]}
    path = tmp_path / "came.json"
    path.write_bytes(jsonio.encode(bundle(History.of(record))))
    code, out, _ = said("receive", path)
    assert code == 1
    assert "  W1, visit V1: " in out.split("Missing by the transfer checklist")[1]


def test_it_shows_and_writes_nothing_without_a_folder(said: Any, came: Path, tmp_path: Path) -> None:
    code, out, _ = said("receive", came)
    assert code == gaps(out)
    assert "Wounds: W1, W2. Visits: V6, V7, V8." in out
    assert "Signature: no signature." in out
    assert "Nothing was written" in out
    assert not any(secret in out for secret in SECRETS)
    assert list(tree(tmp_path)) == ["came.json"]


def test_receiving_twice_changes_nothing(said: Any, came: Path, tmp_path: Path) -> None:
    into = tmp_path / "in"
    first = said("receive", came, "--into", into)
    files = tree(into)
    assert "Written (3)" in first[1]
    assert sorted(name.rsplit(".", 1)[1] for name in files) == ["json", "json", "yaml"]
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
        code, out, _ = said("receive", path, "--into", into)
        assert code == gaps(out)
    files = tree(into)
    assert len(files) == 5
    kept = History.of(read_yaml(files["record.yaml"].decode(), "x"))
    assert {one["id"] for one in kept.visits} == {one["id"] for one in record.visits}


def test_a_conflict_is_told_without_values_and_kept(said: Any, came: Path, tmp_path: Path) -> None:
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
    assert "Two clients are never joined: they have no identifier in common" in err
    assert not any(secret in err for secret in SECRETS)
    assert tree(into) == before


def test_a_record_that_is_not_the_known_one_is_not_written_over(said: Any, came: Path, tmp_path: Path) -> None:
    known, into = tmp_path / "known.yaml", tmp_path / "in"
    known.write_bytes(to_yaml(gather(whole(), newest=1)))
    into.mkdir()
    (into / "record.yaml").write_text("something else\n", "utf-8")
    code, _, err = said("receive", came, "--known", known, "--into", into)
    assert code == 2
    assert "a name that is not taken" in err
    assert list(tree(into)) == ["record.yaml"]
    assert said("receive", came, "--known", known, "--into", into, "--force")[0] in (0, 1)
    assert len(tree(into)) == 3


def test_a_folder_that_cannot_be_written_leaves_nothing(said: Any, came: Path, tmp_path: Path) -> None:
    into = tmp_path / "in"
    (into / "record.yaml").mkdir(parents=True)
    code, _, err = said("receive", came, "--into", into, "--known", came)
    assert code == 2
    assert err.count("\n") == 1
    assert tree(into) == {}


def test_the_same_identifier_with_other_content_is_told(said: Any, came: Path, tmp_path: Path) -> None:
    into = tmp_path / "in"
    said("receive", came, "--into", into)
    made = jsonio.decode(came.read_bytes())
    other = jsonio.decode(jsonio.encode(bundle(gather(History.of(read_yaml(story().decode(), "story")), newest=4))))
    came.write_bytes(jsonio.encode({**other, "identifier": made["identifier"]}))
    assert "its identifier came before with another content" in said("receive", came, "--into", into)[1]


# -- signed and encrypted --------------------------------------------------------------------------


@pytest.fixture(scope="module")
def keys(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder, out = tmp_path_factory.mktemp("keys"), {}
    for name in ("ours", "theirs"):
        made = generate_private_key(SECP256R1())
        private = made.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
        public = made.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
        for half, content in (("private", private), ("public", public)):
            out[f"{name} {half}"] = folder / f"{name}.{half}.pem"
            out[f"{name} {half}"].write_bytes(content)
    return out


def test_signed_and_encrypted(said: Any, keys: dict[str, Path], tmp_path: Path) -> None:
    record, sealed, into = tmp_path / "story.yaml", tmp_path / "sealed", tmp_path / "in"
    record.write_bytes(to_yaml(whole()))
    made = said(
        "bundle", record, "--sign", keys["theirs private"], "--encrypt-for", keys["ours public"], "-o", sealed
    )
    assert made[0] == 0
    trusted = ("--verify-key", keys["theirs public"], "--key", keys["ours private"])
    code, out, _ = said("receive", sealed, *trusted, "--into", into)
    assert code == gaps(out)
    assert "Signature: ok." in out
    files = tree(into)
    assert sealed.read_bytes() in files.values()
    assert any(name.endswith(".jose") for name in files)
    said("receive", sealed, *trusted, "--into", into)
    assert tree(into) == files
    for wrong, words in (
        ((), "the private key that opens"),
        (("--key", keys["theirs private"]), "sealed"),
        (("--key", keys["ours private"], "--verify-key", keys["ours public"]), "wrong key"),
    ):
        code, out, err = said("receive", sealed, *wrong, "--into", tmp_path / "other")
        assert (code, out) == (2, "")
        assert words in err
    assert "no key" in said("receive", sealed, "--key", keys["ours private"])[1]
    assert not (tmp_path / "other").exists()


def test_a_signature_that_was_asked_for_and_is_not_there(said: Any, came: Path, keys: dict[str, Path]) -> None:
    code, out, err = said("receive", came, "--verify-key", keys["theirs public"])
    assert (code, out) == (2, "")
    assert "no signature" in err


def test_a_changed_byte(said: Any, keys: dict[str, Path], tmp_path: Path) -> None:
    record, signed = tmp_path / "story.yaml", tmp_path / "signed.json"
    record.write_bytes(to_yaml(whole()))
    said("bundle", record, "--sign", keys["theirs private"], "-o", signed)
    assert said("receive", signed, "--verify-key", keys["theirs public"])[0] in (0, 1)
    text = signed.read_text("utf-8")
    signed.write_text(text.replace('"Example-Rowan"', '"Example-Rowen"'), "utf-8")
    code, out, err = said("receive", signed, "--verify-key", keys["theirs public"], "--into", tmp_path / "in")
    assert (code, out) == (2, "")
    assert "content changed" in err
    assert not (tmp_path / "in").exists()


def test_a_signature_beside_an_xml_bundle(said: Any, keys: dict[str, Path], tmp_path: Path) -> None:
    record, sent, into = tmp_path / "story.yaml", tmp_path / "sent.xml", tmp_path / "in"
    record.write_bytes(to_yaml(whole()))
    sign = ("bundle", record, "--form", "fhir-xml", "--sign", keys["theirs private"])
    code, out, err = said(*sign)
    assert (code, out) == (2, "")
    assert "-o FILE" in err
    assert said(*sign, "-o", sent)[0] == 0
    beside = tmp_path / "sent.xml.jws"
    code, out, _ = said("receive", sent, "--verify-key", keys["theirs public"], "--into", into)
    assert code == gaps(out)
    assert "Signature: ok." in out
    assert {sent.read_bytes(), beside.read_bytes()} <= set(tree(into).values())
    sent.write_bytes(sent.read_bytes() + b"\n")
    code, out, err = said("receive", sent, "--verify-key", keys["theirs public"], "--into", tmp_path / "other")
    assert (code, out) == (2, "")
    assert "content changed" in err
    sent.unlink()
    assert said(*sign, "-o", sent)[0] == 2
    assert not sent.exists(), "a name beside it that is taken writes neither"


def test_what_r4_does_not_define_is_taken_in_and_listed(said: Any, tmp_path: Path) -> None:
    came, into = tmp_path / "came.xml", tmp_path / "in"
    sent = render_resource(bundle(whole()), "fhir-xml")
    came.write_bytes(sent.replace(b"</Composition>", b'<mood value="good"/></Composition>', 1))
    assert came.read_bytes() != sent
    _, out, _ = said("receive", came, "--into", into)
    assert "Bundle.entry[0].resource.mood: no element of FHIR R4" in out
    assert '<mood xmlns="http://hl7.org/fhir" value="good"/>' in (into / "record.yaml").read_text("utf-8")


def test_a_key_with_a_time_limit_asks_for_the_time(said: Any, came: Path, tmp_path: Path) -> None:
    private, certificate = vectors.certificate()  # valid in the year 2026
    key, trusted, signed = tmp_path / "key.pem", tmp_path / "certificate.pem", tmp_path / "signed.json"
    key.write_bytes(private)
    trusted.write_bytes(certificate)
    record = tmp_path / "story.yaml"
    record.write_bytes(to_yaml(whole()))
    assert said("bundle", record, "--sign", key, "-o", signed)[0] == 0
    code, out, err = said("receive", signed, "--verify-key", trusted)
    assert (code, out) == (2, "")
    assert "--at" in err
    assert "valid for a time only" in err
    assert "Signature: ok." in said("receive", signed, "--verify-key", trusted, "--at", "2026-12-31T23:59:59Z")[1]
    code, out, err = said("receive", signed, "--verify-key", trusted, "--at", "2027-01-01T00:00:00Z")
    assert (code, out) == (2, "")
    assert "key expired" in err


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
    assert "records of one client" in err
    assert not any(secret in err for secret in SECRETS)
