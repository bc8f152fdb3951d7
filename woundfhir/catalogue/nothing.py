"""Words that say "none": looked for, and not there. They are data (``data/nothing.toml``)."""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import Any

from woundfhir.catalogue.data_file import data_file
from woundfhir.catalogue.denial import undenied
from woundfhir.catalogue.spelling import folded, same_form


@cache
def _data() -> dict[str, Any]:
    return data_file("nothing.toml")


@cache
def _forms(alone: bool) -> frozenset[str]:
    data = _data()
    with_ending = [f"{word} {ending}" for word in data["words"] for ending in data["endings"]]
    return frozenset(map(_form, (*data["words"], *(data["alone"] if alone else ()), *with_ending)))


def _form(text: str) -> str:
    """Dashes and signs, which spelling takes away, stand for themselves."""
    return same_form(text) or text.strip()


@lru_cache(maxsize=65536)
def names_nothing(text: str, *asked: str, alone: bool = True) -> bool:
    """Whether words say that there is none of what is asked for.

    Parameters
    ----------
    text
        The words as written.
    asked
        Names of what is asked for, so that "no undermining" is read too.
    alone
        Whether "negative" and a dash say so too; of a step of the dressing change (a swab) they do not.

    Examples
    --------
    >>> [names_nothing(text) for text in ("none", "Nil", "none seen", "no", "-", "0", "no bone, gut to be seen")]
    [True, True, True, True, True, True, False]
    >>> names_nothing("no tunnels", "Tunnels"), names_nothing("no tunnels"), names_nothing("not looked for", "Tunnels")
    (True, False, False)
    """
    form = _form(text)
    return form in _forms(alone) or form in {same_form(f"{word} {name}") for word in _data()["words"] for name in asked}


def without_ending(text: str) -> str | None:
    """Return words without the ending that says when nothing was seen; None where there is none.

    Examples
    --------
    >>> without_ending("no signs of infection today"), without_ending("no signs")
    ('no signs of infection', None)
    """
    plain = text.casefold().strip(" .")
    found = next((one for one in _data()["when"] if plain.endswith(f" {one}")), None)
    return None if found is None else text.strip(" .")[: -len(found)].strip()


@cache
def _pattern(name: str) -> re.Pattern[str]:
    return re.compile(_data()[name], re.X)


@lru_cache(maxsize=4096)
def says_none(text: str, names: tuple[str, ...], known: tuple[str, ...], *, step: bool = True) -> bool:
    """Whether words say that there is none, or of a step of care that it was not done, with the reason or without.

    Parameters
    ----------
    text
        The words as written.
    names
        Names of what is asked for, so that "no compression" says so.
    known
        The words that answer it: where one stands in the rest undenied, nothing is sure.
    step
        Whether it is a step of care, of which "not done" is an answer; of a finding it is none.

    Examples
    --------
    >>> def undone(text): return says_none(text, ("Compression",), ("short stretch bandage", "tubular bandage"))
    >>> [undone(text) for text in ("not applied - no ABPI yet", "held, ABPI pending", "no short stretch bandage today")]
    [True, True, True]
    >>> [undone(text) for text in ("none - tubular bandage", "no problems", "not changed, stays on")]
    [False, False, False]
    """
    whole = folded(text)
    end = (_undone(whole) if step else None) or _none(whole, names, known)
    if end is None:
        return False
    rest = undenied(whole[end:])
    if _pattern("done").search(rest):
        return False
    return not any(re.search(rf"\b{re.escape(one.casefold())}s?\b", rest) for one in known if len(one) > 2)


def says_not_looked(text: str) -> bool:
    """Whether words say that nobody looked, measured or felt: a reason why there is no answer.

    Examples
    --------
    >>> [says_not_looked(text) for text in ("not probed - too painful", "not done", "none felt", "not deep")]
    [True, True, False, False]
    """
    whole = " ".join(text.casefold().split())
    return _undone(whole) is not None or _pattern("not_looked").match(whole) is not None


def _undone(whole: str) -> int | None:
    """Return where words end that say that something was not done; None where a text does not begin with them."""
    found = _pattern("undone").match(whole)
    return found.end() if found and _pattern("reason").match(whole[found.end() :]) else None


def _none(whole: str, names: tuple[str, ...], known: tuple[str, ...]) -> int | None:
    """Return where a denial ends with which a text begins: "none" before a reason, or "no" and words of the list."""
    parts = re.match(r"([^\W\d_]+)([ ,;:.(-]*)([^-,;:.(]*)", whole)
    if parts is None or parts[1] not in {*_data()["words"], *_data()["before"]}:
        return None
    if parts[1] in _data()["words"] and _pattern("reason").match(whole[parts.end(1) :]):
        return parts.end(1)
    why = _pattern("why").search(parts[3])
    end = parts.end() if why is None else parts.start(3) + why.start()
    denied = set(re.findall(r"[^\W\d_]+", whole[parts.start(3) : end]))
    words = {part for one in (*names, *known) for part in re.findall(r"[^\W\d_]+", one.casefold())}
    return end if denied and denied <= words | set(_data()["beside"]) else None


@lru_cache(maxsize=4096)
def none_known(text: str) -> bool:
    """Whether words say that somebody asked, and that none is known.

    "NKDA" speaks of drugs alone, and dressings are none; a dash says nothing of having asked.

    Examples
    --------
    >>> none_known("nil known"), none_known("N.K.A."), none_known("NKDA"), none_known("-")
    (True, True, False, False)
    """
    return names_nothing(text, alone=False) or _form(text) in {_form(word) for word in _data()["known"]}


@lru_cache(maxsize=4096)
def of_drugs(text: str) -> bool:
    """Whether words say that no allergy to a drug is known: no answer yet about what lies on a wound.

    Examples
    --------
    >>> of_drugs("NKDA"), of_drugs("no known drug allergies"), of_drugs("NKA")
    (True, True, False)
    """
    return _form(text) in {_form(word) for word in _data()["drugs"]}


def fills(text: str) -> bool:
    """Whether a text fills a field without an answer.

    Examples
    --------
    >>> fills("N/A"), fills("?"), fills("none")
    (True, True, False)
    """
    return text.casefold().strip() in _data()["fillers"]
