#!/usr/bin/env python3
"""Score what is understood of FHIR files of others, and hold the report to the truth by changing each leaf.

    score_foreign.py [FOLDER] [--limit LEAVES] [--map FILE|FOLDER] [--gaps N]

Without FOLDER: the inputs of ``tests/intake/foreign/guides``, which were written from the tables of published guides
before the maps that read them. For each file: how many values are understood, whether it is read again the same from
what goes out, whether each resource goes out as it came, which leaves can be changed without changing the record or
being reported, which references lead nowhere in what goes out and led somewhere in what came,
and what crashes: an exception that is no InputError, for the input or for one of its changed forms.

Two shares are measured by change, and not by the report: a value (a coding, a quantity, a text, a reference, a date, a
code, a number) counts as understood where changing it changes the record without ``extra`` or gets the input refused,
or where it stands in the record word for word. ``care``: in resources of care. ``wound``: in those that are about a
wound by their codes or words, or that a wound's Condition or a panel leads to.
"""

from __future__ import annotations

import argparse
import copy
import random
import re
import sys
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import msgspec

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))  # the toolkit of this checkout, and what its tests change

from tests.intake.foreign.changing import altered, changed, put  # noqa: E402
from woundfhir.errors import InputError  # noqa: E402
from woundfhir.fhir import Losses, to_fhir  # noqa: E402
from woundfhir.fhir.leaves import leaves, words  # noqa: E402
from woundfhir.handover import bundle  # noqa: E402
from woundfhir.intake.resources import from_fhir  # noqa: E402
from woundfhir.maps import using  # noqa: E402
from woundfhir.r4 import jsonio, xmlio  # noqa: E402

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


#: What crashed: the kind of exception, and how often.
CRASHES: Counter[str] = Counter()


def outcome(root: Json) -> tuple[Json, Losses]:
    """Return the record without what was kept, and the report; a refusal is a result, and so is a crash."""
    try:
        history, losses = from_fhir([root])
    except InputError as error:
        return str(error), Losses()
    except Exception as error:  # a fault of ours, and counted as one
        CRASHES[type(error).__name__] += 1
        return f"crash: {type(error).__name__}", Losses()
    return {key: value for key, value in history.data.items() if key != "extra"}, losses


def listed(losses: Losses, resource: Json, path: Path_) -> bool:
    """Whether the report names a leaf, or what is around it."""
    kind, where = resource["resourceType"], words(path)
    for item in losses.all:
        of, _, name = item.source.partition("/")
        # What has no id is named by its address or by a digest.
        named = name in ("", str(resource.get("id", ""))) or "id" not in resource
        if item.kind != "understood" and of == kind and named:
            below = item.path.removeprefix(kind).removeprefix(".")
            if below == "" or where == below or where.startswith((f"{below}.", f"{below}[")):
                return True
    return False


def silent(root: Json, limit: int) -> list[str]:
    """Return the leaves that change neither the record nor the report."""
    before, losses = outcome(root)
    todo = [(at, one, path) for at, one in bodies(root) for path, _ in leaves(one)]
    if len(todo) > limit:
        todo = random.Random(7).sample(todo, limit)
    found = []
    for at, one, path in todo:
        after, now = outcome(altered(root, (*at, *path)))
        if after == before and not listed(losses, one, path) and not listed(now, one, path):
            found.append(f"{one['resourceType']}.{words(path)}")
    return found


# -- shares, by change -----------------------------------------------------------------------------

CARE = {
    *("Condition", "Observation", "Procedure", "SupplyDelivery", "CarePlan", "Goal", "DocumentReference", "Media"),
    *("AllergyIntolerance", "QuestionnaireResponse", "Device", "DeviceUseStatement", "DiagnosticReport"),
    *("BodyStructure", "ServiceRequest", "Encounter", "NutritionOrder", "DeviceRequest"),
}
_WOUND = re.compile(
    r"wound|ulcer|pressure injur|exudate|dressing|undermin|tunnel|burn|skin tear|debrid|compression|negative.pressure|"
    r"\b(39126-8|39125-0|39127-6|72287-6|91150-3|94083-3)\b|/(416462003|360531000146101|148641000146109)",
    re.I,
)
_ADMIN = frozenset(("id", "url", "profile", "fullUrl", "resourceType", "versionId", "lastUpdated", "source", "div"))


def values(node: Json, path: Path_ = ()) -> Iterator[tuple[str, Path_, Json]]:
    """Yield kind, path and value of each clinical leaf: a Coding and a Quantity are one each, without the display."""
    if isinstance(node, dict):
        if (
            isinstance(node.get("code"), str)
            and ("system" in node or path[-2:-1] == ("coding",))
            and "value" not in node
        ):
            yield "coding", path, node
            node = {k: v for k, v in node.items() if k not in ("system", "code", "display", "version", "userSelected")}
        elif isinstance(node.get("value"), (int, Decimal)) and not isinstance(node["value"], bool):
            yield "quantity", path, node
            node = {k: v for k, v in node.items() if k not in ("value", "unit", "code", "system")}
        for key, item in node.items():
            yield from values(item, (*path, key))
    elif isinstance(node, list):
        for number, item in enumerate(node):
            yield from values(item, (*path, number))
    elif node is not None:
        key = next(step for step in reversed(path) if isinstance(step, str))
        if (
            key not in _ADMIN
            and key != "display"
            and "meta" not in path
            and "identifier" not in path
            and path[0] != "text"
        ):
            yield "value", path, node


def understood(root: Json, path: Path_, kind: str, value: Json, before: Json) -> bool:
    """Whether one leaf is understood, by changing it."""
    if kind == "coding":
        other: Json = {**value, "code": f"zz{value['code']}zz"}
    elif kind == "quantity":
        other = {**value, "value": value["value"] + 1}
    else:
        other = changed(value, path)
    after, _ = outcome(put(root, path, other))
    if after != before:
        return True
    text = str(before).casefold()
    return kind == "value" and isinstance(value, str) and len(value) > 2 and f"'{value.casefold()}'" in text


def shares(root: Json, limit: int, gaps: Counter[str]) -> Counter[str]:
    """Return how many values of wounds and of care there are, and how many are understood."""
    before, _ = outcome(root)
    counts: Counter[str] = Counter()
    todo = [
        (one, (*at, *path), path, kind, value)
        for at, one in bodies(root)
        if one["resourceType"] in CARE
        for kind, path, value in values({k: v for k, v in one.items() if k not in ("resourceType", "meta")})
    ]
    if len(todo) > limit:
        todo = random.Random(7).sample(todo, limit)
    for one, full, local, kind, value in todo:
        read = understood(root, full, kind, value, before)
        about = ["care"] + (["wound"] if _WOUND.search(str({**one, "subject": ""})) else [])
        for name in about:
            counts[name] += 1
            counts[f"{name} understood"] += read
        if not read:
            gaps[f"{one['resourceType']}.{'.'.join(str(step) for step in local if isinstance(step, str))}"] += 1
    return counts


def given_inputs(folder: Path | None) -> Iterator[tuple[str, Json]]:
    """Yield name and content of what is scored."""
    if folder is None:
        from tests.intake.foreign.guides import GUIDES

        for name, make in GUIDES.items():
            yield name, decode(encode(make()))
    else:
        for path in sorted(p for p in folder.rglob("*") if p.suffix.lower() in (".json", ".xml")):
            yield path.name, load(path)


def references(root: Json) -> Iterator[tuple[Path_, Json, Path_]]:
    """Yield path of the resource, the resource, and the path of each Reference in it by a literal."""
    for at, one in bodies(root):
        for path, _ in leaves(one):
            if path[-1] == "reference":
                yield at, one, path[:-1]


def without(root: Json, path: Path_) -> Json:
    """Return a copy without what stands at a path."""
    made = copy.deepcopy(root)
    holder = made
    for step in path[:-1]:
        holder = holder[step]
    del holder[path[-1]]
    return made


def dropped(root: Json, limit: int) -> list[str]:
    """Return the references that were understood, and whose loss nobody says."""
    before, losses = outcome(root)
    todo = list(references(root))
    found = []
    for at, one, path in todo if len(todo) <= limit else random.Random(7).sample(todo, limit):
        after, now = outcome(without(root, (*at, *path)))
        told = (after, now.inferred, now.counts) != (before, losses.inferred, losses.counts)
        if not told and not listed(losses, one, (*path, "reference")):
            found.append(f"{one['resourceType']}.{words(path)} dropped")
    return found


def joined(root: Json, limit: int) -> list[str]:
    """Return the resources that are read as of the one client after they are said of another."""
    found = []
    for at, one, path in [each for each in references(root) if each[2] in (("subject",), ("patient",))][:limit]:
        others = [r for _, r in bodies(root) if r is not one and ({"subject", "patient"} & r.keys())]
        patients = any(r.get("resourceType") == "Patient" for _, r in bodies(root))
        after, _ = outcome(put(root, (*at, *path), {"reference": "Patient/somebody-else-altogether"}))
        if (others or patients) and not isinstance(after, str):
            found.append(f"{one['resourceType']}.{words(path)} of another client")
    return found


def broken(root: Json, out: Json) -> list[str]:
    """Return the references of what goes out that lead nowhere, though what they name came."""
    came, there = named(root), named(out)
    found = []
    for _, one in bodies(out):
        inner = {f"#{item.get('id')}" for item in one.get("contained", ()) if isinstance(item, dict)} | {"#"}
        for path, value in leaves(one):
            if path[-1] != "reference" or not isinstance(value, str) or value in inner:
                continue
            literal = value.split("/_history/")[0]
            short = "/".join(literal.rsplit("/", 2)[-2:])
            if not {literal, short} & there and (value.startswith("#") or {literal, short} & came):
                found.append(f"{one['resourceType']}.{words(path)} leads nowhere")
    return found


def named(root: Json) -> set[str]:
    """Return the names by which the resources of an input can be referred to."""
    urls = {entry["fullUrl"] for entry in root.get("entry", ()) if isinstance(entry.get("fullUrl"), str)}
    return urls | {f"{one['resourceType']}/{one['id']}" for _, one in bodies(root) if "id" in one}


def main() -> int:
    """Score a folder, or our own inputs."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path, nargs="?")
    parser.add_argument("--map", type=Path, action="append", default=[], help="maps of a site")
    parser.add_argument("--gaps", type=int, default=0, help="the N most frequent values that are not understood")
    parser.add_argument("--limit", type=int, default=400, help="leaves tried of a file; the rest is sampled (seed 7)")
    given = parser.parse_args()
    with using(given.map):
        return score(given)


def score(given: argparse.Namespace) -> int:
    """Print a line for each input, and the shares."""
    wrong = 0
    counts, gaps = Counter[str](), Counter[str]()
    for name, root in given_inputs(given.folder):
        try:
            history, losses = from_fhir([root])
            out = to_fhir(history)
            again, _ = from_fhir(decode(encode(out)))
            lost = broken(root, bundle(history, "collection"))
        except InputError as error:
            print(f"{name}: refused: {error}")
            continue
        except Exception as error:  # a fault of ours, and counted as one
            CRASHES[type(error).__name__] += 1
            print(f"{name}: CRASH: {type(error).__name__}")
            continue
        kept = sum(one in out for _, one in bodies(root))
        untrue = [*silent(root, given.limit), *dropped(root, given.limit), *joined(root, given.limit)]
        wrong += len(untrue) + len(lost) + (again.data != history.data)
        leading = f"; references {lost}" if lost else ""
        here = shares(root, given.limit, gaps)
        counts += here
        stable = "the same" if again.data == history.data else "NOT THE SAME"
        end = f"untrue {untrue}{leading}; {_said(here)}"
        print(f"{name}: {losses.summary}; {kept} as they came; read again {stable}; {end}")
    for line, number in gaps.most_common(given.gaps):
        print(f"{number:5} {line}")
    crashed = sum(CRASHES.values())
    kinds = f" ({', '.join(sorted(CRASHES))})" if crashed else ""
    print(f"{_said(counts)}; {wrong} untrue, broken or not the same; {crashed} crashes{kinds}")
    return 1 if wrong or crashed else 0


def _said(counts: Counter[str]) -> str:
    parts = ((name, counts[f"{name} understood"], counts[name]) for name in ("wound", "care"))
    return ", ".join(f"{name} {read} of {all_} ({read / all_:.0%})" for name, read, all_ in parts if all_)


if __name__ == "__main__":
    sys.exit(main())
