"""Good inputs of each entrance, to be varied: (kind, bytes). The kind says how they are varied."""

from __future__ import annotations

import io
import json
import re
import sys
from contextlib import suppress
from datetime import datetime, time
from functools import lru_cache
from pathlib import Path

import yaml

from fuzzing import small
from fuzzing.mutate import dump, mutate_bytes, mutate_csv, mutate_tree, mutate_xml, mutate_zip

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "examples"
_ALIAS = re.compile(rb"[&*]\w")
_WORDS = b"L heel 4.2 x 3.1 x 0.5 cm, und 2 cm 3-6 o'clock, mod serous, no odour, pain 3/10."
sys.path.insert(0, str(ROOT))


def _files(folder, *patterns):
    return [path.read_bytes() for pattern in patterns for path in sorted((ROOT / folder).rglob(pattern))]


def _tables():
    """Tables of many makes with their mappings, as pairs in JSON."""
    from tests.tables.messy import MESSY

    for one in MESSY:
        if not one.content.startswith(b"PK"):
            yield json.dumps([one.content.decode("latin-1"), one.mapping]).encode()


def _workbooks():
    from openpyxl import Workbook

    head = ["chart", "day", "wound", "size"]
    rows = (
        ["C-17", "2026-03-02", "left heel", "4.2 x 3.1 cm"],
        ["C-18", datetime(2026, 3, 2, 10, 5), 2, '=CONCATENATE(4.2, " x ", 3.1)'],
        ["C-18", time(10, 5), 0.25, None],
    )
    for count in (1, 3):
        book = Workbook()
        book.active.append(head)
        for row in rows[:count]:
            book.active.append(row)
        book.active["C4"].number_format = "0%"
        if count > 1:
            book.create_sheet("empty")
        out = io.BytesIO()
        book.save(out)
        yield out.getvalue()


def _keys():
    """Keys in the forms that are read (JWK, a set of them, PEM), made here and of nobody."""
    from joserfc.jwk import ECKey, OKPKey

    curve, edwards = ECKey.generate_key("P-256"), OKPKey.generate_key("Ed25519")
    plain = curve.as_dict(private=True)
    several = {"keys": [plain, edwards.as_dict(private=False)]}
    return [json.dumps(plain).encode(), json.dumps(several).encode(), curve.as_pem(private=True), edwards.as_pem()]


def _messages():
    from tests.v2 import cases as v2

    return [case.text.encode(case.encoding) for case in v2.CASES.values()]


def _requests():
    """Bodies of requests of the service: histories, and calls of CDS Hooks."""
    call = {
        "hook": "patient-view",
        "hookInstance": "d1577c69-dfbe-44ad-ba6d-3e05e953b2ea",
        "context": {"userId": "Practitioner/1", "patientId": "1"},
    }
    for one in [*small.slices(4), (EXAMPLES / "skin-tear/story.fhir.json").read_bytes()]:
        record = json.loads(one)
        yield from (one, dump({"resourceType": "Parameters", "parameter": [{"resource": record}]}))
        yield dump({**call, "prefetch": {"record": record}})


def _forms():
    """Forms of the page: the path, the fields."""
    note = "/c/ida.yaml/d/d1/1"
    yield dump([note, {"seen": "0", "do": "", "_n": ["assessment.length"], "assessment.length": "4,2"}])
    yield dump([note, {"seen": "0", "do": "same:assessment", "_n": []}])
    yield dump([f"{note}/read", {"words": "4.2 x 3.1 cm, moderate serous exudate, no odour"}])
    yield dump([f"{note}/sign", {"seen": "0"}])
    yield dump(["/c/ida.yaml/start", {"wound": "1", "purpose": "dressing change"}])
    yield dump(["/c/ida.yaml/wound", {"kind": "skin tear", "site": "heel", "side": "left"}])
    yield dump(["/new", {"family": "Testcase", "given": "Ana", "born": "1948-03-12", "number": "C-1"}])
    yield dump(["/who", {"name": "Nurse One (invented)", "designation": "RN", "id": "rn-204", "back": "/"}])
    yield dump(["/c/ida.yaml/v/V1/amend", {"why": "a word was missing"}])


#: Entrance -> the kind of its seeds, and what gives them.
SEEDS = {
    "yaml": ("yaml", lambda: small.rendered("record") + _files("examples", "*.yaml")),
    "json": ("json", lambda: small.rendered("plain") + _files("examples", "story.json")),
    "fhir-json": ("json", lambda: small.slices() + _files("examples", "story.fhir.json")),
    "fhir-xml": ("xml", lambda: [*small.as_xml(small.slices()), *_files("examples", "*.fhir.xml")]),
    "ndjson": ("ndjson", lambda: [small.as_lines(one) for one in small.slices()] + _files("examples", "*.ndjson")),
    "csv": ("csv", lambda: small.rendered("csv") + _files("examples", "*.csv")),
    "cda": ("xml", lambda: _files("tests/cda/documents", "*.xml")),
    "v2": ("text", _messages),
    "table": ("pair", _tables),
    "workbook": ("workbook", lambda: list(_workbooks())),
    "free-text": ("text", lambda: [_WORDS]),
    "table-map": ("text", lambda: [json.loads(one)[1].encode() for one in _tables()]),
    "code-map": ("text", lambda: _files("woundfhir/maps/data", "*.tsv")),
    "concept-map": ("json", lambda: _files("profiles", "ConceptMap-*.json")),
    "shape-map": ("text", lambda: _files("woundfhir/maps/data/shapes", "*.*")),
    "site": ("text", lambda: _files("examples/site", "site.toml")),
    "policy": ("text", lambda: _files("woundfhir/checklist/policies", "*.toml")),
    "checklist": ("text", lambda: _files("woundfhir/checklist/checklists", "*.toml")),
    "settings": ("text", lambda: [b'lang = "fr"\n[check]\nall = true\nformat = "html"\n[convert]\nworkers = 2\n']),
    "keys": ("text", _keys),
    "receive": ("json", lambda: small.slices(2) + _files("examples", "document.json")),
    "service": ("json", _requests),
    "page": ("form", _forms),  # what is no JSON any more would be sent to nobody
}


@lru_cache(4096)
def _tree(kind, raw):
    """Return a seed as a tree, or None where it is none."""
    try:
        if kind == "yaml" and _ALIAS.search(raw):  # a tree no longer: it may hold itself, or a million of the same
            return None
        if kind == "yaml":
            return yaml.load(raw, yaml.CBaseLoader)
        if kind == "ndjson":
            return [json.loads(line) for line in raw.splitlines()]
        return json.loads(raw)
    except (ValueError, yaml.YAMLError, RecursionError):
        return None


def vary(rng, kind, raw, other=b""):
    """Return one hostile variant of a seed, into which a part of another one may be put."""
    times = rng.choice([1, 1, 1, 2, 3, 6])
    if kind == "pair":
        return _pair(rng, raw, times)
    if kind == "workbook":
        return mutate_zip(rng, raw, times)
    if kind == "text" or (kind != "form" and rng.random() < 0.35):
        return mutate_bytes(rng, raw, times)
    if kind == "csv":
        return mutate_csv(rng, raw, times)
    if kind == "xml":
        return mutate_xml(rng, raw, times)
    tree = _tree(kind, raw)
    if not isinstance(tree, dict | list):
        return mutate_bytes(rng, raw, times)
    try:
        return _written(kind, mutate_tree(rng, tree, times, _tree(kind, other) if other else None))
    except RecursionError:
        return mutate_bytes(rng, raw, times)


def _pair(rng, raw, times):
    """A table and its mapping: the one or the other is varied."""
    try:
        table, mapping = json.loads(raw)
        table = table.encode("latin-1", "replace")
    except (ValueError, TypeError, AttributeError):
        return mutate_bytes(rng, raw, times)
    if rng.random() < 0.2:
        mapping = mutate_bytes(rng, mapping.encode("utf-8", "surrogatepass"), times).decode("latin-1")
    else:
        table = (mutate_csv if rng.random() < 0.5 else mutate_bytes)(rng, table, times)
    return json.dumps([table.decode("latin-1"), mapping]).encode()


def _written(kind, tree):
    """A tree in the form of its seed; a lone surrogate in JSON, which YAML reads, can say it."""
    if kind == "ndjson":
        return b"\n".join(dump(one) for one in tree) + b"\n"
    if kind == "yaml":
        with suppress(yaml.YAMLError, ValueError):
            text = yaml.dump(tree, Dumper=yaml.CSafeDumper, allow_unicode=True, sort_keys=False)
            return text.encode("utf-8", "surrogatepass")
    return dump(tree)
