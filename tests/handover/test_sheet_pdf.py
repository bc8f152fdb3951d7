"""The sheet on paper: every page says whose it is, a crash loses nothing, and no machine changes the bytes.

Outside checks: text, size and fonts of the PDF through pypdf; the page at the width of a telephone in Chromium.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.handover.sheets import expected, pdf_words, squeezed
from woundfhir.demo import story
from woundfhir.errors import InputError
from woundfhir.handover.sheet.page import sheet_html, sheet_pdf
from woundfhir.handover.sheet.style import quoted
from woundfhir.handover.summary.client import summary
from woundfhir.intake.source import parse
from woundfhir.record import History

pypdf = pytest.importorskip("pypdf")
pytest.importorskip("weasyprint")

ROOT = Path(__file__).resolve().parents[2]
NO_FONTS = '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd"><fontconfig></fontconfig>'


@pytest.fixture(scope="module")
def history() -> History:
    return parse(story(), "story").history


@pytest.fixture(scope="module")
def pdf(history: History) -> bytes:
    return sheet_pdf(history)


#: A short story, for where what matters is not what stands on the sheet.
SHORT = (ROOT / "examples" / "skin-tear" / "story.yaml").read_bytes()


def bundled(
    folder: Path, *more: str, note: bytes | None = None, **environment: str
) -> subprocess.CompletedProcess[str]:
    """Run ``bundle`` with a sheet as a transfer team runs it, in an environment of its own."""
    (folder / "story.yaml").write_bytes(note or story())
    path = os.pathsep.join([*filter(None, [environment.pop("PYTHONPATH", "")]), str(ROOT)])
    command = [sys.executable, "-m", "woundfhir", "bundle", "story.yaml", "-o", "b.json", "--sheet", "s.pdf", *more]
    env = {**os.environ, "PYTHONPATH": path, **environment}
    return subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, check=False)


def renamed(history: History, name: str) -> History:
    return History({**history.data, "patient": {**history.patient, "name": {"text": name}}})


# -- the edge of the page ----------------------------------------------------------------------


def test_every_page_has_name_number_and_its_place_in_the_stack(pdf: bytes) -> None:
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    for place, page in enumerate(pages, 1):
        text = page.extract_text()
        assert "Example-Rowan, Ida" in text and "C-0417" in text
        assert f"Page {place} of {len(pages)}" in text
        assert "as of 2026-04-05" in text


@pytest.mark.parametrize("name", ['O"Brien \\ </style><b>', "Lévesque, Zoë; } @page { size: A0", "a\nb"])
def test_a_name_cannot_break_the_style_sheet(name: str) -> None:
    history = parse(SHORT, "short").history
    made = sheet_html(renamed(history, name))
    head = made.decode().split("<style>")[1].split("</style>")[0]
    assert "<" not in head and "&" not in head
    pages = pypdf.PdfReader(io.BytesIO(sheet_pdf(renamed(history, name)))).pages
    assert [round(float(length)) for length in pages[0].mediabox[2:]] == [612, 792]
    assert all(re.sub(r"\s+", "", name) in re.sub(r"\s+", "", page.extract_text()) for page in pages)


def test_a_css_string_ends_where_it_should() -> None:
    # CSS Syntax Level 3, 4.3.7: a code of hexadecimal digits takes one blank after it.
    assert quoted('a"b') == '"a\\22 b"'


@pytest.mark.parametrize(("paper", "points"), [("letter", [612, 792]), ("A4", [595, 842])])
def test_letter_and_a4(history: History, paper: str, points: list[int]) -> None:
    # Letter is 8.5 by 11 inches of 72 points; A4 is 210 by 297 mm (ISO 216).
    found = pypdf.PdfReader(io.BytesIO(sheet_pdf(history, paper=paper))).pages[0].mediabox
    assert [round(float(length)) for length in found[2:]] == points


def test_the_wound_that_is_due_first_stands_first(history: History, pdf: bytes) -> None:
    # The story writes W1 (due 2026-04-12) before W2 (due 2026-04-07).
    first = pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    assert first.index("W2:") < first.index("W1:")
    starts = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages[1:]]
    assert "W2: pressure injury" in starts[0] and "W1: venous leg ulcer" in starts[2]


# -- fonts and bytes ---------------------------------------------------------------------------


def test_the_font_of_the_sheet_is_its_own(pdf: bytes) -> None:
    fonts = {
        font["/BaseFont"]
        for page in pypdf.PdfReader(io.BytesIO(pdf)).pages
        for font in page["/Resources"]["/Font"].values()
    }
    assert fonts and all("Atkinson-Hyperlegible-Next" in font for font in fonts)


def test_a_machine_without_fonts_makes_the_same_sheet(pdf: bytes, tmp_path: Path) -> None:
    (tmp_path / "none.conf").write_text(NO_FONTS)
    run = bundled(tmp_path, FONTCONFIG_FILE=str(tmp_path / "none.conf"))
    assert run.returncode == 0, run.stderr
    assert (tmp_path / "s.pdf").read_bytes() == pdf


def test_a_machine_without_fonts_says_what_it_cannot_print(tmp_path: Path) -> None:
    (tmp_path / "none.conf").write_text(NO_FONTS)
    run = subprocess.run(
        [sys.executable, "-c", ODD], env={**ENV, "FONTCONFIG_FILE": str(tmp_path / "none.conf")}, capture_output=True
    )
    assert run.returncode == 0 and run.stdout.startswith(b"%PDF"), run.stderr
    assert b"3 characters that no font here has: they print as boxes" in run.stderr


#: A client whose name is in syllabics, which the sheet's font does not hold.
ODD = """
import sys
from woundfhir.handover.sheet.page import sheet_pdf
from woundfhir.record import History
record = {"woundfhir": 1, "patient": {"name": {"text": "\\u1403\\u14c4\\u1483"}}, "wounds": [{"id": "W1"}]}
sys.stdout.buffer.write(sheet_pdf(History.of(record)))
"""
ENV = {**os.environ, "PYTHONPATH": str(ROOT)}
#: Stands for a machine without the library that cuts fonts down (cffi opens it by name).
NO_SUBSETTER = """
import cffi
was = cffi.FFI.dlopen
def dlopen(self, name, flags=0):
    if "harfbuzz-subset" in str(name):
        raise OSError(name)
    return was(self, name, flags)
cffi.FFI.dlopen = dlopen
"""


def test_a_font_subsetter_changes_nothing(pdf: bytes, tmp_path: Path) -> None:
    (tmp_path / "sitecustomize.py").write_text(NO_SUBSETTER)
    run = bundled(tmp_path, PYTHONPATH=str(tmp_path))
    assert run.returncode == 0, run.stderr
    assert (tmp_path / "s.pdf").read_bytes() == pdf
    # The same with a font of the machine shows that the library is really gone: there it does change the bytes.
    env = {**ENV, "PYTHONPATH": os.pathsep.join([str(tmp_path), str(ROOT)])}
    without, with_ = (
        subprocess.run([sys.executable, "-c", ODD], env=one, capture_output=True, check=True).stdout
        for one in (env, ENV)
    )
    assert without != with_


def test_the_fonts_are_what_the_tool_makes_of_the_package() -> None:
    run = subprocess.run([sys.executable, "tools/build_fonts.py", "--check"], cwd=ROOT, capture_output=True, text=True)
    assert run.returncode == 0, run.stderr
    assert "SIL OPEN FONT LICENSE" in (ROOT / "woundfhir/handover/sheet/fonts/OFL.txt").read_text()


def test_the_font_holds_french_and_tells_0_and_o_1_l_and_i_apart() -> None:
    font_tools = pytest.importorskip("fontTools.ttLib")
    for name in ("regular", "bold"):
        font = font_tools.TTFont(ROOT / f"woundfhir/handover/sheet/fonts/{name}.woff2")
        held = font.getBestCmap()
        # French letters of Unicode CLDR (fr, main characters), in both cases.
        assert set("àâæçéèêëîïôœùûüÿÀÂÆÇÉÈÊËÎÏÔŒÙÛÜŸ«»’–—°²³×") <= set(map(chr, held))
        for one, other in ("0O", "1l", "1I", "lI", "5S", "8B"):
            assert font["glyf"][held[ord(one)]] != font["glyf"][held[ord(other)]]


# -- a crash -----------------------------------------------------------------------------------

CRASHES = {
    "segmentation fault": ("import os, signal; os.kill(os.getpid(), signal.SIGSEGV)", "signal 11"),
    "abort": ("import os; os.abort()", "signal 6"),
    "exception": ("raise RuntimeError('Rowan')", "exit code 1"),
    "nothing made": ("import os; os._exit(0)", "exit code 0"),
    "no library": ("raise OSError('libpango-1.0-0')", "Pango"),
}


@pytest.mark.parametrize("case", CRASHES)
def test_a_crash_of_the_sheet_never_loses_the_bundle(tmp_path: Path, case: str) -> None:
    program, named = CRASHES[case]
    (tmp_path / "broken" / "weasyprint").mkdir(parents=True)
    (tmp_path / "broken" / "weasyprint" / "__init__.py").write_text(program)
    run = bundled(tmp_path, note=SHORT, PYTHONPATH=str(tmp_path / "broken"))
    assert run.returncode == 2
    last = run.stderr.strip().splitlines()[-1]
    assert named in last and "the bundle is written" in last and "Rowan" not in run.stderr and "Alder" not in run.stderr
    assert "Traceback" not in run.stderr
    assert parse((tmp_path / "b.json").read_bytes(), "b.json").history.wounds
    assert sorted(path.name for path in tmp_path.iterdir()) == ["b.json", "broken", "story.yaml"]


@pytest.mark.parametrize(
    ("more", "named"),
    [
        (("--sheet", "s.doc"), "--sheet"),
        (("--sheet", "b.json.pdf", "-o", "b.json.pdf"), "--sheet"),
        (("--policy", "moon"), "moon"),
    ],
)
def test_what_is_wrong_with_the_options_is_found_before_anything_is_written(
    tmp_path: Path, more: tuple[str, ...], named: str
) -> None:
    run = bundled(tmp_path, *more, note=SHORT)
    assert run.returncode == 2 and named in run.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["story.yaml"]


def test_another_paper_is_refused(history: History) -> None:
    with pytest.raises(InputError, match="letter, A4"):
        sheet_html(history, paper="napkin")


# -- on a telephone ----------------------------------------------------------------------------


@pytest.mark.browser
def test_nothing_is_wider_than_a_telephone(history: History, tmp_path: Path) -> None:
    api = pytest.importorskip("playwright.sync_api")
    browser_file = shutil.which("chromium")
    if browser_file is None:
        pytest.skip("no Chromium on this machine")
    (tmp_path / "s.html").write_bytes(sheet_html(history))
    with api.sync_playwright() as running:
        browser = running.chromium.launch(executable_path=browser_file, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 360, "height": 740})
        page.goto((tmp_path / "s.html").as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        # 16 CSS pixels is the size at which browsers set running text.
        assert page.evaluate("parseFloat(getComputedStyle(document.querySelector('.wounds td')).fontSize)") >= 16
        assert page.evaluate("document.fonts.check('16px \"Atkinson Hyperlegible Next\"')")
        browser.close()


# -- the same as the page on a screen --------------------------------------------------------------


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_the_pdf_tells_the_same_on_one_page_and_two_a_wound(history: History, paper: str) -> None:
    pages, text = pdf_words(sheet_pdf(history, paper=paper))
    summed = summary(history)
    # The first page, two a wound, and the last one with what else is charted about the client.
    assert pages <= 2 + 2 * len(summed.open_wounds)
    for fact in expected(summed):
        assert squeezed(fact) in text


def test_the_pdf_has_tags_a_language_and_a_title_without_a_name(history: History) -> None:
    reader = pypdf.PdfReader(io.BytesIO(sheet_pdf(history)))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712 (a PDF object, not a bool)
    assert root["/Lang"] == "en" and "/StructTreeRoot" in root
    assert reader.metadata.title == "Wound hand-over sheet"
    assert reader.metadata["/CreationDate"].startswith("D:20260405101000")


SAME = """
import hashlib, sys
from woundfhir.demo import story
from woundfhir.handover.sheet.page import sheet_html, sheet_pdf
from woundfhir.intake.source import parse
history = parse(story(), "story").history
print(*(hashlib.sha256(made(history)).hexdigest() for made in (sheet_html, sheet_pdf)))
"""


def test_same_history_same_bytes() -> None:
    found = set()
    for seed, zone, language in (("1", "UTC", "C"), ("2", "Asia/Tokyo", "C.UTF-8")):
        env = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "LC_ALL": language}
        run = subprocess.run([sys.executable, "-c", SAME], env=env, capture_output=True, text=True, check=True)
        found.add(run.stdout)
    assert len(found) == 1
