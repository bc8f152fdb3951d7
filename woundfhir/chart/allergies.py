"""Which substance an allergy names, and which products of a note may carry it: one comparison for rules and sheet.

Products state their substances in the answer lists; a product that a list does not know is judged by its own words.
What fits is asked about and never decided here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import cache, lru_cache
from typing import NamedTuple

from woundfhir.catalogue import Concept, catalogue, per_catalogue
from woundfhir.catalogue.translation import plain_words
from woundfhir.chart.asking import known
from woundfhir.chart.leaves import Leaf
from woundfhir.record.shapes import shape_of


class Met(NamedTuple):
    """An allergy and a product that may carry what it names.

    Attributes
    ----------
    allergy, product
        Both as written.
    substances
        What is met: keys of the catalogue's substances.toml, or the allergy itself where it names none of them.
    leaf
        The answer that names the product.
    """

    allergy: str
    product: str
    substances: frozenset[str]
    leaf: Leaf

    @property
    def came_off(self) -> bool:
        """Whether the product was taken off at the visit."""
        return self.leaf.concept.of == "removed"


def allergies_met(leaves: Iterable[Leaf], allergies: Iterable[str]) -> Iterator[Met]:
    """Yield each allergy that may fit something which a note names, in the order of the note.

    Every step is looked at: what came off, solution, skin protection, packing, dressings, securement, compression,
    and the supplies, gloves among them.

    Parameters
    ----------
    leaves
        The answers of a note about one wound (``EntryView.leaves``).
    allergies
        The names of the allergies that hold.
    """
    names = tuple(allergies)
    for leaf in leaves if names else ():
        if not _names_products(leaf.concept) or not known(leaf.value):
            continue
        for concept, word in shape_of(leaf.concept).named(leaf.concept, leaf.value):
            for allergy in names:
                if met := substances_met(allergy, concept, word):
                    yield Met(allergy, word, met, leaf)


@cache
def _names_products(concept: Concept) -> bool:
    """Whether an answer names a product: from a list of products, or in free words about one of them."""
    if concept.group not in ("care", "supply"):
        return False
    if concept.answers is not None:
        return bool(concept.answers.substances)
    if concept.shape != "text" or concept.of is None:
        return False
    step = catalogue().concept(f"{concept.group}.{concept.of}")
    return any(one.answers is not None and one.answers.substances for one in step.fields.values())


@per_catalogue(4096)
def substances_named(text: str) -> frozenset[str]:
    """Return the substances that an allergy, or an unknown product, names (keys of the catalogue's substances.toml).

    Examples
    --------
    >>> sorted(substances_named("Adhesive tapes")), sorted(substances_named("bee stings"))
    (['adhesive'], ['bee venom'])
    >>> substances_named("latex-free gloves"), substances_named("tapentadol")
    (frozenset(), frozenset())
    """
    plain = plain_words(text)
    return frozenset(key for key, found in _patterns().items() if _holds(plain, found))


@lru_cache(maxsize=65536)
def substances_met(allergy: str, concept: Concept, word: str) -> frozenset[str]:
    """Return what of an allergy a product may carry; empty where nothing fits.

    A product that the answer list knows carries what it states. One that is not known, and free words, are judged by
    the substances that they name; an allergy that names no substance is looked for in the product's name, and stands
    for itself.

    Examples
    --------
    >>> cover = catalogue().concept("care.secondary_dressing.dressing")
    >>> substances_met("bee products", cover, "honey"), substances_met("wasp stings", cover, "honey")
    (frozenset({'honey'}), frozenset())
    """
    named = substances_named(allergy)
    listed = concept.answers.find(word) if concept.answers else None
    carried = listed.substances if listed is not None else None
    met = named & (substances_named(word) if carried is None else carried)
    by_name = {key for key in named if catalogue().pages.substances[key].by_name}
    if met or (named and not by_name):
        return met
    names = plain_words(" | ".join([word, *((listed.word, *listed.also) if listed else ())]))
    if by_name:
        return frozenset(key for key in by_name if _holds(names, _patterns()[key]))
    return frozenset([allergy]) if _holds(names, re.escape(plain_words(allergy))) else frozenset()


@per_catalogue()
def _patterns() -> dict[str, str]:
    return {
        key: "(?:" + "|".join(re.escape(plain_words(name)) for name in one.called) + ")"
        for key, one in catalogue().pages.substances.items()
    }


def _holds(text: str, name: str) -> bool:
    """Whether a text names a thing as whole words, and not its absence."""
    here = rf"\b{name}s?\b"
    without = rf"(?:\bnon |\bno |\bnot |\bwithout |\bfree (?:of|from) ){here}|{here} free\b"
    return re.search(here, re.sub(without, " ", text)) is not None
