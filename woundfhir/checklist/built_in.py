"""The built-in checklist: every rule that is written by hand, and those that the catalogue makes."""

from __future__ import annotations

from dataclasses import replace
from importlib import import_module
from pkgutil import iter_modules

from woundfhir.catalogue import per_catalogue
from woundfhir.checklist.pages import codes, page
from woundfhir.checklist.presence import presence_rules
from woundfhir.checklist.rule import GROUPS, Rule, registered
from woundfhir.language import ENGLISH, spoken
from woundfhir.texts import TextError


@per_catalogue(8)
def rules() -> tuple[Rule, ...]:
    """Return every rule of the built-in checklist: written ones and those made from the catalogue.

    Raises
    ------
    TextError
        When a rule has no page in the language, or a page has no rule.

    Examples
    --------
    >>> "GAP-assessment.length" in {one.code for one in rules()}
    True
    """
    package = import_module("woundfhir.checklist.rules")
    for module in sorted(iter_modules(package.__path__), key=lambda found: found.name):
        import_module(f"woundfhir.checklist.rules.{module.name}")
    by_hand = registered()
    written = [
        one if spoken() is ENGLISH else replace(one, page=page(one.code, caution=one.severity == "caution"))
        for _, one in sorted(by_hand.items())
    ]
    if unused := sorted(codes() - by_hand.keys()):
        raise TextError(f"texts/{spoken().key}: pages of no rule: {', '.join(unused)}")
    # The sort is stable: what the catalogue asks for stays in the catalogue's order, which is that of a note.
    return tuple(sorted((*written, *presence_rules()), key=lambda one: GROUPS.index(one.group)))
