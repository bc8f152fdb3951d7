"""What reports say around the findings: texts by key, one file a language (``texts/<language>/report.toml``)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.language import spoken
from woundfhir.texts import Joiners, Slot, TextError, fill, tables

# Slots of reports are texts and numbers; nothing is listed in them.
_JOINERS = Joiners("", "")


def _found(key: str) -> Any:
    found: Any = tables("woundfhir.report")["report"]
    for step in key.split("."):
        if not isinstance(found, Mapping) or step not in found:
            raise TextError(f"report/texts/{spoken().key}: no text '{key}'")
        found = found[step]
    return found


def say(key: str, **slots: Slot) -> str:
    """Return a text with its slots filled.

    Parameters
    ----------
    key
        The key of the text; ``table.key`` for one in a table.

    Raises
    ------
    TextError
        When there is no such text, or one of its slots is not given.

    Examples
    --------
    >>> say("counts.add", number=2)
    '2 to add'
    """
    return fill(_found(key), slots, {}, _JOINERS)


def count(key: str, number: int, **slots: Slot) -> str:
    """Return a text for a number: the language says for which numbers ``one`` stands, ``other`` for all others.

    Examples
    --------
    >>> count("notes", 1), count("notes", 0)
    ('1 note', '0 notes')
    """
    form = "one" if number in _found("singular") else "other"
    return say(f"{key}.{form}", number=number, **slots)


def shortened(message: str) -> str:
    """Return a message as an item of a list of what is missing: without "not written" and without its full stop.

    Examples
    --------
    >>> shortened("Odour: not written"), shortened("Dressing removed: condition not written")
    ('Odour', 'Dressing removed: condition')
    """
    for ending in _found("missing_endings"):
        if message.removesuffix(".").endswith(ending):
            return message.removesuffix(".").removesuffix(ending)
    return message.removesuffix(".")
