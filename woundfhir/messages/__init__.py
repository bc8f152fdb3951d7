"""Messages in the language that holds: the English sentence in the code is the key to the others, as with gettext.

An error, or a line beside a report, is written in English where it arises, as a text or an f-string. The files of
``texts/<language>`` hold the same sentence in another language, keyed by the English one as it stands in the code,
with a named slot for each expression of the f-string: ``"a list of {label}" = "une liste de {label}"``. When a message
is shown (``translated``, ``shown``), its sentence is found again and its slots are filled. What has no entry is shown
in English: ``tests/french/test_messages.py`` counts these.

What stands in a slot is shown as it is, as it may be a key or a name of the input. A slot ``{names:or}`` of the other
language holds a list, whose "and" and "or" are words; a slot ``{why:words}`` a sentence of ours, which is looked up.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache
from string import Formatter
from typing import NamedTuple

from woundfhir.errors import WIDTH, InputError, escaped
from woundfhir.language import ENGLISH, spoken
from woundfhir.texts import read_tables

_FORMATTER = Formatter()
_JOINER = re.compile(" (?:and|or) ")
#: What parts a line, the coarsest first.
_PARTS = (re.compile(r"(?<=[.?!])( )(?=[A-Z`])"), re.compile("(; )"), re.compile("(: )"))


#: The end of every error.
_FRAME = "expected {expected}. {fix}"


class _Template(NamedTuple):
    """An English sentence with slots, and what it is in another language."""

    pattern: re.Pattern[str]
    weight: int
    other: str


def translated(text: str) -> str:
    """Return a sentence of ours in the language that holds; in English where that has no other words for it.

    Examples
    --------
    >>> from woundfhir.language import speaking
    >>> translated("one of en, fr")
    'one of en, fr'
    >>> with speaking("fr"):
    ...     translated("one of en, fr")
    "l'un de ceux-ci\\xa0: en, fr"
    """
    return text if spoken() is ENGLISH or not text else _phrase(text)


def shown(error: Exception) -> str:
    """Return an error as a person reads it.

    Examples
    --------
    >>> from woundfhir.language import speaking
    >>> with speaking("fr"):
    ...     shown(InputError("note.yaml", "a file", "Check the name and the folder", found="there is no such file"))
    "note.yaml\\xa0: ce fichier n'existe pas; attendu\\xa0: un fichier. Vérifier le nom et le répertoire"
    """
    if spoken() is ENGLISH or not isinstance(error, InputError):
        return translated(str(error))
    place = f"{place_of(error.where)}{_colon()}" if error.where else ""
    wrong = f"{escaped(translated(error.found))}; " if error.found else ""
    rest = _known(spoken().key).get(_FRAME, _FRAME)
    expected, fix = (escaped(translated(text), 2 * WIDTH) for text in (error.expected, error.fix))
    more = str(error).splitlines()[1:]  # of an error that has several reasons
    return "\n".join([f"{place}{wrong}{rest.format(expected=expected, fix=fix)}", *map(translated, more)])


def place_of(where: str) -> str:
    """Return the place of an error: parts between commas, of which some are ours (``line 3``).

    Examples
    --------
    >>> from woundfhir.language import speaking
    >>> with speaking("fr"):
    ...     place_of("notes.yaml, line 3")
    'notes.yaml, ligne 3'
    """
    return _whole(where) or ", ".join(map(translated, where.split(", ")))


def known(language: str = "") -> dict[str, str]:
    """Return the sentences that a language has words for: English -> other."""
    return _known(language or spoken().key)


@lru_cache(maxsize=8)
def _known(language: str) -> dict[str, str]:
    return {text: other for table in read_tables(__name__, language).values() for text, other in table.items()}


@lru_cache(maxsize=8)
def _templates(language: str) -> list[_Template]:
    """The sentences with slots, the one with most words of its own first."""
    found = [(text, other) for text, other in _known(language).items() if "{" in text]
    made = (_Template(*_pattern(text), other) for text, other in found)
    return sorted((one for one in made if one.weight > 2), key=lambda one: -one.weight)


def _pattern(text: str) -> tuple[re.Pattern[str], int]:
    out, weight = "", 0
    for literal, name, _, _ in _FORMATTER.parse(text):
        out, weight = out + re.escape(literal), weight + len(literal.replace(" ", ""))
        if name is not None:
            held = "[^():;]" if name == "number" else "."  # "a (b): c (3 values)": 3, and not "b): c (3"
            out += f"(?P<{name}>{held}*?)"
    return re.compile(out, re.DOTALL), weight


def _phrase(text: str) -> str:
    """Find a text as a whole, else by its sentences, and by the parts of a line that a colon parts."""
    if (found := _whole(text) or _behind_a_place(text)) is not None:
        return found
    for mark in _PARTS:
        if len(parts := mark.split(text)) > 1:
            return "".join(
                _phrase(part) if number % 2 == 0 else _colon() if part == ": " else part
                for number, part in enumerate(parts)
            )
    bare = text.rstrip(".;")
    found = _whole(bare) if bare != text else None
    return text if found is None else found + text[len(bare) :]


def _behind_a_place(text: str) -> str | None:
    """Find a sentence that has a semicolon of its own, behind the place that it is about: ``Observation: ...; ...``."""
    place, colon, rest = text.partition(": ")
    while colon and "; " in rest:
        if (found := _known(spoken().key).get(rest)) is not None:
            return f"{_phrase(place)}{_colon()}{found}"
        more, colon, rest = rest.partition(": ")
        place = f"{place}: {more}"
    return None


def _whole(text: str) -> str | None:
    known = _known(spoken().key)
    if text in known and "{" not in known[text]:
        return known[text]
    for one in _templates(spoken().key):
        if found := one.pattern.fullmatch(text):
            return _filled(one.other, found.groupdict())
    return known.get(text)


def _filled(other: str, slots: dict[str, str]) -> str:
    out = []
    for literal, name, style, _ in _FORMATTER.parse(other):
        out.append(literal)
        if name is not None:
            out.append(_STYLES[style or ""](slots[name]))
    return "".join(out)


def _list(text: str) -> str:
    known = _known(spoken().key)
    return _JOINER.sub(lambda found: known.get(found[0], found[0]), text)


#: How what stands in a slot is shown: as it is, as a list, or looked up as a sentence of ours.
_STYLES: dict[str, Callable[[str], str]] = {"": str, "or": _list, "words": translated}


def _colon() -> str:
    return _known(spoken().key).get(": ", ": ")
