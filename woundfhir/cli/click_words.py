"""Click's own words ("Usage:", "No such option ...") in the language that holds.

Click asks gettext, which knows one language a process and wants compiled files; our languages hold in one context.
So click's modules are given a lookup of our own. Its English is the key, as everywhere in ``woundfhir.messages``.
"""

from __future__ import annotations

import click.core
import click.decorators
import click.exceptions
import click.formatting
import click.parser
import click.termui
import click.types

from woundfhir.language import ENGLISH, spoken

MODULES = (click.core, click.decorators, click.exceptions, click.formatting, click.parser, click.termui, click.types)


def translate() -> None:
    """Let click look its words up here; what has no entry stays in English."""
    for module in MODULES:
        for name, lookup in (("_", of_click), ("ngettext", _counted)):
            if hasattr(module, name):
                setattr(module, name, lookup)


def of_click(text: str) -> str:
    """Return a text of click, whole with its slots, in the language that holds."""
    if spoken() is ENGLISH:
        return text
    from woundfhir.messages import known

    return _Sentence(known().get(text, text))


class _Sentence(str):
    """A sentence whose slot for a type of number is filled in the same language: click's name of it is English."""

    __slots__ = ()

    def format(self, *args: object, **slots: object) -> str:
        if "number_type" in slots:
            slots["number_type"] = of_click(str(slots["number_type"]))
        return super().format(*args, **slots)


def _counted(one: str, several: str, number: int) -> str:
    return of_click(one if number == 1 else several)
