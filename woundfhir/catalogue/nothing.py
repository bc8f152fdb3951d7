"""Words that say "none": looked for, and not there. They are data (``data/nothing.toml``)."""

from __future__ import annotations

import tomllib
from functools import cache, lru_cache
from importlib.resources import files

from woundfhir.catalogue.spelling import same_form


@cache
def _data() -> dict[str, list[str]]:
    return tomllib.loads((files("woundfhir.catalogue") / "data" / "nothing.toml").read_text("utf-8"))


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
