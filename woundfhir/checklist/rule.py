"""What a rule is: a plain generator of problems, registered under a code that never changes.

Everything that a nurse reads (the rule's page and its messages) stands in ``texts/``; see ``pages.py``.

Examples
--------
A rule as it stands in ``woundfhir/checklist/rules/``::

    @rule("EX01", "exudate-type-without-exudate", severity="sense", scope="entry", group="every change")
    def exudate_type_without_exudate(view: EntryView, policy: Policy) -> Iterator[Problem]:
        if view.none("assessment.exudate_amount") and view.has("assessment.exudate_type"):
            yield Problem(view.path("assessment.exudate_type"))
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, Literal, get_args

from woundfhir.chart.views import VisitView
from woundfhir.checklist.actions import matters
from woundfhir.checklist.pages import ONLY, Page, common, page
from woundfhir.errors import WoundfhirError
from woundfhir.texts import Slot

#: required, recommended: to add. caution: a safety prompt, to look at. sense: a contradiction, to look at.
Severity = Literal["required", "recommended", "caution", "sense"]
#: What a rule looks at: the whole record, the client, one wound with its visits, one visit, one wound at one visit;
#: ``last``: the whole record when every other rule has looked, with what each of them asked for.
Scope = Literal["record", "patient", "wound", "visit", "entry", "last"]
#: The parts of the checklist, in the order in which they are printed.
GROUPS = (
    "header",
    "sense",
    "safety",
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
    "negative pressure",
    "dressings",
    "refusal",
    "transfer",
    "presence",
    "site",
)
#: Retired code -> the code that took its place, or "" where nothing did. A retired code is never used again.
RETIRED: dict[str, str] = {
    **{f"SN{number:02d}": f"SE{number:02d}" for number in range(1, 29)},
    "CH05": "",
    "DR01": "FA01",
    "DR09": "CH08",
}
#: How codes of presence rules began once, and how they begin now; what follows is the concept's path.
_RENAMED, PRESENCE = "M-", "GAP-"

_CODE = re.compile(r"[A-Z]{2,3}\d{2}|GAP-[a-z_]+\.[a-z_]+(?:\.[a-z_]+)?|SITE-[A-Za-z0-9_.-]+")
_NAME = re.compile(r"[a-z0-9]+(?:[-.][a-z0-9]+)*")


class RuleError(WoundfhirError):
    """A rule is not written as rules are written here: a fault of ours, or of a site's own checklist."""


class Problem:
    """What a rule found at one place.

    Parameters
    ----------
    path
        Place in the record, as the views' ``path`` gives it: ``visits[3].wounds[0].assessment.exudate_amount``.
    key
        Which of the messages of the rule's page it is; a rule with only one leaves it out.
    value
        The value that was found; shown only when asked for.
    source
        A source to add to the rule's own, for example that of the policy's number.
    about
        The matters that this problem asks about, where they are not the rule's own.
    since
        The visit from which on an action answers it; its own where this is None.
    from_onset
        Whether an action from before that visit answers too, from the day on which the wound began.
    **slots
        What fills the slots of the message. None may be a value of the client. A list names words of the page.

    Examples
    --------
    >>> Problem("visits[0].at").path
    'visits[0].at'
    """

    __slots__ = ("about", "from_onset", "key", "path", "since", "slots", "source", "value")

    def __init__(
        self,
        path: str,
        key: str = ONLY,
        /,
        *,
        value: str | None = None,
        source: str = "",
        about: tuple[str, ...] | None = None,
        since: VisitView | None = None,
        from_onset: bool = False,
        **slots: Slot,
    ) -> None:
        self.about, self.since, self.from_onset = about, since, from_onset
        self.path, self.key, self.slots, self.value, self.source = path, key, slots, value, source


Body = Callable[[Any, Any], Iterator[Problem]]


@dataclass(frozen=True, slots=True, eq=False)
class Rule:
    """One rule of the checklist.

    Parameters
    ----------
    code
        Two or three letters and two digits; ``GAP-group.key`` for what the catalogue asks for; ``SITE-...``.
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
    about
        The matters that it asks about: an action about each of them answers it (``actions.py``). Without one, only
        what it asks for does.

    Examples
    --------
    >>> from woundfhir.checklist import rules_of
    >>> one = next(one for one in rules_of() if one.code == "WD01")
    >>> one.name, one.scope, one.severity
    ('word-not-known', 'last', 'sense')
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
    about: tuple[str, ...] = ()

    @property
    def part(self) -> str:
        """The part of the checklist in the words of the language that holds, as it is printed before the code."""
        return common("groups")[self.group]


_REGISTERED: dict[str, Rule] = {}


def successor(code: str) -> str | None:
    """Return the code that took the place of a retired one ("" where nothing did); None where it is not retired.

    Examples
    --------
    >>> successor("SN05"), successor("m-assessment.length"), successor("SE05")
    ('SE05', 'GAP-assessment.length', None)
    """
    if code[: len(_RENAMED)].upper() == _RENAMED:
        return PRESENCE + code[len(_RENAMED) :].lower()
    return RETIRED.get(code.upper())


def renamed(code: str) -> str:
    """Return what to tell somebody who uses a retired code; empty where the code is not retired."""
    now = successor(code)
    if now is None:
        return ""
    return f"{code} is retired; use {now}" if now else f"{code} is retired, and no rule took its place"


def rule(
    code: str,
    name: str,
    *,
    severity: Severity,
    scope: Scope,
    group: str,
    when: tuple[str, ...] = (),
    about: tuple[str, ...] = (),
) -> Callable[[Body], Body]:
    """Register a generator of problems as a rule; see the module's example.

    Raises
    ------
    RuleError
        For a code that is taken, retired or of the wrong form.
    TextError
        When the rule has no page, or a page that is not whole.
    """

    def register(body: Body) -> Body:
        shown = page(code, caution=severity == "caution")
        made = make(code, name, severity, scope, group, body, when, shown, about)
        if code in _REGISTERED:
            raise RuleError(f"{code} is taken by {_REGISTERED[code].name}: every rule has its own code")
        _REGISTERED[code] = made
        return body

    return register


def make(
    code: str,
    name: str,
    severity: Severity,
    scope: Scope,
    group: str,
    body: Body,
    when: tuple[str, ...],
    page: Page,
    about: tuple[str, ...] = (),
) -> Rule:
    """Return a rule after checking its parts."""
    if not _CODE.fullmatch(code) or successor(code) is not None:
        raise RuleError(f"{code!r} cannot be the code of a rule: see woundfhir/checklist/rule.py")
    if not _NAME.fullmatch(name.replace("_", "-")):
        raise RuleError(f"{code}: the name is made of words joined by hyphens")
    if severity not in get_args(Severity) or scope not in get_args(Scope) or group not in GROUPS:
        raise RuleError(f"{code}: unknown severity, scope or group")
    if unknown := set(about) - matters().keys():
        raise RuleError(f"{code}: no action can be about {', '.join(sorted(unknown))}")
    return Rule(code, name, severity, scope, group, body, when, page, getattr(body, "__module__", ""), about)


def registered() -> dict[str, Rule]:
    """Return the rules that are written by hand, by their codes; importing their modules has registered them."""
    return dict(_REGISTERED)
