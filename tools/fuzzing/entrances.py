"""Every way in, as a function of bytes: what it does with them, and what must hold where they are accepted."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

from fuzzing import served
from fuzzing.hostile import KEYS
from fuzzing.mutate import copied

FORMS = ("record", "record-json", "csv", "fhir-json", "fhir-xml", "ndjson")


class Loss(Exception):
    """What was accepted was lost: read, written and read again it is not the same."""


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


def entrance(name):
    """Return the function that tries one input at an entrance: of its bytes, and whether to look deeper."""
    makers = {
        "receive": _receive,
        "table": lambda: _table(True),
        "workbook": lambda: _table(False),
        "site": _site,
        "settings": _settings,
        "service": served.service,
        "page": served.page,
    }
    if name in makers:
        return makers[name]()
    try:
        return _simple(name)
    except KeyError:
        return _parse()
