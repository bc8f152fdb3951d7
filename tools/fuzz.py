"""Fuzz woundfhir's readers with hostile variants of the examples: tree mutations (JSON, YAML, CSV, XML) and bytes.

    python tools/fuzz.py EXAMPLES OUT [--reader yaml|json|fhir-json|fhir-xml|ndjson|csv|receive|all]
                           [--seconds N | --runs N] [--seed S] [--deep P] [--memory MB] [--engine own|atheris]

What counts as a failure, deduplicated by type and innermost frame of ours, the smallest input kept in OUT:
  crash     an exception that is not a WoundfhirError
  hang      more than --hang seconds of processor time for one input
  leak      the text of an error holds a marker that was put into a value
  loss      (a share P of the accepted inputs) parse(render(history, form)) is not the history
Exit code 1 when anything failed. Prints one JSON line a reader: runs, runs/s, accepted, refused, failures, peak memory.
"""

# ruff: noqa: B023  (a function made in a round of a loop is called in that round)

from __future__ import annotations

import argparse
import contextlib
import copy
import csv
import io
import json
import random
import re
import resource
import signal
import sys
import time
import traceback
from pathlib import Path

MARK = "Zqx7mark"
HOSTILE = [
    None,
    True,
    False,
    0,
    -1,
    1e308,
    10**40,
    -(10**40),
    0.1,
    "",
    " ",
    "\0",
    "\u0000x",
    "\ufeff",
    "\ud800",
    "é",
    "e\u0301",
    "4.10 cm",
    "1e999 cm",
    "NaN",
    "Infinity",
    "-0 cm",
    "٤ cm",
    "1e9 cm",
    "99999999999999999999 cm",
    "1/0",
    "²",
    "①",
    "2026-02-30",
    "0000-00-00",
    "9999-12-31T23:59:60Z",
    "10000-01-01",
    "2026-03-02T10:05",
    "2026-03-02T24:00:00+14:00",
    "2026-03-02T10:05:00+99:99",
    "../../etc/passwd",
    "=cmd|' /C calc'!A0",
    "<script>alert(1)</script>",
    '<div xmlns="http://www.w3.org/1999/xhtml"><script/></div>',
    "http://[::1",
    "urn:uuid:",
    "#",
    "#x",
    "Patient/",
    [],
    {},
    [None],
    [[]],
    [{}],
    {"": ""},
    {"absent": "not assessed"},
    {"absent": []},
    {"resourceType": "Patient"},
    "a" * 5000,
    MARK,
    MARK + " 4 cm",
    "\u202eabc",
    "\\",
    "a.b",
    "a\\.b",
    "1",
    "0",
    "-",
    "*",
    "{}",
    "W1",
    "V1",
    "none",
]
KEYS = [
    "id",
    "_id",
    "",
    "resourceType",
    "extension",
    "modifierExtension",
    "value",
    "_value",
    "status",
    "text",
    "contained",
    "wounds",
    "visits",
    "patient",
    "extra",
    "absent",
    "zone",
    "replaces",
    "at",
    "assessment",
    "care",
    "unit",
    "code",
    "a.b",
    "reference",
    "entry",
    "meta",
    "div",
    "1",
    "0",
    "-1",
    "é",
    MARK,
    "fullUrl",
    "note",
    "subject",
    "focus",
    "component",
]


class Hang(BaseException):
    pass


def nodes(value, path=()):
    yield path
    if isinstance(value, dict):
        for key in value:
            yield from nodes(value[key], (*path, key))
    elif isinstance(value, list):
        for n in range(len(value)):
            yield from nodes(value[n], (*path, n))


def at(value, path):
    for step in path:
        value = value[step]
    return value


def mutate_tree(rng, tree, times):
    tree = copy.deepcopy(tree)
    for _ in range(times):
        paths = [p for p in nodes(tree) if p]
        if not paths:
            return tree
        path = rng.choice(paths)
        box, key = at(tree, path[:-1]), path[-1]
        kind = rng.randrange(12)
        if kind < 4:
            box[key] = copy.deepcopy(rng.choice(HOSTILE))
        elif kind == 4:
            del box[key]
        elif kind == 5:
            box[key] = [box[key]]
        elif kind == 6:
            box[key] = {rng.choice(KEYS): box[key]}
        elif kind == 7 and isinstance(box, list):
            box.append(copy.deepcopy(box[key]))
        elif kind == 8 and isinstance(box, dict):
            box[rng.choice(KEYS)] = copy.deepcopy(rng.choice(HOSTILE))
        elif kind == 9 and isinstance(box, dict):
            box[rng.choice(KEYS)] = box.pop(key)
        elif kind == 10:
            other = rng.choice(paths)
            with contextlib.suppress(KeyError, IndexError, TypeError):
                box[key] = copy.deepcopy(at(tree, other))
        elif isinstance(box[key], str):
            text = box[key]
            spot = rng.randrange(len(text) + 1)
            box[key] = (
                text[:spot]
                + rng.choice(["\0", "\n", " ", "é", "9", "-", ".", "\u2028", MARK, "\x1b[31m", "\r"])
                + text[spot + rng.randrange(2) :]
            )
    return tree


def mutate_bytes(rng, data, times):
    data = bytearray(data)
    for _ in range(times):
        if not data:
            break
        spot = rng.randrange(len(data))
        kind = rng.randrange(7)
        if kind == 0:
            data[spot] = rng.randrange(256)
        elif kind == 1:
            del data[spot : spot + rng.randrange(1, 40)]
        elif kind == 2:
            data[spot:spot] = rng.choice(
                [
                    b"\0",
                    b"\xff",
                    b"\xef\xbb\xbf",
                    b"\r",
                    b"\n",
                    b"&x;",
                    b"<!--",
                    b"]]>",
                    b"<?x?>",
                    b'"',
                    b"{",
                    b"[",
                    b"NaN",
                    b"1e999",
                    b"1e999999999",
                    b"\\ud800",
                    b"&a",
                    b"*a",
                    b"!!python/object:os.system ",
                    b"---\n",
                    b"%YAML 9\n",
                    b"\t",
                    b"<a>",
                    b"\xc0\x80",
                    b"\xed\xa0\x80",
                ]
            )
        elif kind == 3:
            end = min(len(data), spot + rng.randrange(1, 300))
            data[spot:spot] = data[spot:end]
        elif kind == 4:
            data = data[:spot]
        elif kind == 5:
            data[spot] ^= 1 << rng.randrange(8)
        else:
            other = rng.randrange(len(data))
            data[spot:spot] = data[other : other + 60]
    return bytes(data)


def mutate_csv(rng, data, times):
    rows = list(csv.reader(io.StringIO(data.decode())))
    for _ in range(times):
        row = rng.randrange(len(rows))
        if not rows[row]:
            continue
        cell = rng.randrange(len(rows[row]))
        kind = rng.randrange(6)
        if kind < 2:
            rows[row][cell] = str(rng.choice(HOSTILE))
        elif kind == 2:
            rows[row].insert(cell, str(rng.choice(KEYS)))
        elif kind == 3:
            del rows[row][cell]
        elif kind == 4:
            rows.insert(row, list(rows[row]))
        else:
            rows[0][min(cell, len(rows[0]) - 1)] = rng.choice(
                [
                    "patient",
                    "patient.1",
                    "wound.id.x",
                    "assessment..x",
                    "visit.id.1",
                    "a\\.b",
                    "extra.1.x",
                    "assessment.length.1",
                    "patient.0",
                    "care.1.2.3",
                    "wound.1",
                    MARK,
                ]
            )
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    return out.getvalue().encode("utf-8", "surrogatepass")


XML_BITS = [
    b'<extension url="x"><valueString value="y"/></extension>',
    b'<modifierExtension url="x"><valueBoolean value="true"/></modifierExtension>',
    b"<contained><Patient/></contained>",
    b'<id value="' + b"a" * 100 + b'"/>',
    b'<x:y xmlns:x="urn:x"/>',
    b"<![CDATA[x]]>",
    b"<value/>",
    b'<value value="1e999999999"/>',
    b'<status value="entered-in-error"/>',
    b"text",
    b'<div xmlns="http://www.w3.org/1999/xhtml"><script>x</script></div>',
]
_TAG = re.compile(rb"<[^>]+>")


def mutate_xml(rng, data, times):
    for _ in range(times):
        tags = [m.span() for m in _TAG.finditer(data)]
        if not tags:
            return data
        start, end = rng.choice(tags)
        kind = rng.randrange(5)
        if kind == 0:
            data = data[:end] + rng.choice(XML_BITS) + data[end:]
        elif kind == 1:
            data = data[:start] + data[end:]
        elif kind == 2:
            data = data[:end] + data[start:end] + data[end:]
        elif kind == 3:
            value = (
                str(rng.choice(HOSTILE))
                .replace("&", "&amp;")
                .replace('"', "&quot;")
                .replace("<", "&lt;")
                .encode("utf-8", "replace")
            )
            data = (
                data[:start]
                + re.sub(rb'value="[^"]*"', lambda _: b'value="' + value + b'"', data[start:end])
                + data[end:]
            )
        else:
            other = rng.choice(tags)
            data = data[:start] + data[other[0] : other[1]] + data[end:]
    return data


def dump(tree):
    return json.dumps(tree, ensure_ascii=False).encode("utf-8", "surrogatepass")


#: Files that a site writes: reader -> the folder of the built-in ones.
SITE = {"policy": "woundfhir/checklist/policies", "checklist": "woundfhir/checklist/checklists"}


def key_files():
    """Return keys in the forms that are read: JWK, a set of them, PEM; made here, and of nobody."""
    from joserfc.jwk import ECKey, OKPKey

    curve, edwards = ECKey.generate_key("P-256"), OKPKey.generate_key("Ed25519")
    plain = curve.as_dict(private=True)
    several = {"keys": [plain, edwards.as_dict(private=False)]}
    return [json.dumps(plain).encode(), json.dumps(several).encode(), curve.as_pem(private=True), edwards.as_pem()]


def seeds(folder, reader):
    import yaml

    files = sorted(Path(folder).rglob("*"))
    if reader == "yaml":
        return [
            ("yaml", yaml.load(f.read_text(), yaml.CBaseLoader), f.read_bytes()) for f in files if f.suffix == ".yaml"
        ]
    if reader == "csv":
        return [("csv", None, f.read_bytes()) for f in files if f.suffix == ".csv"]
    if reader == "fhir-xml":
        return [("xml", None, f.read_bytes()) for f in files if f.name.endswith(".fhir.xml")]
    if reader == "ndjson":
        return [
            ("ndjson", [json.loads(line) for line in f.read_text().splitlines()], f.read_bytes())
            for f in files
            if f.suffix == ".ndjson"
        ]
    if reader in SITE:
        texts = [f.read_bytes() for f in sorted(Path(SITE[reader]).glob("*.toml"))]
        return [("text", None, text) for text in texts]
    if reader == "keys":
        return [("text", None, text) for text in key_files()]
    wanted = {"json": "story.json", "fhir-json": "story.fhir.json", "receive": "document.json"}[reader]
    return [("json", json.loads(f.read_text()), f.read_bytes()) for f in files if f.name == wanted]


def make(rng, seed):
    kind, tree, raw = seed
    times = rng.choice([1, 1, 1, 2, 3, 6])
    if kind == "text" or rng.random() < 0.35:
        return mutate_bytes(rng, raw, times)
    if kind == "csv":
        return mutate_csv(rng, raw, times)
    if kind == "xml":
        return mutate_xml(rng, raw, times)
    tree = mutate_tree(rng, tree, times)
    if kind == "ndjson":
        return b"\n".join(dump(one) for one in tree) + b"\n"
    if kind == "yaml":
        import yaml

        try:
            return yaml.dump(tree, Dumper=yaml.CSafeDumper, allow_unicode=True, sort_keys=False).encode(
                "utf-8", "surrogatepass"
            )
        except Exception:
            return dump(tree)
    return dump(tree)


FORMS = ("record", "record-json", "csv", "fhir-json", "fhir-xml", "ndjson")


def target(reader):
    from woundfhir.checklist import check
    from woundfhir.errors import WoundfhirError
    from woundfhir.intake.source import parse
    from woundfhir.output import render

    if reader in (*SITE, "keys"):
        return site_target(reader), WoundfhirError
    if reader == "receive":
        from woundfhir.handover.receive import receive

        def run(data, deep):
            done = receive(data, None)
            again = receive(data, done.merged.history)
            if again.merged.conflicts or again.merged.history.data != done.merged.history.data:
                raise Loss("receiving the same twice changes the record")
            return done

        return run, WoundfhirError

    def run(data, deep):
        found = parse(data, "input")
        if deep:
            check(found.history)
            for form in FORMS:
                try:
                    out = render(found.history, form)
                except WoundfhirError as error:
                    raise Loss(f"accepted, and {form} cannot be written: {error}") from None
                try:
                    back = parse(out, "back")
                except WoundfhirError as error:
                    raise Loss(f"own {form} cannot be read: {error.where}: {error.expected}") from None
                if back.history.data != found.history.data:
                    raise Loss(f"{form} read back differs at {differs(found.history.data, back.history.data)}")
        return found

    return run, WoundfhirError


def site_target(reader):
    import tempfile

    from woundfhir.checklist.policy import load
    from woundfhir.checklist.site import compose
    from woundfhir.jose.keys import read_key

    folder = tempfile.mkdtemp()
    path = Path(folder, "site.toml")

    def run(data, deep):
        if reader == "keys":
            return read_key(data)
        path.write_bytes(data)
        return load(path) if reader == "policy" else compose([path])

    return run


class Loss(Exception):
    pass


def differs(a, b, path=""):
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


def signature(error):
    frames = [
        f for f in traceback.extract_tb(error.__traceback__) if "woundfhir" in f.filename and "fuzz" not in f.filename
    ]
    last = frames[-1] if frames else traceback.extract_tb(error.__traceback__)[-1]
    where = f"{last.filename.split('woundfhir/')[-1]}:{last.lineno}"
    return (
        f"{type(error).__name__} at {where}"
        if not isinstance(error, Loss)
        else "loss: " + re.sub(r"\d+", "N", str(error))[:160]
    )


def fuzz(reader, args):
    rng = random.Random(f"{args.seed}/{reader}")
    found_seeds = seeds(args.examples, reader)
    run, ours = target(reader)
    limits = {"hang": args.hang}
    signal.signal(signal.SIGPROF, lambda *_: (_ for _ in ()).throw(Hang()))
    failures, kinds, slowest = {}, {"accepted": 0, "refused": 0, "deep": 0}, (0.0, b"")
    out = Path(args.out)
    out.mkdir(parents=True, exist_ok=True)
    runs, began = 0, time.monotonic()

    def fail(name, data):
        count, best = failures.get(name, (0, None))
        if best is None or len(data) < len(best):
            best = data
            (out / (f"{reader}-" + re.sub(r"\W+", "-", name)[:90])).write_bytes(data)
        failures[name] = (count + 1, best)

    def one(data):
        nonlocal runs, slowest
        runs += 1
        deep = rng.random() < args.deep
        kinds["deep"] += deep
        t = time.process_time()
        signal.setitimer(signal.ITIMER_PROF, limits["hang"])
        try:
            run(data, deep)
            kinds["accepted"] += 1
        except ours as error:
            kinds["refused"] += 1
            if MARK in str(error):
                fail(f"leak: {re.sub(MARK, 'MARK', str(error))[:100]}", data)
        except Hang:
            fail("hang", data)
        except Exception as error:  # everything else is what we look for
            fail(signature(error), data)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
        took = time.process_time() - t
        if took > slowest[0]:
            slowest = took, data

    if args.engine == "atheris":
        import atheris

        def entry(data):
            one(data)
            if time.monotonic() - began > args.seconds:
                report()
                import os

                os._exit(0)

        def mutator(data, size, seed):
            return (
                make(random.Random(seed), random.Random(seed).choice(found_seeds))[:size]
                if seed % 3
                else atheris.Mutate(data, size)
            )

    def report():
        wall = time.monotonic() - began
        print(
            json.dumps(
                {
                    "reader": reader,
                    "runs": runs,
                    "runs_per_s": round(runs / wall, 1),
                    **kinds,
                    "slowest_s": round(slowest[0], 2),
                    "peak_MB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
                    "failures": {k: v[0] for k, v in sorted(failures.items(), key=lambda i: -i[1][0])},
                }
            ),
            flush=True,
        )

    if args.engine == "atheris":
        atheris.instrument_all()
        atheris.Setup([sys.argv[0], "-max_len=200000"], entry, custom_mutator=mutator)
        atheris.Fuzz()
        return 0
    for seed in found_seeds:
        one(seed[2])
    while runs < args.runs if args.runs else time.monotonic() - began < args.seconds:
        one(make(rng, rng.choice(found_seeds)))
    report()
    return len(failures)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("examples")
    parser.add_argument("out")
    parser.add_argument("--reader", default="all")
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--runs", type=int, help="this many inputs, however long they take: the same ones each time")
    parser.add_argument("--seed", default="1")
    parser.add_argument("--deep", type=float, default=0.05)
    parser.add_argument("--hang", type=float, default=5)
    parser.add_argument(
        "--memory", type=int, default=2048, help="MB of address space; beyond it a MemoryError is a crash"
    )
    parser.add_argument("--engine", default="own", choices=["own", "atheris"])
    args = parser.parse_args()
    sys.path.insert(0, ".")
    if args.engine == "own":
        resource.setrlimit(resource.RLIMIT_AS, (args.memory << 20, args.memory << 20))
    every = ["yaml", "json", "fhir-json", "fhir-xml", "ndjson", "csv", "receive", *SITE, "keys"]
    readers = every if args.reader == "all" else [args.reader]
    if sum([fuzz(reader, args) for reader in readers]):
        sys.exit(1)


if __name__ == "__main__":
    main()
