"""Tokens: an authorisation server that the test plays. SMART App Launch (backend-services), RFC 6749, RFC 7523."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs

import pytest
from cryptography.hazmat.primitives.asymmetric import ec, ed25519, rsa
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from joserfc import jwt
from joserfc.errors import JoseError

from tests.server.played import Handler, Played, playing
from tests.server.story import connection, history, put
from woundfhir.cli import run
from woundfhir.errors import InputError
from woundfhir.jose.key_files import read_key
from woundfhir.jose.keys import Key
from woundfhir.server.auth import LIFETIME, Backend, assertion, from_environment
from woundfhir.server.receipt import Receipt, read
from woundfhir.server.sending import send

Json = Any
SECRET = "secret-token-417"
__all__ = ["history"]  # the fixture


def pem(private: Any) -> bytes:
    return private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())  # type: ignore[no-any-return]


KEYS = {"ES384": pem(ec.generate_private_key(ec.SECP384R1())), "RS384": pem(rsa.generate_private_key(65537, 2048))}


class Tokens:
    """The authorisation server: checks each JWT as SMART asks, and gives tokens."""

    def __init__(self, played: Played, key: Key, algorithm: str) -> None:
        self.played, self.key, self.algorithm = played, key, algorithm
        self.seen: set[str] = set()
        self.given = 0
        self.answer: Callable[[int], tuple[int, Json]] | None = None
        self.good: set[str] = set()
        self.expires = 300
        played.faults.append(self)

    def __call__(self, handler: Handler, command: str, path: str) -> bool:
        if path == ".well-known/smart-configuration":
            handler.answer(200, {"token_endpoint": f"{self.played.base}/token"}, Content_Type="application/json")
            return True
        if path == "token":
            self._token(handler)
            return True
        if path == "metadata" or handler.headers.get("Authorization", "").removeprefix("Bearer ") in self.good:
            return False
        handler.answer(401, {"resourceType": "OperationOutcome", "issue": []})
        return True

    def _token(self, handler: Handler) -> None:
        form = {key: values[0] for key, values in parse_qs(self.played.asked[-1][3].decode()).items()}
        said = jwt.decode(form["client_assertion"], self.key.jose, algorithms=[self.algorithm])
        claims = said.claims
        assert form["grant_type"] == "client_credentials" and form["scope"]
        assert form["client_assertion_type"] == "urn:ietf:params:oauth:client-assertion-type:jwt-bearer"
        assert said.header["alg"] == self.algorithm and said.header["typ"] == "JWT" and said.header["kid"]
        assert claims["iss"] == claims["sub"] == "client-1" and claims["aud"] == f"{self.played.base}/token"
        assert 0 < claims["exp"] - claims["iat"] <= 300
        assert claims["jti"] not in self.seen, "a JWT was used twice"
        self.seen.add(claims["jti"])
        self.given += 1
        if self.answer is not None:
            handler.answer(*self.answer(self.given), Content_Type="application/json")
            return
        token = f"{SECRET}-{self.given}"
        self.good = {token}
        body = {"access_token": token, "token_type": "bearer", "expires_in": self.expires, "scope": form["scope"]}
        handler.answer(200, body, Content_Type="application/json")


@pytest.fixture
def played() -> Iterator[Played]:
    with playing() as made:
        yield made


@pytest.mark.parametrize("algorithm", KEYS)
def test_a_signed_jwt_gets_a_token_that_is_used_until_it_ends(played: Played, history: Any, algorithm: str) -> None:
    key = read_key(KEYS[algorithm])
    tokens = Tokens(played, key, algorithm)
    server = connection(played)
    now = [1_700_000_000.0]
    server.authorization = Backend(server, "client-1", key, "system/*.cruds", now=lambda: now[0])
    sent = send(history, server, Receipt(server.base))
    assert set(sent.counts) == {"created"} and tokens.given == 1
    now[0] += 290  # near its end: a new one
    send(history, server, Receipt(server.base))
    assert tokens.given == 2 and len(tokens.seen) == 2


def test_a_token_that_is_refused_is_renewed_once(played: Played, history: Any) -> None:
    key = read_key(KEYS["ES384"])
    tokens = Tokens(played, key, "ES384")
    server = connection(played)
    server.authorization = Backend(server, "client-1", key, "system/*.cruds")
    assert server.authorization(False)
    tokens.good = set()  # expired at the server, before the time it told
    assert set(send(history, server, Receipt(server.base)).counts) == {"created"}
    assert tokens.given == 2


@pytest.mark.parametrize(
    ("status", "body", "words"),
    [
        (400, {"error": "invalid_client"}, "does not know the client"),
        (400, {"error": "invalid_scope"}, "does not grant the scope"),
        (401, {"error": "other", "error_description": SECRET}, "it gives no token"),
        (200, {"access_token": SECRET, "token_type": "mac"}, "it gives no token"),
        (200, {"token_type": "bearer"}, "it gives no token"),
        (200, {"access_token": f"{SECRET}\r\nX: 1", "token_type": "bearer"}, "a token of visible characters"),
    ],
)
def test_no_token_is_a_clear_answer_without_a_secret(
    played: Played, history: Any, status: int, body: Json, words: str
) -> None:
    key = read_key(KEYS["ES384"])
    Tokens(played, key, "ES384").answer = lambda number: (status, body)
    server = connection(played)
    server.authorization = Backend(server, "client-1", key, "system/*.cruds")
    with pytest.raises(InputError, match=words) as error:
        send(history, server, Receipt(server.base))
    assert SECRET not in str(error.value) and not played.resources


@pytest.mark.parametrize("wrong", ["the key", "the clock", "a JWT used before"])
def test_an_authorisation_server_that_refuses_the_jwt(
    played: Played, history: Any, wrong: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It checks signature, ``exp`` and ``jti`` itself (SMART, client-confidential-asymmetric)."""
    key, other = (read_key(pem(ec.generate_private_key(ec.SECP384R1()))) for _ in range(2))
    seen: set[str] = {"again"}

    def checks(handler: Handler, command: str, path: str) -> bool:
        if path == ".well-known/smart-configuration":
            handler.answer(200, {"token_endpoint": f"{played.base}/token"}, Content_Type="application/json")
        elif path == "token":
            form = {name: values[0] for name, values in parse_qs(played.asked[-1][3].decode()).items()}
            try:
                claims = jwt.decode(form["client_assertion"], key.jose, algorithms=["ES384"]).claims
                fine = claims["exp"] > time.time() and claims["jti"] not in seen
            except JoseError:
                fine = False
            said = {"access_token": SECRET, "token_type": "bearer", "expires_in": 300, "scope": form["scope"]}
            answer = (200, said) if fine else (400, {"error": "invalid_client", "error_description": SECRET})
            handler.answer(*answer, Content_Type="application/json")
        elif path == "metadata" or handler.headers.get("Authorization") == f"Bearer {SECRET}":
            return False
        else:
            handler.answer(401, {"resourceType": "OperationOutcome", "issue": []})
        return True

    played.faults.append(checks)
    server = connection(played)
    mine = other if wrong == "the key" else key
    clock = (lambda: time.time() - 3600) if wrong == "the clock" else time.time
    if wrong == "a JWT used before":
        monkeypatch.setattr("woundfhir.server.auth.uuid.uuid4", lambda: "again")
    server.authorization = Backend(server, "client-1", mine, "system/*.cruds", now=clock)
    with pytest.raises(InputError, match=r"does not accept its JWT.*clock") as error:
        send(history, server, Receipt(server.base))
    assert SECRET not in str(error.value) and not played.resources
    monkeypatch.undo()
    server.authorization = Backend(server, "client-1", key, "system/*.cruds")
    assert set(send(history, server, Receipt(server.base)).counts) == {"created"}


def test_a_jwt_is_not_replayed_when_the_authorisation_server_is_busy(played: Played, history: Any) -> None:
    key = read_key(KEYS["RS384"])
    tokens = Tokens(played, key, "RS384")
    tokens.answer = lambda number: (503, {})
    server = connection(played)
    server.authorization = Backend(server, "client-1", key, "system/*.cruds")
    with pytest.raises(InputError, match=r"answered 503"):
        send(history, server, Receipt(server.base))
    assert tokens.given == len(tokens.seen) == 5


@pytest.mark.parametrize("token", ["wrong", f"{SECRET}-0"])
def test_a_wrong_bearer_token_is_refused_and_named_nowhere(played: Played, history: Any, token: str) -> None:
    Tokens(played, read_key(KEYS["ES384"]), "ES384")
    server = connection(played)
    server.authorization = from_environment(server, {"WOUNDFHIR_TOKEN": token})
    with pytest.raises(InputError, match=r"401.*Check the token") as error:
        send(history, server, Receipt(server.base))
    assert token not in str(error.value)


def test_the_key_of_another_kind_is_refused_before_anything_is_asked(played: Played, tmp_path: Path) -> None:
    for private in (ed25519.Ed25519PrivateKey.generate(), ec.generate_private_key(ec.SECP256R1())):
        path = tmp_path / "key.pem"
        path.write_bytes(pem(private))
        path.chmod(0o600)
        said = {"WOUNDFHIR_CLIENT_ID": "client-1", "WOUNDFHIR_KEY_FILE": str(path)}
        with pytest.raises(InputError, match="P-384, or an RSA key"):
            from_environment(connection(played), said)
    assert not played.asked


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"WOUNDFHIR_TOKEN": "a", "WOUNDFHIR_CLIENT_ID": "b"}, "one of WOUNDFHIR_TOKEN, WOUNDFHIR_CLIENT_ID"),
        ({"WOUNDFHIR_CLIENT_ID": "b"}, "WOUNDFHIR_KEY_FILE"),
        ({"WOUNDFHIR_TOKEN": "a b"}, "visible characters"),
    ],
)
def test_half_an_environment_is_refused(played: Played, said: dict[str, str], words: str) -> None:
    with pytest.raises(InputError, match=words):
        from_environment(connection(played), said)


def test_a_jwt_is_good_for_five_minutes_at_most_and_never_the_same_twice() -> None:
    key = read_key(KEYS["ES384"])
    one, other = (assertion(key, "client-1", "https://example.org/token", 1000) for _ in range(2))
    claims = jwt.decode(one, key.jose, algorithms=["ES384"]).claims
    assert claims["exp"] == 1000 + LIFETIME and LIFETIME <= 300
    assert claims["jti"] != jwt.decode(other, key.jose, algorithms=["ES384"]).claims["jti"]


def test_the_command_line_sends_and_fetches_and_shows_no_secret(
    played: Played, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    story = Path(__file__).parents[2] / "examples" / "skin-tear" / "story.yaml"
    tokens = Tokens(played, read_key(KEYS["ES384"]), "ES384")
    tokens.good = {SECRET}
    monkeypatch.setenv("WOUNDFHIR_TOKEN", SECRET)
    receipt, again = tmp_path / "receipt.json", tmp_path / "back.yaml"
    sending = ["send", str(story), "--to", played.base, "--receipt", str(receipt)]
    assert run([*sending, "--dry-run"]) == 0 and not played.resources and not receipt.exists()
    assert run(sending) == 0
    assert run(sending) == 0
    out, err = capsys.readouterr()
    assert re.search(r"Nothing was sent: \d+ to create\.", err)
    assert re.search(r"Done: \d+ created\.", err) and re.search(r"Done: \d+ unchanged\.", err)
    named = next(one for one in played.resources.values() if one["resourceType"] == "Patient")["identifier"][0]
    who = f"{named['system']}|{named['value']}"
    assert run(["fetch", played.base, "--patient", who, "-o", str(again)]) == 0
    assert run(["fetch", played.base, "--patient", who]) == 0
    assert run(["compare", str(story), str(again)]) == 0
    more = capsys.readouterr()
    for text in (out, err, more.out, more.err, receipt.read_text("utf-8")):
        assert SECRET not in text
    assert named["value"] not in out + err
    assert json.loads(receipt.read_text("utf-8"))["server"] == played.base
    assert run(["fetch", played.base, "--patient", "urn:example:x|nobody", "-o", str(again)]) == 2
    assert run(["send", str(story), "--to", "http://example.org/fhir"]) == 2
    (tmp_path / "other.json").write_text('{"woundfhir": "receipt", "server": "https://example.org", "stored": []}')
    assert run([*sending[:-1], str(tmp_path / "other.json")]) == 2
    assert read(receipt, played.base).stored


def test_put_is_the_same_without_a_token(played: Played, history: Any) -> None:
    assert put(played, history).counts["created"]
    assert not any("authorization" in headers for _, _, headers, _ in played.asked)
