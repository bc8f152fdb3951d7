"""A client's folder: one input for every verb, made again of what was received, and signed notes that stand.

The keys are drawn on the spot.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, generate_private_key
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, PublicFormat

from tests.cli.receiving import tree, whole
from woundfhir.handover.select import gather
from woundfhir.handover.signed import CLAIMED, SIGNED
from woundfhir.record import History
from woundfhir.record.files import read_yaml, to_yaml

Make = Callable[..., Path]


@pytest.fixture(scope="module")
def keys(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder, made = tmp_path_factory.mktemp("keys"), generate_private_key(SECP256R1())
    private, public = folder / "private.pem", folder / "public.pem"
    private.write_bytes(made.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    private.chmod(0o600)
    public.write_bytes(made.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo))
    return private, public


@pytest.fixture
def make(said: Any, tmp_path: Path) -> Make:
    """Makes a bundle of a record, with more arguments for `woundfhir bundle`."""

    def inner(name: str, record: History, *more: object) -> Path:
        source, out = tmp_path / f"{name}.yaml", tmp_path / f"{name}.json"
        source.write_bytes(to_yaml(record))
        assert said("bundle", source, "-o", out, "--force", *more)[0] == 0
        return out

    return inner


def record_of(into: Path) -> History:
    return History.of(read_yaml((into / "record.yaml").read_text("utf-8"), "record"))


def marks(into: Path, why: str = SIGNED) -> list[str]:
    return [item["place"] for item in record_of(into).extra if item["why"] == why]


def retracting(record: History, visit: str) -> History:
    """The record with one of its notes taken back, as the sender would write it."""
    visits = [{**one, "status": "entered in error"} if one["id"] == visit else one for one in record.visits]
    return History.of({**record.data, "visits": visits})


@pytest.fixture
def folder(said: Any, make: Make, tmp_path: Path) -> Path:
    into = tmp_path / "clients" / "c-0417"
    for number, newest in enumerate((1, 3)):
        assert said("receive", make(str(number), gather(whole(), newest=newest)), "--into", into)[0] in (0, 1)
    return into


@pytest.mark.parametrize("verb", ["check", "bundle", "trend", "convert", "compare", "receive"])
def test_the_folder_is_one_input_for_every_verb(said: Any, folder: Path, make: Make, verb: str) -> None:
    alone = folder / "record.yaml"
    more = {"convert": ["--to", "csv"]}.get(verb, [])
    if verb == "receive":
        args, same = [make("again", whole()), "--known", folder], [make("again", whole()), "--known", alone]
    elif verb == "compare":
        args, same = [folder, folder.parent], [alone, alone]
    else:
        args, same = [folder, *more], [alone, *more]
    assert said(verb, *args)[:2] == said(verb, *same)[:2]


def test_a_folder_of_clients_holds_one_record_each(said: Any, folder: Path) -> None:
    assert said("check", folder.parent)[1] == said("check", folder)[1]


def test_the_record_is_made_again_of_what_was_received(said: Any, folder: Path, tmp_path: Path) -> None:
    before, out = tree(folder), tmp_path / "again.yaml"
    code, _, err = said("rebuild", folder, "-o", out)
    assert code == 0 and "byte for byte" in err
    assert out.read_bytes() == (folder / "record.yaml").read_bytes()
    (folder / "record.yaml").unlink()
    code, again, err = said("rebuild", folder)
    assert code == 1 and "There is no record" in err and again.encode() == out.read_bytes()
    assert set(tree(folder)) == set(before) - {"record.yaml"}


def test_a_record_changed_by_hand_is_kept_and_made_again_too(said: Any, folder: Path, make: Make) -> None:
    own = record_of(folder)
    own.data["patient"]["note"] = "prefers mornings"
    (folder / "record.yaml").write_bytes(to_yaml(own))
    assert said("rebuild", folder)[0] == 1
    assert said("receive", make("more", whole()), "--into", folder)[0] in (0, 1)
    extra = History.of({**whole().data, "visits": [*whole().visits, {"id": "V99", "at": "2026-04-20T09:00:00-04:00"}]})
    assert said("receive", make("new", extra), "--into", folder)[0] in (0, 1)
    assert record_of(folder).patient["note"] == "prefers mornings"
    assert any(name.endswith(".known.yaml") for name in tree(folder))
    assert said("rebuild", folder)[0] == 0


def test_what_was_changed_since_it_was_received_is_reported(said: Any, folder: Path) -> None:
    steps = json.loads((folder / "received" / "order.json").read_bytes())["steps"]
    kept = folder / steps[0]["file"]
    kept.write_bytes(kept.read_bytes() + b" ")
    code, _, err = said("rebuild", folder)
    assert code == 2 and "step 1: the file that it names was changed since" in err
    kept.unlink()
    assert said("rebuild", folder)[0] == 2
    (folder / "received" / "order.json").write_text("{}")
    assert said("rebuild", folder)[0] == 2


# -- signed notes ----------------------------------------------------------------------------------


@pytest.fixture
def signed(said: Any, make: Make, keys: tuple[Path, Path], tmp_path: Path) -> Path:
    private, public = keys
    into = tmp_path / "signed"
    code, out, _ = said("receive", make("s", whole(), "--sign", private), "--verify-key", public, "--into", into)
    assert code in (0, 1) and "Signature: ok." in out
    assert marks(into) == ["visits[V6]", "visits[V7]", "visits[V8]", "wounds[W1]", "wounds[W2]"]
    return into


@pytest.mark.parametrize("sealed", [(), ("--sign",)])
def test_unsigned_content_does_not_retract_signed_notes(
    said: Any, make: Make, signed: Path, keys: tuple[Path, Path], sealed: tuple[str, ...]
) -> None:
    """The second case has a signature that nobody checked: as weak as none."""
    before = tree(signed)
    came = make("r", retracting(whole(), "V7"), *sealed, *(keys[:1] if sealed else ()))
    code, out, err = said("receive", came, "--into", signed)
    assert (code, out) == (2, "")
    assert "--accept-unsigned" in err and "--verify-key" in err and "visits[1]" in err and "V7" not in err
    assert tree(signed) == before


def test_a_person_may_let_it(said: Any, make: Make, signed: Path) -> None:
    came = make("r", retracting(whole(), "V7"))
    code, out, _ = said("receive", came, "--into", signed, "--accept-unsigned")
    assert code in (0, 1) and "changed by this without a signature (1)" in out
    assert record_of(signed).visits[1]["status"] == "entered in error"
    assert "visits[V7]" not in marks(signed) and "visits[V6]" in marks(signed)
    told = [content for name, content in tree(signed).items() if name.endswith(".provenance.json")]
    assert sum(b"without a signature, as a person has allowed" in one for one in told) == 1
    assert sum(b"Signature: ok." in one for one in told) == 1
    assert said("rebuild", signed)[0] == 0


def test_the_signer_may_retract(said: Any, make: Make, signed: Path, keys: tuple[Path, Path]) -> None:
    came = make("r", retracting(whole(), "V7"), "--sign", keys[0])
    assert said("receive", came, "--verify-key", keys[1], "--into", signed)[0] in (0, 1)
    assert record_of(signed).visits[1]["status"] == "entered in error" and "visits[V7]" in marks(signed)


def test_an_unsigned_note_that_replaces_a_signed_one_is_asked_about(said: Any, make: Make, signed: Path) -> None:
    new = {"id": "V9", "at": "2026-04-20T09:00:00-04:00", "status": "final", "replaces": "V8"}
    other = {**new, "id": "V10"}
    del other["replaces"]
    code, _, err = said(
        "receive", make("n", History.of({**whole().data, "visits": [*whole().visits, new]})), "--into", signed
    )
    assert code == 2 and "visits[2]" in err
    harmless = make("o", History.of({**whole().data, "visits": [*whole().visits, other]}))
    assert said("receive", harmless, "--into", signed)[0] in (0, 1)
    assert record_of(signed).visits[-1]["id"] == "V10"


def test_a_sender_cannot_claim_a_mark(said: Any, make: Make, signed: Path, tmp_path: Path) -> None:
    into = tmp_path / "elsewhere"
    assert said("receive", make("c", record_of(signed)), "--into", into)[0] in (0, 1)
    assert marks(into) == [] and len(marks(into, CLAIMED)) == 5


def test_a_checked_signature_strengthens_what_came_without(
    said: Any, make: Make, keys: tuple[Path, Path], tmp_path: Path
) -> None:
    into, came = tmp_path / "in", make("s", whole(), "--sign", keys[0])
    assert said("receive", came, "--into", into)[0] in (0, 1)
    assert marks(into) == []
    assert said("receive", came, "--verify-key", keys[1], "--into", into)[0] in (0, 1)
    assert len(marks(into)) == 5
    before = tree(into)
    assert said("receive", came, "--into", into)[0] in (0, 1)
    assert tree(into) == before, "the weaker look at it takes nothing away"
