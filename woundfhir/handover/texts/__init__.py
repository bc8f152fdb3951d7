"""The words of the sheet and of the document's narrative: one file a language, with named slots."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files


@cache
def _texts(language: str) -> dict[str, str]:
    raw = tomllib.loads((files("woundfhir.handover.texts") / f"{language}.toml").read_text("utf-8"))
    return {f"{part}.{key}": words for part, table in raw.items() for key, words in table.items()}


def say(key: str, language: str = "en", **slots: object) -> str:
    """Return the words under a key, their slots filled.

    Parameters
    ----------
    key
        ``part.key`` of the language's file.
    slots
        What stands at the names in braces.

    Raises
    ------
    KeyError
        For a key that the file does not have, and for a slot that is not given.

    Examples
    --------
    >>> say("fact.absent", reason="declined")
    'not given: declined'
    """
    return _texts(language)[key].format_map(slots)
