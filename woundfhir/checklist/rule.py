"""What a rule is: a plain generator of problems, registered under a code that never changes.

A rule's docstring is its page: one first line, then ``Why:``, ``Wrong:``, ``Right:``, ``Fix:`` and ``Source:``.
The source ends in its mark, one of ``MARKS``, so that a reader knows how far to trust it.

Examples
--------
A rule as it stands in ``woundfhir/checklist/rules/``::

    @rule("EX01", "exudate-type-without-exudate", severity="sense", scope="entry", group="every change")
    def exudate_type_without_exudate(view: EntryView, policy: Policy) -> Iterator[Problem]:
        '''An exudate type stands beside "no exudate".

        Why: The two answers contradict each other; the next nurse cannot tell which one holds.

        Wrong: exudate_amount: none, exudate_type: serous

        Right: exudate_amount: small, exudate_type: serous

        Fix: Correct the amount, or take the type out.

        Source: arithmetic of the note itself (common practice, no source)
        '''
        if view.none("assessment.exudate_amount") and view.has("assessment.exudate_type"):
            yield Problem(view.path("assessment.exudate_type"), "An exudate type, but no exudate")
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import import_module
from pkgutil import iter_modules
from typing import Any, Literal, NamedTuple, get_args

from woundfhir.errors import WoundfhirError

#: required, recommended: to add. caution: a safety prompt, to look at. sense: does not hold together, to look at.
Severity = Literal["required", "recommended", "caution", "sense"]
#: What a rule looks at: the whole record, the client, one wound with its visits, one visit, one wound at one visit.
Scope = Literal["record", "patient", "wound", "visit", "entry"]
#: The parts of the checklist, in the order in which they are printed.
GROUPS = (
    "header",
    "sense",
    "first assessment",
    "every change",
    "full assessment",
    "course",
    "pressure injury",
    "lower limb",
    "diabetic foot",
    "skin tear",
    "burn",
    "debridement",
    "packing",
    "dressings",
    "transfer",
    "presence",
    "site",
)
#: How far a source can be trusted; every ``Source:`` section ends in one of these, in brackets.
Mark = Literal[
    "seen",
    "seen, secondary source",
    "from memory",
    "common practice, no source",
    "low-quality source",
    "published standard",
    "arithmetic",
]
MARKS: tuple[str, ...] = get_args(Mark)
SECTIONS = ("Why", "Wrong", "Right", "Fix", "Source")
#: Codes of rules that were taken out, and why: never used again.
RETIRED: dict[str, str] = {}

_CODE = re.compile(r"[A-Z]{2,3}\d{2}|M-[a-z_]+\.[a-z_]+(?:\.[a-z_]+)?|SITE-[A-Za-z0-9_.-]+")
_NAME = re.compile(r"[a-z0-9]+(?:[-.][a-z0-9]+)*")
_SECTION = re.compile(rf"^({'|'.join(SECTIONS)}):[ \n]", re.MULTILINE)
_MARK = re.compile(rf"\(({'|'.join(MARKS)})\)\.?$")


class RuleError(WoundfhirError):
    """A rule is not written as rules are written here: a fault of ours, or of a site's own checklist."""


class Problem(NamedTuple):
    """What a rule found at one place.

    Parameters
    ----------
    path
        Place in the record, as the views' ``path`` gives it: ``visits[3].wounds[0].assessment.exudate_amount``.
    message
        What was found, without any value of the client.
    fix
        What to write; empty for the ``Fix`` of the rule's page.
    value
        The value that was found; shown only when asked for.
    source
        A source to add to the rule's own, for example that of the policy's number.
    """

    path: str
    message: str
    fix: str = ""
    value: str | None = None
    source: str = ""


class Page(NamedTuple):
    """The page of one rule, as ``explain`` prints it."""

    title: str
    why: str
    wrong: str
    right: str
    fix: str
    source: str

    @property
    def mark(self) -> str | None:
        """How far the source can be trusted, or None where the mark is missing."""
        found = _MARK.search(self.source)
        return found[1] if found else None


Body = Callable[[Any, Any], Iterator[Problem]]


@dataclass(frozen=True, slots=True, eq=False)
class Rule:
    """One rule of the checklist.

    Parameters
    ----------
    code
        Two or three letters and two digits; ``M-group.key`` for what the catalogue asks for; ``SITE-...``.
    name
        Words joined by hyphens, for people.
    severity, scope, group
        See ``Severity``, ``Scope`` and ``GROUPS``.
    body
        ``f(view, policy)`` yielding problems; the view fits the scope.
    when
        Names of conditions (``woundfhir.chart.conditions``) that must all hold before the body is called.
    page
        What ``explain`` prints.
    """

    code: str
    name: str
    severity: Severity
    scope: Scope
    group: str
    body: Body
    when: tuple[str, ...]
    page: Page
    module: str = field(default="")


_REGISTERED: dict[str, Rule] = {}


def read_page(docstring: str | None, code: str) -> Page:
    """Read a rule's page from its docstring.

    Raises
    ------
    RuleError
        When a section is missing, doubled or empty.
    """
    lines = [line.strip() for line in (docstring or "").strip().splitlines()]
    text = "\n".join(lines)
    starts = list(_SECTION.finditer(text))
    if not text or [found[1] for found in starts] != list(SECTIONS):
        raise RuleError(f"{code}: the docstring needs a first line and, in this order, {', '.join(SECTIONS)}")
    ends = [found.start() for found in starts[1:]] + [len(text)]
    parts = [" ".join(text[found.end() : end].split()) for found, end in zip(starts, ends, strict=True)]
    title = " ".join(text[: starts[0].start()].split())
    if not title or not all(parts):
        raise RuleError(f"{code}: a section of the docstring is empty")
    return Page(title, *parts)


def rule(
    code: str, name: str, *, severity: Severity, scope: Scope, group: str, when: tuple[str, ...] = ()
) -> Callable[[Body], Body]:
    """Register a generator of problems as a rule; see the module's example.

    Raises
    ------
    RuleError
        For a code that is taken, retired or of the wrong form, and for a docstring that is no page.
    """

    def register(body: Body) -> Body:
        made = make(code, name, severity, scope, group, body, when, read_page(body.__doc__, code))
        if code in _REGISTERED:
            raise RuleError(f"{code} is taken by {_REGISTERED[code].name}: every rule has its own code")
        _REGISTERED[code] = made
        return body

    return register


def make(
    code: str, name: str, severity: Severity, scope: Scope, group: str, body: Body, when: tuple[str, ...], page: Page
) -> Rule:
    """Return a rule after a look at its parts."""
    if not _CODE.fullmatch(code) or code in RETIRED:
        raise RuleError(f"{code!r} cannot be the code of a rule: see woundfhir/checklist/rule.py")
    if not _NAME.fullmatch(name.replace("_", "-")):
        raise RuleError(f"{code}: the name is made of words joined by hyphens")
    if severity not in get_args(Severity) or scope not in get_args(Scope) or group not in GROUPS:
        raise RuleError(f"{code}: unknown severity, scope or group")
    return Rule(code, name, severity, scope, group, body, when, page, getattr(body, "__module__", ""))


@lru_cache(maxsize=1)
def rules() -> tuple[Rule, ...]:
    """Return every rule of the built-in checklist: written ones and those made from the catalogue.

    Examples
    --------
    >>> "M-assessment.length" in {one.code for one in rules()}
    True
    """
    package = import_module("woundfhir.checklist.rules")
    for module in sorted(iter_modules(package.__path__), key=lambda found: found.name):
        import_module(f"woundfhir.checklist.rules.{module.name}")
    from woundfhir.checklist.presence import presence_rules

    written = sorted(_REGISTERED.values(), key=lambda one: one.code)
    # The sort is stable: what the catalogue asks for stays in the catalogue's order, which is that of a note.
    return tuple(sorted((*written, *presence_rules()), key=lambda one: GROUPS.index(one.group)))
