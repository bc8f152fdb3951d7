"""Who is let in, and what an answer may load."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.page.conftest import browser_of, page_on
from tests.page.test_screens import CLIENT, SCREENS
from woundfhir.page.app import application
from woundfhir.page.state import TRIES, Page


def stranger(page: Page) -> TestClient:
    return TestClient(application(page, hosts=("localhost", "testserver")), base_url="http://testserver")


@pytest.mark.parametrize("path", [*SCREENS, f"{CLIENT}/document", f"{CLIENT}/sheet"])
def test_nobody_is_let_in_without_the_address(page: Page, path: str) -> None:
    found = stranger(page).get(path)
    assert found.status_code == 401 and "Ida" not in found.text


def test_the_address_lets_in_once(page: Page) -> None:
    browser_of(page)
    assert stranger(page).get(f"/open?t={page.once}").status_code == 401
    assert stranger(page).get("/open?t=").status_code == 401


def test_a_page_of_others_sends_nothing(page: Page) -> None:
    browser = browser_of(page)
    for origin in ("https://elsewhere.example", "null"):
        assert browser.post(f"{CLIENT}/start", data={"wound": "1"}, headers={"Origin": origin}).status_code == 403
    assert stranger(page).get("/pair", headers={"Host": "elsewhere.example"}).status_code == 421


def test_a_pairing_code_is_tried_a_few_times_only(folder: Path) -> None:
    page = page_on(folder)
    page.code = "12345678"
    browser = stranger(page)
    for _ in range(TRIES):
        assert browser.post("/pair", data={"code": "00000000"}).status_code == 403
    assert browser.post("/pair", data={"code": "12345678"}).status_code == 403


def test_a_pairing_code_lets_a_tablet_in(folder: Path) -> None:
    page = page_on(folder)
    page.code = "12345678"
    browser = stranger(page)
    assert browser.post("/pair", data={"code": "1234 5678"}).status_code == 200
    assert browser.get("/").status_code == 200
    # The code is spent; the next device needs the next one, which was printed.
    assert stranger(page).post("/pair", data={"code": "1234 5678"}).status_code == 403
    assert stranger(page).post("/pair", data={"code": page.code}).status_code == 200


def test_without_a_code_nothing_is_paired(page: Page) -> None:
    assert stranger(page).post("/pair", data={"code": "None"}).status_code == 403


@pytest.mark.parametrize("path", SCREENS)
def test_an_answer_loads_only_from_this_address(page: Page, path: str) -> None:
    found = browser_of(page).get(path)
    policy = found.headers["content-security-policy"]
    assert "default-src 'none'" in policy and "unsafe-inline" not in policy and "http" not in policy
    assert found.headers["cache-control"] == "no-store" and found.headers["x-frame-options"] == "DENY"
    assert "style=" not in found.text and "<style" not in found.text


def test_the_sheet_is_let_in_by_its_hash(page: Page) -> None:
    policy = browser_of(page).get(f"{CLIENT}/sheet").headers["content-security-policy"]
    assert "sha256-" in policy and "unsafe-inline" not in policy and "script-src" not in policy


def test_the_cookie_is_kept_from_scripts_and_other_pages(page: Page) -> None:
    found = stranger(page).get(f"/open?t={page.once}", follow_redirects=False)
    cookie = found.headers["set-cookie"].lower()
    assert "httponly" in cookie and "samesite=strict" in cookie


def test_another_host_demands_tls(folder: Path) -> None:
    args = [sys.executable, "-m", "woundfhir", "page", str(folder), "--host", "0.0.0.0"]
    found = subprocess.run(args, capture_output=True, text=True, timeout=60)
    assert found.returncode == 2 and "TLS" in found.stderr


def test_a_folder_that_is_not_there_is_one_message(tmp_path: Path) -> None:
    args = [sys.executable, "-m", "woundfhir", "page", str(tmp_path / "none")]
    found = subprocess.run(args, capture_output=True, text=True, timeout=60)
    assert found.returncode == 2 and found.stderr.count("\n") == 1
