"""The words of the sheet and of the document's narrative: one file a language, with named slots."""

from __future__ import annotations

from woundfhir.texts import say as say_of


def say(key: str, **slots: object) -> str:
    """Return the words under a key, their slots filled.

    Parameters
    ----------
    key
        ``part.key`` of the language's file.
    slots
        What stands at the names in braces.

    Raises
    ------
    TextError
        For a key that the file does not have, and for a slot that is not given.

    Examples
    --------
    >>> say("fact.pieces", number=2)
    '2 pieces'
    """
    return say_of("woundfhir.handover", key, **slots)
