"""A site with its side in one word, as a nurse writes it: "left great toe" names the great toe, on the left."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from woundfhir.catalogue import catalogue, per_catalogue

Json = Any


def parted(wound: Mapping[str, Json]) -> Mapping[str, Json]:
    """Return a wound's answers with the side apart from the site, where the words are no other site of the list.

    Nothing is parted where another side is written: then the two contradict each other.

    Examples
    --------
    >>> parted({"site": "left great toe"}), parted({"site": "heel L", "side": "left"})
    ({'site': 'great toe', 'side': 'left'}, {'site': 'heel', 'side': 'left'})
    >>> parted({"site": "great toe L"})
    {'site': 'great toe', 'side': 'left'}
    >>> parted({"site": "left heel", "side": "right"}), parted({"site": "left of the navel"})
    ({'site': 'left heel', 'side': 'right'}, {'site': 'left of the navel'})
    """
    site, side = wound.get("site"), wound.get("side")
    sites, sides = catalogue().concept("wound.site").answers, catalogue().concept("wound.side").answers
    if sites is None or sides is None or not isinstance(site, str) or sites.find(site) is not None:
        return wound
    words = site.split()
    for one, rest in ((words[0], words[1:]), (words[-1], words[:-1])):
        found, place = sides.find(one), " ".join(rest)
        if found is not None and sites.find(place) is not None and (side is None or sides.find(side) is found):
            return {**wound, "site": place, "side": found.word}
    return wound


#: Spellings of a side that mean something else in a sentence: a vitamin, a grade, a doctor.
_NO_WORDS = frozenset(("d", "g", "dr"))
#: What makes "right" no side of the body: "right of the navel", "right away".
_NO_SIDE = r"(?!\s+(?:of|to|from|away|now|after|before|at)\b)"
_WOUND = r"(?:ulcer|wound|sore|tear|injury|burn|incision|plaie|ulcère|lésion|brûlure|déchirure)s?"


@per_catalogue()
def _in_text(side: str) -> str:
    """The spellings of a side in the catalogue, as they stand in a sentence: one letter counts as a capital alone."""
    sides = catalogue().concept("wound.side").answers
    spelt = {} if sides is None else sides.by_word
    words = sorted(form for form, answer in spelt.items() if answer.word == side and form.isalpha())
    return "|".join(f"(?-i:{one.upper()})" if len(one) == 1 else one for one in words if one not in _NO_WORDS)


@per_catalogue()
def _body() -> str:
    answers = catalogue().concept("wound.site").answers
    names = {one.casefold() for word in (answers.words if answers else ()) for one in (word.word, *word.also)}
    names |= {label.casefold() for word in (answers.words if answers else ()) for _, label in word.labels}
    names |= {"leg", "arm", "limb", "jambe", "bras", "pied", "talon"}
    return "|".join(map(re.escape, sorted(one for one in names if len(one) > 2)))


@per_catalogue()
def _named_at(side: str, with_wound: bool) -> re.Pattern[str]:
    words, body, between = _in_text(side), _body(), r"\s+(?:[^\W\d_]+\s+){0,2}?"
    behind = "gauche" if side == "left" else "droite?"
    place = rf"(?:\b(?:{words})\b{_NO_SIDE}{between}(?:{body})s?|\b(?:{body})\s+(?:[^\W\d_]+\s+)?{behind}\b)"
    if with_wound:
        article = r"(?:the\s+|la\s+|le\s+|her\s+|his\s+|l')?"
        place = (
            rf"(?:{place}\b(?:\s+[^\W\d_]+)?\s+{_WOUND}\b"
            rf"|\b{_WOUND}\s+(?:on|of|to|at|over|de|du|à|sur)\s+{article}{place}\b)"
        )
    return re.compile(place, re.I)


def sides_named(text: str) -> frozenset[str]:
    """Return which of left and right words name at a part of the body; a side alone counts too.

    Examples
    --------
    >>> [sorted(sides_named(text)) for text in ("Right heel", "Left", "2 cm right of the shin", "both heels")]
    [['right'], ['left'], [], []]
    """
    sides = catalogue().concept("wound.side").answers
    alone = sides.find(text) if sides is not None else None
    if alone is not None:
        return frozenset({alone.word} & {"left", "right"})
    return frozenset(side for side in ("left", "right") if _named_at(side, False).search(text))


def names_other_side(side: str | None, text: str, *, of_wound: bool = False) -> bool:
    """Whether words name a part of the body on the other side than a wound's, and none on its own.

    Parameters
    ----------
    side
        The wound's side; nothing contradicts a side that is neither left nor right.
    text
        The words.
    of_wound
        Whether they must speak of a wound there: a note may well speak of the other leg.

    Examples
    --------
    >>> [names_other_side("left", text) for text in ("RIGHT leg, lateral", "jambe droite", "2 cm right of the shin")]
    [True, True, False]
    >>> [names_other_side("left", text, of_wound=True) for text in ("right leg swollen", "R heel ulcer cleansed")]
    [False, True]
    """
    other = {"left": "right", "right": "left"}.get(side or "")
    if other is None or side is None or _named_at(other, of_wound).search(text) is None:
        return False
    return _named_at(side, False).search(text) is None
