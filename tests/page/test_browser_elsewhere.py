"""The page in Chromium, from one team to the next: another folder, another nurse, a tablet with a pairing code."""

from __future__ import annotations

import ipaddress
import re
import subprocess
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from tests.page.chromium import Server, chromium, opened, server, settled, sign_in
from tests.page.conftest import page_on
from tests.page.test_browser import VISIT, newest
from tests.page.test_screens import HOSTILE
from woundfhir.intake.source import parse
from woundfhir.page.screens.common import LET_IN
from woundfhir.page.state import TRIES

__all__ = ["chromium", "server"]
pytestmark = pytest.mark.browser


def test_charted_handed_over_and_taken_in_by_another_folder(
    chromium: Any, server: Server, folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    tab = opened(chromium, server)
    sign_in(tab, server)
    tab.get_by_role("button", name="Change the dressing").first.click()
    for place in VISIT:
        tab.locator(place).first.click()
        settled(tab)
    tab.get_by_role("button", name="Sign the note").click()
    tab.wait_for_url("**?signed=V9")
    tab.get_by_role("link", name="Hand over").first.click()
    with tab.expect_download() as loading:
        tab.get_by_role("link", name="Save the document").click()
    there = tmp_path_factory.mktemp("there")
    next_team = Server(page_on(there))
    try:
        other = opened(chromium, next_team, "phone")
        other.goto(f"{next_team.address}/take-in")
        other.locator("#file").set_input_files(loading.value.path())
        other.locator("form[action='/take-in'] button.first").click()
        other.locator("#taking button").click()
        other.wait_for_url("**/c/client-0001")
        assert "Example-Rowan, Ida" in other.locator("h1").inner_text()
        assert (tab.faults, other.faults) == ([], [])
    finally:
        next_team.kill()
    came = parse((there / "client-0001" / "record.yaml").read_bytes(), "record").history
    here = newest(folder)
    assert (came.visits, came.wounds, came.patient) == (here.visits, here.wounds, here.patient)


def test_two_nurses_see_whose_answer_stands(chromium: Any, server: Server) -> None:
    one = opened(chromium, server, "desktop")
    sign_in(one, server)
    one.get_by_role("button", name="Change the dressing").first.click()
    one.wait_for_url("**/d/d1/1")
    context = chromium.new_context(locale="en-CA")
    context.add_cookies([{"name": LET_IN, "value": server.page.secret, "url": server.address}])
    two = context.new_page()
    two.goto(f"{server.address}/who?back=/c/ida.yaml")
    two.locator("#w-name").fill("Nurse Two (invented)")
    two.locator("form.narrow button").click()
    two.goto(one.url)
    two.locator("#g-pain input[name='assessment.pain_at_rest'][value='7']").click(force=True)
    settled(two)
    one.locator("#g-pain input[name='assessment.pain_at_rest'][value='2']").click(force=True)
    one.locator("#conflicts .conflict").wait_for()
    assert "Nurse Two (invented)" in one.locator("#conflicts").inner_text()


def test_hostile_words_stay_words(chromium: Any, server: Server) -> None:
    tab = opened(chromium, server, "desktop")
    tab.on("dialog", lambda dialog: tab.faults.append("a script ran"))
    sign_in(tab, server)
    tab.get_by_role("button", name="Full assessment").first.click()
    tab.wait_for_url("**/d/d1/1")
    places = [one.get_attribute("id") for one in tab.locator("textarea[id], input[type=text][id]").all()]
    assert len(places) > 8
    for place in places:
        tab.locator(f"[id='{place}']").fill(HOSTILE)
    settled(tab)
    tab.reload()
    settled_words = [tab.locator(f"[id='{place}']").input_value() for place in places if place]
    assert settled_words == [HOSTILE] * len(places)
    assert tab.locator("img[src=x]").count() == 0 and tab.faults == []


def test_without_scripts_the_forms_do_the_same(chromium: Any, server: Server, folder: Path) -> None:
    tab = opened(chromium, server, java_script_enabled=False)
    sign_in(tab, server)
    tab.get_by_role("button", name="Change the dressing").first.click()
    tab.locator("#all").click()
    tab.locator("[name='assessment.pain_at_rest'][value='2']").check(force=True)
    tab.locator("[name='note']").fill("slept well")
    tab.locator("#g-bed button[value='same:bed']").click()
    tab.locator(".sign").click()
    tab.get_by_role("button", name="Sign all the same").click()
    assert "V9" in tab.locator(".signed").inner_text()
    made = newest(folder).visits[-1]["wounds"][0]
    assert made["note"] == "slept well" and made["assessment"]["pain_at_rest"] == "2" and made["care"]["cleansing"]


# -- a tablet beside this machine -------------------------------------------------------------------


@pytest.fixture
def certificate(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A certificate of this machine, signed by itself, and its key."""
    home = tmp_path_factory.mktemp("tls")
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "ward.example")])
    today = datetime.now()
    made = (
        x509.CertificateBuilder(name, name, key.public_key(), x509.random_serial_number())
        .not_valid_before(today - timedelta(days=1))
        .not_valid_after(today + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]), critical=False)
        .sign(key, hashes.SHA256())
    )
    plain = serialization.NoEncryption()
    pem = serialization.Encoding.PEM
    (home / "ward.pem").write_bytes(made.public_bytes(pem))
    (home / "ward.key").write_bytes(key.private_bytes(pem, serialization.PrivateFormat.PKCS8, plain))
    return home / "ward.pem", home / "ward.key"


class Started:
    """``woundfhir page --host`` as a process, with the lines that it prints."""

    def __init__(self, folder: Path, certificate: tuple[Path, Path]) -> None:
        files = ["--certificate", str(certificate[0]), "--key", str(certificate[1])]
        self.process = subprocess.Popen(
            [sys.executable, "-u", "-m", "woundfhir", "page", str(folder), "--host", "0.0.0.0", *files],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self.line()
        self.code = self.next_code()

    def line(self) -> str:
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        if found := re.search(r"https://[^/]+:(\d+)", line):
            self.address = f"https://127.0.0.1:{found[1]}"
        return line

    def next_code(self) -> str:
        found = re.search(r"write(?:s)? (\d{4} \d{4})", self.line())
        assert found is not None
        return found[1]


@pytest.fixture
def started(folder: Path, certificate: tuple[Path, Path]) -> Iterator[Started]:
    found = Started(folder, certificate)
    yield found
    found.process.terminate()
    found.process.wait(timeout=20)


def tablet(chromium: Any, started: Started) -> Any:
    return chromium.new_context(ignore_https_errors=True, locale="en-CA").new_page()


def write(tab: Any, started: Started, code: str) -> Any:
    tab.goto(f"{started.address}/pair")
    tab.locator("#code").fill(code)
    tab.locator("button").click()
    tab.wait_for_load_state()
    return tab


def test_a_tablet_is_let_in_by_its_code_once(chromium: Any, started: Started) -> None:
    one = tablet(chromium, started)
    assert one.goto(f"{started.address}/c/ida.yaml").status == 401
    wrong = "0000 0000" if started.code != "0000 0000" else "1111 1111"
    assert "That is not the code." in write(one, started, wrong).locator("main").inner_text()
    write(one, started, started.code)
    assert "Example-Rowan" in one.locator("main").inner_text()
    cookies = one.context.cookies()
    assert all(cookie["secure"] and cookie["httpOnly"] for cookie in cookies) and cookies
    # The code is spent; the next device has the next one.
    two = tablet(chromium, started)
    assert "That is not the code." in write(two, started, started.code).locator("main").inner_text()
    write(two, started, started.next_code())
    assert "Example-Rowan" in two.locator("main").inner_text()
    # Whoever guesses is shut out, with the right code too.
    three, right = tablet(chromium, started), started.next_code()
    for _ in range(TRIES):
        write(three, started, wrong)
    assert "That is not the code." in write(three, started, right).locator("main").inner_text()
