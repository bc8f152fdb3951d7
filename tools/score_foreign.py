#!/usr/bin/env python3
"""Score what is understood of FHIR files of others, and hold the report to the truth by changing each leaf.

    score_foreign.py FOLDER [--limit LEAVES]

For each file: how many values are understood, whether it is read again the same from what goes out, whether each
resource goes out as it came, and which leaves can be changed without changing the record or being reported.
"""

from __future__ import annotations

import argparse
import copy
import random
import sys
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import msgspec

from woundfhir.errors import InputError
from woundfhir.fhir import Losses, to_fhir
from woundfhir.fhir.leaves import leaves, words
from woundfhir.intake.resources import from_fhir
from woundfhir.r4 import jsonio, xmlio

Json = Any
Path_ = tuple[Any, ...]
encode = msgspec.json.Encoder(decimal_format="number").encode
decode = msgspec.json.Decoder(float_hook=Decimal).decode


def load(path: Path) -> Json:
    """Return the resource in a file."""
    content = path.read_bytes()
    return xmlio.decode(content) if content.lstrip().startswith(b"<") else jsonio.decode_checked(content)


def bodies(root: Json) -> Iterator[tuple[Path_, Json]]:
    """Yield path and resource of everything that came, Bundles opened."""
    if root.get("resourceType") != "Bundle":
        yield (), root
        return
    for index, entry in enumerate(root.get("entry", ())):
        if "resource" in entry:
            yield ("entry", index, "resource"), entry["resource"]


def changed(value: Json, path: Path_) -> Json:
    """Return another value of the same kind."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, (int, Decimal)):
        return value + 1
    if path[-1] == "reference":
        head, version, number = value.partition("/_history/")
        return f"{head}zz{version}{number}"
    if value[:4].isdigit() and value[4:5] in ("-", "") and int(value[:4]) > 1:
        return f"{int(value[:4]) - 1:04d}{value[4:]}"
    return f"{value}zz"


def put(root: Json, path: Path_, value: Json) -> Json:
    """Return a copy in which a path holds a value."""
    made = copy.deepcopy(root)
    holder = made
    for step in path[:-1]:
        holder = holder[step]
    holder[path[-1]] = value
    return made


def outcome(root: Json) -> tuple[Json, Losses]:
    """Return the record without what was kept, and the report; a refusal is a result."""
    try:
        history, losses = from_fhir([root])
    except InputError as error:
        return str(error), Losses()
    return {key: value for key, value in history.data.items() if key != "extra"}, losses


def listed(losses: Losses, resource: Json, path: Path_) -> bool:
    """Whether the report names a leaf, or what is around it."""
    kind, where = resource["resourceType"], words(path)
    for item in losses.items:
        if item.source.split("/")[0] == kind and item.source.partition("/")[2] in ("", str(resource.get("id", ""))):
            below = item.path.removeprefix(kind).removeprefix(".")
            if below == "" or where == below or where.startswith((f"{below}.", f"{below}[")):
                return True
    return False


def silent(root: Json, limit: int) -> list[str]:
    """Return the leaves that change neither the record nor the report."""
    before, losses = outcome(root)
    todo = [(at, one, path, value) for at, one in bodies(root) for path, value in leaves(one)]
    if len(todo) > limit:
        todo = random.Random(7).sample(todo, limit)
    found = []
    for at, one, path, value in todo:
        after, now = outcome(put(root, (*at, *path), changed(value, path)))
        if after == before and not listed(losses, one, path) and not listed(now, one, path):
            found.append(f"{one['resourceType']}.{words(path)}")
    return found


def main() -> int:
    """Score a folder."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--limit", type=int, default=400, help="leaves tried of a file; the rest is sampled (seed 7)")
    given = parser.parse_args()
    understood = values = wrong = 0
    for path in sorted(p for p in given.folder.rglob("*") if p.suffix.lower() in (".json", ".xml")):
        root = load(path)
        try:
            history, losses = from_fhir([root])
        except InputError as error:
            print(f"{path.name}: refused: {error}")
            continue
        out = to_fhir(history)
        again, _ = from_fhir(decode(encode(out)))
        kept = sum(one in out for _, one in bodies(root))
        untrue = silent(root, given.limit)
        wrong += len(untrue) + (again.data != history.data)
        understood, values = understood + losses.understood, values + losses.values
        stable = "the same" if again.data == history.data else "NOT THE SAME"
        print(f"{path.name}: {losses.summary}; {kept} as they came; read again {stable}; untrue {untrue}")
    print(f"{understood} of {values} values understood; {wrong} untrue")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
