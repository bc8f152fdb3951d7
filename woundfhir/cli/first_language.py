"""The language of a run before its options are read: help and errors in the options are shown in it.

``--lang``, then WOUNDFHIR_LANG, then the settings, then the site. What is wrong with any of them is said where it is
read in earnest.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

from woundfhir.cli.settings import settings
from woundfhir.errors import InputError
from woundfhir.language import ENGLISH, Language, named


def first_language(args: Sequence[str], verbs: Mapping[str, Any]) -> Language:
    """Return the language that the first one of these names, which there is."""
    for tag in _named(args, verbs):
        try:
            return named(tag)
        except InputError:
            continue
    return ENGLISH


def _named(args: Sequence[str], verbs: Mapping[str, Any]) -> Iterator[str]:
    yield from _given(args, "--lang")
    yield os.environ.get("WOUNDFHIR_LANG", "")
    verb = next((one for one in args if one in verbs), "")
    try:
        kept = {one.option: str(one.value) for one in settings(verbs) if one.verb in ("", verb)}
    except InputError:
        kept = {}
    yield kept.get("lang", "")
    option = "--site-folder" if verb == "new" else "--site"
    for folder in (*_given(args, option), os.environ.get("WOUNDFHIR_SITE", ""), kept.get("site", "")):
        if folder:
            try:
                yield str(tomllib.loads((Path(folder) / "site.toml").read_text("utf-8")).get("language", ""))
            except (OSError, ValueError):
                yield ""
            return


def _given(args: Sequence[str], option: str) -> Iterator[str]:
    """Yield what an option was given, the last one first."""
    own = list(args[: args.index("--")] if "--" in args else args)
    found = [given for one, given in pairwise(own) if one == option]
    found += [one.partition("=")[2] for one in own if one.startswith(f"{option}=")]
    yield from reversed(found)
