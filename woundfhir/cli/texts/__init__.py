"""The words of the command line: one file a language, with named slots."""

from __future__ import annotations

from functools import partial

from woundfhir.language import grouped
from woundfhir.texts import say as say_of
from woundfhir.texts import tables

#: ``words("trend.nothing")``: the words under a key in the language that holds.
words = partial(say_of, "woundfhir.cli")


def count(key: str, number: int) -> str:
    """Return a number with its word, in the form that the language gives it.

    Examples
    --------
    >>> count("wounds", 1), count("wounds", 0)
    ('1 wound', '0 wounds')
    """
    one, _, more = words(f"counted.{key}", number=grouped(number)).partition("|")
    return one if str(number) in tables("woundfhir.cli")["counted"]["singular"] else more
