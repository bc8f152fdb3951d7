"""The catalogue that holds here, the shipped one or a site's; and what is made of a catalogue is kept with it.

A site's catalogue holds in one context (``contextvars``): in a ``with`` block and what it calls, for no other thread,
and not after the block. Whatever is computed from the catalogue and kept must therefore be kept with that catalogue:
``per_catalogue`` takes the place of ``functools.cache`` there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import lru_cache, wraps
from typing import Any, TypeVar, cast

from woundfhir.catalogue.load import load, shipped
from woundfhir.catalogue.whole import Catalogue
from woundfhir.language import ENGLISH, spoken

F = TypeVar("F", bound=Callable[..., Any])
_IN_FORCE: ContextVar[Catalogue | None] = ContextVar("catalogue in force", default=None)
_in_force = _IN_FORCE.get


def catalogue() -> Catalogue:
    """Return the catalogue that holds here; the shipped one is loaded once.

    Raises
    ------
    CatalogueError
        When the files do not hold together.

    Examples
    --------
    >>> catalogue().concept("assessment.length").codings[0].code
    '39126-8'
    """
    found = _in_force() or shipped()
    return found if spoken() is ENGLISH else _in_language(found)


def _in_language(found: Catalogue) -> Catalogue:
    """The same catalogue, its labels and questions in the language that holds."""
    key, language = (_in_language, spoken()), spoken()
    if key not in found.kept:
        found.kept[key] = load(found.added, language)
    return cast(Catalogue, found.kept[key])


@contextmanager
def holding(one: Catalogue) -> Iterator[Catalogue]:
    """Let a catalogue hold until the block ends."""
    token = _IN_FORCE.set(one)
    try:
        yield one
    finally:
        _IN_FORCE.reset(token)


def per_catalogue(maxsize: int | None = None) -> Callable[[F], F]:
    """Keep the results of a function that asks the catalogue, apart for each catalogue.

    Parameters
    ----------
    maxsize
        The most results that are kept of one catalogue; None for all.

    Examples
    --------
    >>> @per_catalogue()
    ... def first() -> str:
    ...     return next(catalogue().concepts()).path
    >>> first()
    'wound.kind'
    """

    def keeping(function: F) -> F:
        @wraps(function)
        def call(*args: Any) -> Any:
            kept = catalogue().kept
            found = kept.get(function)
            if found is None:
                found = kept.setdefault(function, lru_cache(maxsize)(function))
            return found(*args)

        return cast(F, call)

    return keeping
