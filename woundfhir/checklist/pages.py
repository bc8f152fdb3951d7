"""The page of each rule as data: why it is asked, what is wrong, what is right, what to write, and who says so.

The texts stand in ``texts/<language>/<group>.toml``, one table a rule::

    [EX01]
    title = "An exudate type is written beside \\"no exudate\\"."
    why = "The two answers contradict each other; the next nurse cannot tell which one holds."
    wrong = "exudate_amount: none, exudate_type: serous"
    right = "exudate_amount: small, exudate_type: serous"
    fix = "Correct the amount, or leave the type out."
    source = "comparison of the answers of one note"
    mark = "arithmetic"
    message = "No exudate, but a type of exudate is written"

A rule with several messages has ``messages.KEY = ...`` instead of ``message``, and where one of them needs its own
advice, ``fixes.KEY = ...``. ``words.KEY = ...`` are the words that a rule lists in a slot. The advice of a safety
prompt is followed by who decides, which is written once, in ``words.toml``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError

from woundfhir.catalogue.model import Mark
from woundfhir.language import ENGLISH, spoken
from woundfhir.texts import Joiners, Slot, TextError, fill, slots_of, tables

#: The key of the message of a rule that has only one.
ONLY = "message"
_PACKAGE = "woundfhir.checklist"
#: Tables of the text files that are no page of a rule.
_COMMON: tuple[str, ...] = ("joining", "marks", "sources", "rule_words", "policy", "caution", "presence", "groups")
_COMMON += ("actions", "action_words", "offloading_words", "note_words")


class _Table(BaseModel):
    """One table of a text file."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)
    title: str
    why: str
    wrong: str
    right: str
    fix: str
    source: str
    mark: Mark
    message: str = ""
    messages: dict[str, str] = {}
    fixes: dict[str, str] = {}
    words: dict[str, str] = {}


@dataclass(frozen=True, slots=True)
class Page:
    """The page of one rule in one language, as ``explain`` prints it, with the messages of its findings.

    Attributes
    ----------
    title, why, wrong, right, fix
        What the rule finds, why it matters, an example of each kind, and what to write.
    source
        Who says so, with how far that can be trusted in brackets.
    mark
        How far the source can be trusted.
    messages, fixes
        Key -> what a finding says, and what to write where that is not the page's own ``fix``.
    words
        Key -> word, for slots that list words.
    joined
        How the language of all of these joins a list.

    Examples
    --------
    >>> from woundfhir.checklist import rules_of
    >>> found = next(one for one in rules_of() if one.code == "WD01").page
    >>> found.title
    'A word that its list does not know: rules that lean on it could not look.'
    """

    title: str
    why: str
    wrong: str
    right: str
    fix: str
    source: str
    mark: str
    messages: Mapping[str, str]
    fixes: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    joined: Joiners = field(default_factory=lambda: joiners())

    def message(self, key: str, slots: Mapping[str, Slot]) -> str:
        """Return what a finding says.

        Raises
        ------
        TextError
            When the page has no such message, or the rule does not give one of its slots.
        """
        if key not in self.messages:
            raise TextError(f"no message '{key}' for the rule: {self.title}")
        return self._filled(self.messages[key], slots)

    def advice(self, key: str, slots: Mapping[str, Slot]) -> str:
        """Return what a finding says to write: the message's own advice, else the page's."""
        return self._filled(self.fixes[key], slots) if key in self.fixes else self.fix

    def _filled(self, template: str, slots: Mapping[str, Slot]) -> str:
        return fill(template, slots, self.words, self.joined) if "{" in template or "}" in template else template


def joiners() -> Joiners:
    """Return how the language that holds joins a list."""
    table = common("joining")
    return Joiners(table["and"], table["or"])


def common(name: str) -> Mapping[str, str]:
    """Return a table of texts that belongs to no single rule."""
    found: Mapping[str, str] = tables(_PACKAGE)[name]
    return found


def codes() -> frozenset[str]:
    """Return the codes of all rules that have a page."""
    return frozenset(tables(_PACKAGE)) - frozenset(_COMMON)


def page(code: str, *, caution: bool, package: str = _PACKAGE) -> Page:
    """Return the page of a rule.

    Parameters
    ----------
    code
        The rule's code: the name of its table.
    caution
        Whether it is a safety prompt: its advice ends with who decides.
    package
        Where the texts are.

    Raises
    ------
    TextError
        When the page is missing, or has a key too many, too few or of the wrong kind.

    Examples
    --------
    >>> page("HD06", caution=False).mark
    'published standard'
    """
    raw = tables(package).get(code)
    if raw is None:
        raise TextError(f"{code}: no page in {package}, texts/{spoken().key}")
    table = _checked(code, _matching(raw, tables(package, ENGLISH.key)[code]))
    ending = f" {common('caution')['defer']}" if caution else ""
    return Page(
        table.title,
        table.why,
        table.wrong,
        table.right,
        table.fix + ending,
        cited(table.source, table.mark),
        table.mark,
        table.messages or {ONLY: table.message},
        {key: text + ending for key, text in table.fixes.items()},
        table.words,
    )


def _matching(said: Mapping[str, Any], english: Mapping[str, Any]) -> dict[str, Any]:
    """Return a page without the keys that the English page no longer has: a stale translation stops no checklist."""
    return {
        key: _matching(said[key], value) if isinstance(value, dict) else said.get(key, value)
        for key, value in english.items()
    }


def cited(source: str, mark: str) -> str:
    """Return a source with its mark in brackets; common practice without a source is named once.

    Examples
    --------
    >>> cited("RNAO 2016", "seen"), cited("common practice", "common practice, no source")
    ('RNAO 2016 (seen)', 'common practice, no source')
    """
    named = common("marks")[mark]
    return named if mark.startswith(source) or named.startswith(source) else marked(source, mark)


def marked(source: str, mark: str) -> str:
    """Return a source with its mark in brackets; a title is cited as it was published, other words are translated."""
    said = tables(_PACKAGE).get("sources", {}).get(source, source)
    return f"{said} ({common('marks')[mark]})"


def _checked(code: str, raw: Any) -> _Table:
    try:
        table = _Table.model_validate(raw)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(part) for part in first["loc"])
        raise TextError(f"{code}.{place}: {first['msg']}") from None
    if bool(table.message) == bool(table.messages):
        raise TextError(f"{code}: either 'message' or 'messages' is needed, and only one of them")
    if extra := sorted(table.fixes.keys() - table.messages.keys()):
        raise TextError(f"{code}.fixes: no message of this name: {', '.join(extra)}")
    texts = (table.title, table.why, table.wrong, table.right, table.fix, table.source, *table.messages.values())
    if not all(text.strip() for text in texts):
        raise TextError(f"{code}: a text is empty")
    for text in (table.message, *table.messages.values(), *table.fixes.values()):
        if unknown := sorted(set(slots_of(text).values()) - {"", "and", "or"}):
            raise TextError(f"{code}: a slot is joined by 'and' or 'or', not by {', '.join(unknown)}")
    return table
