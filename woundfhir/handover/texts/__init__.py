"""The words of the sheet and of the document's narrative: one file a language, with named slots."""

from __future__ import annotations

from woundfhir.texts import DEFAULT_LANGUAGE, tables


def say(key: str, language: str = DEFAULT_LANGUAGE, **slots: object) -> str:
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
    part, _, name = key.partition(".")
    words: str = tables("woundfhir.handover", language)[part][name]
    return words.format_map(slots)
