"""Where a service listens: on this machine, else with a token and TLS, or not at all."""

from __future__ import annotations

import asyncio
import queue
import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route, Router

from woundfhir.errors import InputError
from woundfhir.web import listen as listen_module
from woundfhir.web.guard import Guard
from woundfhir.web.listen import Place, listen, place

TOKEN = "t" * 30


def certificate(folder: Path, password: bytes | None = None) -> tuple[Path, Path]:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "localhost")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False)
        .sign(key, hashes.SHA256())
    )
    hidden: Any = serialization.BestAvailableEncryption(password) if password else serialization.NoEncryption()
    files = folder / "own.pem", folder / "own.key"
    files[0].write_bytes(made.public_bytes(serialization.Encoding.PEM))
    files[1].write_bytes(key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, hidden))
    return files


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7", "ward-3.example", "127.0.0.1.example"])
def test_elsewhere_asks_for_a_token_and_tls(host: str, tmp_path: Path) -> None:
    known = {"WOUNDFHIR_SERVE_TOKEN": TOKEN}
    files = certificate(tmp_path)
    with pytest.raises(InputError, match="expected a token"):
        place(host, 8080, *files, environment={})
    with pytest.raises(InputError, match="expected TLS"):
        place(host, 8080, environment=known)
    found = place(host, 8080, *files, environment=known)
    assert found.secure and found.hosts is None and TOKEN not in repr(found)


def test_a_token_that_could_be_guessed_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="at least 24") as error:
        place("localhost", 8080, environment={"WOUNDFHIR_SERVE_TOKEN": "open-sesame"})
    assert "sesame" not in str(error.value)
    (tmp_path / "token").write_text(f"{TOKEN}\n")
    assert place("localhost", 1, environment={"WOUNDFHIR_SERVE_TOKEN_FILE": str(tmp_path / "token")}).token == TOKEN
    both = {"WOUNDFHIR_SERVE_TOKEN": TOKEN, "WOUNDFHIR_SERVE_TOKEN_FILE": "x"}
    with pytest.raises(InputError, match="one of"):
        place("localhost", 8080, environment=both)


def test_a_certificate_that_does_not_fit_is_refused(tmp_path: Path) -> None:
    files = certificate(tmp_path, b"hidden")
    (tmp_path / "password").write_text("hidden\n")
    assert place("localhost", 1, *files, tmp_path / "password", environment={}).secure
    for wrong in ((files[1], files[0]), (files[0], None), (tmp_path / "none", None), files):
        with pytest.raises(InputError, match="a certificate in PEM"):
            place("localhost", 1, *wrong, environment={})
    with pytest.raises(InputError, match="a certificate with it"):
        place("localhost", 1, None, files[1], environment={})


def test_a_port_that_is_taken_is_one_clear_line() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(InputError, match="--port: the system says: Address already in use"):
            listen(Guard(Router()), place("127.0.0.1", port, environment={}), print)


@contextmanager
def listening(app: Guard, found: Place, patched: pytest.MonkeyPatch) -> Iterator[str]:
    """Listen in a thread; yield the address."""
    servers: list[uvicorn.Server] = []
    made = uvicorn.Server.__init__

    def noted(self: uvicorn.Server, config: uvicorn.Config) -> None:
        made(self, config)
        servers.append(self)

    patched.setattr(uvicorn.Server, "__init__", noted)
    lines: queue.Queue[str] = queue.Queue()
    thread = threading.Thread(target=listen, args=(app, found, lines.put), daemon=True)
    thread.start()
    yield lines.get(timeout=20).split()[2]
    servers[0].should_exit = True
    thread.join(20)
    assert not thread.is_alive()


def test_it_listens_with_tls(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    files = certificate(tmp_path)
    found = place("localhost", 0, *files, environment={"WOUNDFHIR_SERVE_TOKEN": TOKEN})
    guard = Guard(
        Router([Route("/", lambda request: PlainTextResponse("here"))]),
        token=found.token,
        hosts=found.hosts,
        secure=found.secure,
    )
    with listening(guard, found, monkeypatch) as address:
        assert address.startswith("https://localhost:")
        trust = ssl.create_default_context(cafile=str(files[0]))
        with httpx.Client(verify=trust, trust_env=False) as client:
            assert client.get(address).status_code == 401
            answer = client.get(address, headers={"Authorization": f"Bearer {TOKEN}"})
    assert answer.text == "here" and "server" not in answer.headers
    assert answer.headers["Strict-Transport-Security"]


def test_who_sends_the_head_too_slowly_is_cut_off(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listen_module, "_HEAD", 0.3)

    async def slow(request: Request) -> PlainTextResponse:
        await asyncio.sleep(1)  # an answer may take longer than a head
        return PlainTextResponse("here")

    guard = Guard(Router([Route("/", slow)]))
    with listening(guard, place("127.0.0.1", 0, environment={}), monkeypatch) as address:
        port = int(address.rsplit(":", 1)[1])
        for head in (b"", b"GET / HTTP/1.1\r\nHost: local"):
            with socket.create_connection(("127.0.0.1", port), timeout=10) as raw:
                raw.sendall(head)
                assert raw.recv(1000) == b""
        with httpx.Client(trust_env=False) as client:
            assert client.get(address).text == "here"
            assert client.get(address).text == "here"
