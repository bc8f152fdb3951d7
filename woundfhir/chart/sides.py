"""A site with its side in one word, as a nurse writes it: "left great toe" names the great toe, on the left."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.catalogue import catalogue

Json = Any


def parted(wound: Mapping[str, Json]) -> Mapping[str, Json]:
    """Return a wound's answers with the side apart from the site, where the words are no other site of the list.

    Nothing is parted where another side is written: then the two contradict each other.

    Examples
    --------
    >>> parted({"site": "left great toe"}), parted({"site": "heel L", "side": "left"})
    ({'site': 'great toe', 'side': 'left'}, {'site': 'heel', 'side': 'left'})
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
