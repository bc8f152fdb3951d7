"""Every way in, as a function of bytes: what it does with them, and what must hold where they are accepted."""

from __future__ import annotations

import io
import json
import re
import shutil
import tempfile
from datetime import datetime, timedelta, timezone
from pathlib import Path

from fuzzing.hostile import KEYS, MARK
from fuzzing.mutate import copied

FORMS = ("record", "record-json", "csv", "fhir-json", "fhir-xml", "ndjson")
#: So many requests of the page before it begins again in a fresh folder.
FRESH = 500


class Loss(Exception):
    """What was accepted was lost: read, written and read again it is not the same."""


class Fault(Exception):
    """An answer that says that something unforeseen happened."""


def differs(a, b, path=""):
    """Return the first path at which two records differ, and how; no value stands in it."""
    if type(a) is not type(b):
        return f"{path} (kind)"
    if isinstance(a, dict):
        for key in [*a, *b]:
            if key not in a or key not in b:
                return f"{path}.{key if key in KEYS or key.islower() else '?'} (missing)"
            if found := differs(a[key], b[key], f"{path}.{key}"):
                return found
        return "" if list(a) == list(b) else f"{path} (order)"
    if isinstance(a, list):
        if len(a) != len(b):
            return f"{path} (length)"
        for one, other in zip(a, b, strict=False):
            if found := differs(one, other, f"{path}[]"):
                return found
        return ""
    return "" if a == b else f"{path} (value)"


def _compared(history, form):
    """Return what must be the same: all of a record; for FHIR all but the words in which ``extra`` keeps what came.

    XML has an order of elements and JSON has none, and what R4 does not define is kept apart from what it does.
    """
    if not form.startswith(("fhir", "ndjson")):
        return history.data
    return {key: value for key, value in history.data.items() if key != "extra"}


def _keep(history):
    """Check a history, write it in every form, and read each again."""
    from woundfhir.checklist import check
    from woundfhir.errors import WoundfhirError
    from woundfhir.intake.source import parse
    from woundfhir.output import render

    check(history)
    for form in FORMS:
        try:
            out = render(history, form)
        except WoundfhirError as error:
            raise Loss(f"accepted, and {form} cannot be written: {error}") from None
        try:
            back = parse(out, "back")
        except WoundfhirError as error:
            raise Loss(f"own {form} cannot be read: {error.where}: {error.expected}") from None
        if found := differs(_compared(history, form), _compared(back.history, form)):
            raise Loss(f"{form} read back differs at {found}")


def _parse():
    from woundfhir.intake.source import parse

    def run(data, deep):
        found = parse(data, "input")
        if deep:
            _keep(found.history)

    return run


def _receive():
    from woundfhir.handover.receive import receive

    def run(data, deep):
        done = receive(data, None)
        if deep:
            again = receive(data, done.merged.history)
            if again.merged.conflicts or again.merged.history.data != done.merged.history.data:
                raise Loss("receiving the same twice changes the record")

    return run


def _table(pair):
    from woundfhir.tables.mapping import read_map
    from woundfhir.tables.reading import read_table

    rows = "\n".join(
        f'[[column]]\nname = "{name}"\nto = {to}'
        for name, to in (
            ("chart", '"patient.identifiers"'),
            ("day", '"visit.at"'),
            ("wound", '"wound.id"'),
            ("size", '["assessment.length", "assessment.width"]'),
        )
    )
    plain = f'table = 1\ndates = "day first"\n{rows}'

    def run(data, deep):
        content, mapping = data, plain
        if pair:
            try:
                content, mapping = json.loads(data)
                content = content.encode("latin-1", "replace")
            except (ValueError, TypeError, AttributeError):  # no pair: nothing that can be given
                return
        for one in read_table(content, "input", read_map(mapping, "map.toml")):
            if deep:
                _keep(one.history)

    return run


def _text(read):
    """A reader of text: bytes that are no UTF-8 are read as Latin-1, so that every variant is tried."""

    def run(data, deep):
        try:
            text = data.decode()
        except UnicodeDecodeError:
            text = data.decode("latin-1")
        read(text)

    return run


def _file(name, read):
    """A reader of a file by its path."""
    path = Path(tempfile.mkdtemp(), name)

    def run(data, deep):
        path.write_bytes(data)
        read(path)

    return run


def _simple(entrance):
    if entrance == "free-text":
        from woundfhir.freetext.reader import read_text

        return _text(read_text)
    if entrance == "table-map":
        from woundfhir.tables.mapping import read_map

        return _text(lambda text: read_map(text, "map.toml"))
    if entrance in ("code-map", "concept-map"):
        from woundfhir.maps.table import load

        return _file("codes.tsv" if entrance == "code-map" else "codes.json", load)
    if entrance == "shape-map":
        from woundfhir.maps.shapes import load as load_shape

        return lambda data, deep: load_shape(data, "shape")
    if entrance == "policy":
        from woundfhir.checklist.policy import load as load_policy

        return _file("policy.toml", load_policy)
    if entrance == "checklist":
        from woundfhir.checklist.site import compose

        return _file("checklist.toml", lambda path: compose([path]))
    if entrance == "keys":
        from woundfhir.jose.key_files import read_key

        return lambda data, deep: read_key(data)
    raise KeyError(entrance)


def _once(read):
    """A method that reads a file by its name: it is read once, and each caller has a copy."""
    kept = {}

    def call(self, name):
        if name not in kept:
            kept[name] = read(self, name)
        return copied(kept[name])

    return call


def _site():
    from woundfhir.catalogue.reader import Reader
    from woundfhir.site import Site

    Reader.toml = _once(Reader.toml)  # what is shipped does not change between two inputs
    Reader.folder_toml = _once(lambda self, name, read=Reader.folder_toml: list(read(self, name)))

    def read(path):
        with Site(path.parent):
            pass

    return _file("site.toml", read)


def _settings():
    import os

    from woundfhir.cli import VERBS, settings

    def read(path):
        os.environ[settings.NAMED] = str(path)
        list(settings.settings(VERBS))

    return _file("woundfhir.toml", read)


def _service():
    from woundfhir.service import frames, worker
    from woundfhir.service.setup import Setup

    setup = Setup()
    day = {"today": "2026-04-07"}
    asked = (
        {"job": "convert", "options": {"media": "application/fhir+json", "to": "application/fhir+xml"}},
        {"job": "validate", "options": {"media": "application/fhir+json", **day}},
        {"job": "hook", "options": {"hook": "patient-view", **day}},
    )

    def run(data, deep):
        for one in asked:
            head, _ = frames.unpacked(io.BytesIO(worker.answer(one, data, setup)))
            if "fault" in head:
                raise Fault(head["fault"])
            if MARK in str(head.get("error")):
                raise Fault("a value in an error of the service")

    return run


def _page():
    import asyncio

    import httpx

    from woundfhir.demo import story
    from woundfhir.page.app import application
    from woundfhir.page.folder import Folder
    from woundfhir.page.state import Page

    due = datetime(2026, 4, 7, 9, 30, tzinfo=timezone(timedelta(hours=-4)))
    held = {"left": 0, "folder": None, "browser": None}
    loop = asyncio.new_event_loop()

    def asked(method, path, data=None):
        """One loop for all requests; a test client of the usual kind begins a thread for each."""
        return loop.run_until_complete(held["browser"].request(method, path, data=data, follow_redirects=True))

    def begin():
        if held["folder"] is not None:
            shutil.rmtree(held["folder"])
        held["folder"] = tempfile.mkdtemp()
        Path(held["folder"], "ida.yaml").write_bytes(story())
        page = Page(Folder(Path(held["folder"])), now=lambda: due)
        transport = httpx.ASGITransport(application(page))
        held["browser"] = httpx.AsyncClient(transport=transport, base_url="http://testserver")
        asked("GET", f"/open?t={page.once}")
        asked("POST", "/who", {"name": "Nurse One", "designation": "RN", "id": "rn-204", "back": "/"})
        asked("POST", "/c/ida.yaml/start", {"wound": "1", "purpose": "dressing change"})
        held["left"] = FRESH

    def run(data, deep):
        if not held["left"]:
            begin()
        held["left"] -= 1
        try:
            path, fields = json.loads(data)
            form = {
                str(key): [str(one) for one in of] if isinstance(of, list) else str(of) for key, of in fields.items()
            }
            path = re.sub(r"[^!-~]|[?#]", "_", "/" + path.lstrip("/"))
        except (ValueError, TypeError, AttributeError, RecursionError):  # no form at all: nothing that can be sent
            return
        try:
            found = asked("POST", path, form)
        except UnicodeError:  # the client's own refusal: half a surrogate pair cannot be sent
            return
        if found.status_code >= 500:
            raise Fault(f"{found.status_code} of the page")

    return run


def entrance(name):
    """Return the function that tries one input at an entrance: of its bytes, and whether to look deeper."""
    makers = {
        "receive": _receive,
        "table": lambda: _table(True),
        "workbook": lambda: _table(False),
        "site": _site,
        "settings": _settings,
        "service": _service,
        "page": _page,
    }
    if name in makers:
        return makers[name]()
    try:
        return _simple(name)
    except KeyError:
        return _parse()
