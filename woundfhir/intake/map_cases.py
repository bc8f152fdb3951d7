"""The cases of maps: what was given, and what the record must then say. They stand beside a map as NAME.cases.json."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec

from woundfhir.errors import InputError
from woundfhir.intake.mapped import using
from woundfhir.intake.resources import from_fhir
from woundfhir.maps import is_map
from woundfhir.maps.table import shipped_folder
from woundfhir.record.canonical import from_json

Json = Any
_STEP = re.compile(r"\.?([^.\[\]]+)|\[(\d+)\]")
_FORM = 'a list "cases", each with name, given (resources) and expect (place in the record: value, or null)'


def run(path: Path | None) -> Iterator[tuple[str, str]]:
    """Yield each case of a map, or of a folder of maps, and what is wrong with it ("" where it holds).

    Parameters
    ----------
    path
        A map, or a folder; None for what is shipped.

    Raises
    ------
    InputError
        For a map that does not hold, for cases that are none, and where there are none at all.
    """
    here = shipped_folder() if path is None else path
    if not here.exists():
        raise InputError(str(here), "a map: a file or a folder", "Check the name", found="there is no such file")
    maps = sorted(one for one in here.rglob("*") if is_map(one.name)) if here.is_dir() else [here]
    with using([] if path is None else [here]):
        found = [cases for one in maps if (cases := one.with_name(f"{one.stem}.cases.json")).exists()]
        if not found:
            raise InputError(str(here), "cases beside the map, in NAME.cases.json", f"Write {_FORM}")
        for file in found:
            yield from _cases(file)


def _cases(file: Path) -> Iterator[tuple[str, str]]:
    try:
        cases = from_json(file.read_bytes())["cases"]
        given = [(f"{file.name}: {one['name']}", one["given"], one["expect"]) for one in cases]
    except (msgspec.DecodeError, KeyError, TypeError):
        raise InputError(str(file), _FORM, "Look at a shipped one") from None
    for name, resources, expected in given:
        history, report = from_fhir(resources)
        said = {**history.data, "understood": report.understood}
        wrong = [where for where, value in expected.items() if _at(said, where) != value]
        yield name, f"the record says something else at {', '.join(wrong)}" if wrong else ""


def _at(value: Json, where: str) -> Json:
    """Return what stands at a place such as ``wounds[0].kind``; None where nothing does."""
    for key, number in _STEP.findall(where):
        try:
            value = value[int(number)] if number else value[key]
        except (KeyError, IndexError, TypeError):
            return None
    return value
