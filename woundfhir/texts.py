"""Texts for people: TOML files, one folder a language, with named slots that the code fills.

A package keeps its texts in ``texts/<language>/*.toml``; another language is one more folder with the same tables and
keys. Nothing here knows what a text is about. A text that is not there, or a slot that the code does not give, is an
error with the name of the text, never a gap in a sentence. What only English has is English in every language, and
``tests/french/test_complete.py`` names it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import lru_cache
from importlib.resources import files
from string import Formatter
from typing import Any, NamedTuple

from woundfhir.errors import WoundfhirError
from woundfhir.language import ENGLISH, LANGUAGES, decimal_mark, spoken

_FORMATTER = Formatter()


class TextError(WoundfhirError):
    """A text is missing, is not used, or does not fit the code that uses it: a fault of ours."""


class AsWritten(tuple[str, ...]):
    """Words that are printed as they are (units, words of an answer list), where a plain list names texts."""

    __slots__ = ()


#: What fills a slot: a text or number as it is, or the keys of words that the texts hold.
Slot = str | int | Decimal | AsWritten | Sequence[str]


class Joiners(NamedTuple):
    """The two words that join a list in a language: "a, b and c", "a, b or c"."""

    conjunction: str
    alternative: str

    def join(self, words: Sequence[str], style: str = "and") -> str:
        """Return words as one phrase.

        Examples
        --------
        >>> Joiners("and", "or").join(["hour", "side", "depth"]), Joiners("and", "or").join(["cm", "mm"], "or")
        ('hour, side and depth', 'cm or mm')
        """
        last = self.alternative if style == "or" else self.conjunction
        return f" {last} ".join(part for part in (", ".join(words[:-1]), *words[-1:]) if part)


def tables(package: str, language: str = "") -> Mapping[str, Any]:
    """Return the tables of all text files of a package in one language: in that which holds, where none is named.

    Raises
    ------
    TextError
        When the language has no texts, or two files hold the same table.
    """
    return _tables(package, language or spoken().key)


@lru_cache(maxsize=64)
def _tables(package: str, language: str) -> Mapping[str, Any]:
    found = read_tables(package, language)
    return found if language == ENGLISH.key else over(_tables(package, ENGLISH.key), found)


def over(first: Mapping[str, Any], other: Mapping[str, Any]) -> dict[str, Any]:
    """Return one set of tables with what another one says in its place.

    Examples
    --------
    >>> over({"a": {"b": "one", "c": "two"}}, {"a": {"b": "un"}})
    {'a': {'b': 'un', 'c': 'two'}}
    """
    out = dict(first)
    for key, value in other.items():
        had = out.get(key)
        out[key] = over(had, value) if isinstance(had, Mapping) and isinstance(value, Mapping) else value
    return out


def read_tables(package: str, language: str) -> dict[str, Any]:
    """Return the tables that the files of one language hold, and nothing else; see ``tables``."""
    folder = files(package) / "texts" / language
    if not folder.is_dir():
        if language in LANGUAGES:  # one that is begun: its other rooms are in English
            return {}
        raise TextError(f"{package}: no texts in the language '{language}'")
    out: dict[str, Any] = {}
    for path in sorted(folder.iterdir(), key=lambda one: one.name):
        if not path.name.endswith(".toml"):
            continue
        read = tomllib.loads(path.read_text("utf-8"))
        if twice := sorted(out.keys() & read.keys()):
            raise TextError(f"{package}: {path.name} has a table of another file again: {', '.join(twice)}")
        out.update(read)
    return out


def say(package: str, key: str, **slots: object) -> str:
    """Return a text of a package, ``table.key``, in the language that holds, its slots filled.

    Raises
    ------
    TextError
        For a text that the package does not have, and for a slot that is not given.

    Examples
    --------
    >>> say("woundfhir.measures", "why.gap", days=21)
    'more than 21 days in between'
    """
    table, _, name = key.partition(".")
    try:
        template: str = tables(package)[table][name]
        return template.format_map({slot: _shown(value) for slot, value in slots.items()})
    except KeyError as error:
        raise TextError(f"{package}, {key}: no text or slot {error}") from None


def _shown(value: object) -> object:
    """A number with the decimal sign of the language; everything else as it is."""
    return decimal_mark(str(value)) if isinstance(value, Decimal) else value


def slots_of(template: str) -> dict[str, str]:
    """Return the slots of a text with the way each is joined ("", "and", "or").

    Examples
    --------
    >>> slots_of("{field}: write {units:or}")
    {'field': '', 'units': 'or'}
    """
    try:
        return {name: style or "" for _, name, style, _ in _FORMATTER.parse(template) if name is not None}
    except ValueError as error:
        raise TextError(f"a text with a brace that is not closed or not doubled: {error}") from None


def fill(template: str, slots: Mapping[str, Slot], words: Mapping[str, str], joiners: Joiners) -> str:
    """Return a text with its slots filled.

    Parameters
    ----------
    template
        The text; ``{name}`` is a slot, ``{name:or}`` one whose words are joined by "or", ``{{`` a brace.
    slots
        What fills each. A list of keys is looked up in ``words``; ``AsWritten`` and a text are printed as they are.
    words
        Key -> word in the language of the template.
    joiners
        How the language joins a list.

    Raises
    ------
    TextError
        For a slot that is not given and for a word that the texts do not hold.

    Examples
    --------
    >>> fill("{missing} not written", {"missing": ["clock", "depth"]}, {"clock": "hour", "depth": "depth"},
    ...     Joiners("and", "or"))
    'hour and depth not written'
    """
    out: list[str] = []
    try:
        for literal, name, style, _ in _FORMATTER.parse(template):
            out.append(literal)
            if name is not None:
                value = slots[name]
                if isinstance(value, AsWritten):
                    out.append(joiners.join(value, style or "and"))
                elif isinstance(value, Decimal):
                    out.append(decimal_mark(str(value)))
                elif isinstance(value, (str, int)):
                    out.append(str(value))
                else:
                    out.append(joiners.join([words[key] for key in value], style or "and"))
    except KeyError as error:
        raise TextError(f"no slot or word {error} for the text: {template}") from None
    return "".join(out)
