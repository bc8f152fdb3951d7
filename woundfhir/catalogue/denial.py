"""What a phrase denies: "no bone or tendon visible", "bone not seen", "denies fever, chills". The words are data.

A denial reaches to the end of its part of the sentence and no further, and where it is not sure how far it reaches it
reaches less: what is wrongly read as there is asked about once, what is wrongly read as denied is never asked about.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache, lru_cache
from typing import Any

from woundfhir.catalogue.data_file import data_file
from woundfhir.catalogue.spelling import folded

_WORD = re.compile(r"[^\W\d_]+")


@cache
def _data() -> dict[str, Any]:
    return data_file("denial.toml")


@cache
def _pattern(name: str) -> re.Pattern[str]:
    return re.compile(_data()[name], re.X)


@cache
def _neutral() -> frozenset[str]:
    return frozenset(_data()["neutral"])


def has_denial(spelling: str) -> bool:
    """Whether a spelling holds a denial itself: "not felt" is an answer of its own.

    Examples
    --------
    >>> has_denial("not felt"), has_denial("absent"), has_denial("bone")
    (True, True, False)
    """
    return any(_pattern(name).search(spelling) is not None for name in ("denial", "past", "behind"))


@lru_cache(maxsize=65536)
def undenied(text: str, known: tuple[str, ...] = ()) -> str:
    """Return a phrase, in small letters, without what it denies.

    Parameters
    ----------
    text
        The phrase as written.
    known
        Spellings of what may be denied: a list of nothing else goes on behind a comma.

    Examples
    --------
    >>> said = ("No bone, pus", "no bone but pus", "bone not seen", "hx of DVT, resolved")
    >>> [undenied(one).strip(" ,") for one in said]
    ['pus', 'but pus', '', '']
    >>> undenied("no bone, tendon or muscle seen", ("bone", "tendon", "muscle")).strip(" ,")
    ''

    A denial of the denial is none, and neither is one of another day:

    >>> [undenied(one).strip(" ,") for one in ("no change, bone seen", "fever not resolved", "no bone yesterday")]
    ['bone seen', 'fever', 'no bone yesterday']
    """
    return _parted(text, known)[0]


@lru_cache(maxsize=65536)
def denies(text: str, known: tuple[str, ...], names: tuple[str, ...] = ()) -> bool:
    """Whether a phrase denies things of a list, and says nothing else.

    Parameters
    ----------
    text
        The phrase as written.
    known
        The spellings of the list.
    names
        What the list is about.

    Examples
    --------
    >>> known = ("bone", "tendon", "fever", "chills", "active")
    >>> [denies(one, known, ("Bleeding",)) for one in ("no bone or tendon visible", "no active bleeding", "afebrile")]
    [True, True, True]
    >>> [denies(one, known) for one in ("no bone, deep", "no problems", "not sure about bone", "no doubt bone", "bone")]
    [False, False, False, False, False]
    """
    kept, denied = _parted(text, (*known, *names))
    if not denied or "?" in text:
        return False
    words = _words_of((*known, *names))
    return set(_WORD.findall(kept)) <= _neutral() and set(_WORD.findall(denied)) <= words and not _DIGIT.search(denied)


_DIGIT = re.compile(r"\d")


def _parted(text: str, known: tuple[str, ...]) -> tuple[str, str]:
    """Return what a phrase says and what it denies."""
    whole = folded(text)
    for word, phrase in _data()["one_word"].items():
        whole = re.sub(rf"\b{word}\b", phrase, whole)
    whole = _pattern("no_denial").sub(" ", whole)
    parts = _pattern("parts").split(whole)
    kept: list[str] = []
    denied: list[str] = []
    open_denial = ""  # the denial that a list behind a comma may go on with
    for number, part in enumerate(parts):
        if number % 2:  # what stands between two parts
            kept.append(part)
            open_denial = open_denial if part.strip() == "," else ""
            continue
        if open_denial and _goes_on(open_denial, parts[number::2], known):
            denied.append(part)
            continue
        says, gone, open_denial = _of_part(part, known)
        before = kept[-2] if len(kept) > 1 else ""
        if not says.strip() and _pattern("behind").match(part.strip()) and not _pattern("seen").search(before):
            denied.append(before)  # "DVT, resolved", and not "bone palpable, not visible"
            kept[-2:-1] = [" "]
        kept.append(says)
        denied.append(gone)
    return "".join(kept), " ".join(denied).strip()


def _of_part(part: str, known: tuple[str, ...]) -> tuple[str, str, str]:
    """Return what one part says and denies, and its denial where that reaches the end of the part."""
    if "?" in part or _pattern("then").search(part):
        return part, "", ""
    behind = _pattern("behind").search(part)
    if behind is not None:
        before = part[: behind.start()]
        of = max((one.end() for one in _pattern("beside").finditer(before)), default=0)
        bare = not _pattern("seen").search(before[of:]) and not _pattern("denial").search(before[of:])
        if bare and (before[of:].strip() or not part[behind.end() :].strip()):
            return before[:of] + part[behind.end() :], before[of:], ""
    found = _pattern("denial").search(part) or _pattern("past").search(part)
    if found is None:
        return part, "", ""
    rest = part[found.end() :]
    stop = _pattern("stop").search(rest)
    end = len(rest) if stop is None else stop.start()
    reach = _reach(rest[:end], known) if known else end
    whole = stop is None and reach == end
    return f"{part[: found.start()]} {rest[reach:]}", rest[:reach] or " ", found[0] if whole else ""


def _reach(rest: str, known: tuple[str, ...]) -> int:
    """How far a denial reaches: not over a word that is neither of the list nor a small one, where no "or" follows.

    Of "no dressing over bone" it denies no bone; of "no blood or pus" it denies pus.
    """
    words = _words_of(known)
    parts = list(_WORD.finditer(rest))
    for number, one in enumerate(parts):
        joined = number + 1 < len(parts) and _pattern("or").search(rest[one.end() : parts[number + 1].end()])
        if one[0] not in words and not joined:
            return one.start()
    return len(rest)


@lru_cache(maxsize=4096)
def _words_of(known: tuple[str, ...]) -> frozenset[str]:
    words = {part for one in known for part in _WORD.findall(one.casefold())}
    return frozenset(words | {f"{part}s" for part in words}) | _neutral()


def _goes_on(denial: str, parts: Iterable[str], known: tuple[str, ...]) -> bool:
    """Whether a denial goes on behind a comma: "denies fever, chills", "no bone, tendon or muscle seen"."""
    lists = _pattern("lists").fullmatch(denial) is not None
    for part in parts:
        bare = re.sub(
            "|".join(rf"\b{re.escape(one.casefold())}s?\b" for one in sorted(known, key=len, reverse=True)) or "$^",
            " ",
            part,
        )
        if bare == part or not set(_WORD.findall(bare)) <= _neutral() or re.search(r"[\d?+]", bare):
            return False
        ends = _pattern("or").search(part) is not None
        if ends or lists:
            return ends or not _pattern("seen").search(part)
    return False
