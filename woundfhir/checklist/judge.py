"""The one pass that judges a record: every rule, each on the views of its scope, where its conditions hold."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.chart.conditions import all_hold
from woundfhir.chart.defaults import filled
from woundfhir.chart.heard import Heard
from woundfhir.chart.views import RecordView
from woundfhir.checklist.finding import Finding, LeftOut, Verdict, finding
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.policy import load as load_policy
from woundfhir.checklist.rule import Rule, RuleError, Scope, renamed
from woundfhir.checklist.rules.form import odd
from woundfhir.checklist.site import STANDARD, Checklist, compose
from woundfhir.collector import resting
from woundfhir.errors import InputError
from woundfhir.record import History
from woundfhir.texts import TextError

Plan = Mapping[Scope, Sequence[tuple[tuple[str, ...], Sequence[Rule]]]]


def check(
    history: History,
    *,
    checklist: str | Path | Checklist | Sequence[str | Path | Checklist] | None = None,
    policy: str | Path | Policy | None = None,
    ignore: Mapping[str, str] | None = None,
    show_values: bool = False,
    today: date | None = None,
) -> list[Finding]:
    """Return what is missing in a record, and what in it is contradictory or unsafe.

    Parameters
    ----------
    history
        One client's record.
    checklist
        ``standard`` (the default), ``transfer``, a site's own TOML file, or several of these together.
    policy
        ``ontario`` (the default), ``international``, or a site's own TOML file. Inside ``with Site(...)`` its files
        are the defaults of both, and what its ``defaults.toml`` says is asked for in no note.
    ignore
        Code of a rule -> the reason why it is left out. A reason is needed; reports keep it.
    show_values
        Whether findings may carry the value that was found.
    today
        The day to judge on, for what is overdue; without it that of the newest note. The clock is never asked.

    Returns
    -------
    list of Finding
        Safety prompts of all wounds first, then by wound, most important first; the same record gives the same list.
        What an action answers is not among them; ``judge`` gives it too.

    Raises
    ------
    InputError
        For an unknown checklist, policy or rule, and for a reason left blank.

    Examples
    --------
    >>> record = {"woundfhir": 1, "patient": {"born": "1948-03"}, "wounds": [{"id": "W1", "status": "open"}]}
    >>> [found.path for found in check(History.of(record)) if found.rule == "GAP-wound.kind"]
    ['wounds[0].kind']
    """
    return list(
        judge(history, checklist=checklist, policy=policy, ignore=ignore, show_values=show_values, today=today).findings
    )


@resting()
def judge(
    history: History,
    *,
    checklist: str | Path | Checklist | Sequence[str | Path | Checklist] | None = None,
    policy: str | Path | Policy | None = None,
    ignore: Mapping[str, str] | None = None,
    show_values: bool = False,
    today: date | None = None,
    note: str | None = None,
) -> Verdict:
    """Return the verdict on a record: findings, rules left out with their reasons, what it was judged by.

    Parameters and errors are those of ``check``.

    Parameters
    ----------
    note
        Only this note is judged (the id of one that is judged), with its wounds and its client, in the light of all
        notes: ``one_note.of_note`` finds the same in the verdict on the whole record. It costs far less than all of
        a long history, and ``elsewhere`` stays empty. (Where notes follow it, what WD01 counts for a word that no
        list knows leaves out the rules that asked for it from those notes.)

    Examples
    --------
    >>> visits = [{"id": "V1", "at": "2026-03-02", "status": "final"}]
    >>> verdict = judge(History.of({"woundfhir": 1, "patient": {}, "visits": visits}))
    >>> verdict.notes, any(one.path == "visits[0].at" for one in verdict.findings)
    (1, True)
    """
    chosen = compose(checklist)
    numbers = policy if isinstance(policy, Policy) else load_policy(policy)
    site = catalogue().site
    if site is not None and site.defaults is not None:
        history = filled(history, site.defaults)
    left_out = {**chosen.ignore, **_reasons(ignore or {}, chosen)}
    record = RecordView(history, numbers, transfer=chosen.transfer, today=today)
    if note is not None:
        record.alone = next((visit for visit in record.judged if visit.id == note), None)
    try:
        return verdict_on(record, chosen, numbers, left_out, show_values=show_values)
    finally:
        record.release()


def verdict_on(
    record: RecordView, chosen: Checklist, numbers: Policy, left_out: Mapping[str, str], *, show_values: bool = False
) -> Verdict:
    """Return the verdict on an opened record, which stays open; ``left_out`` says of each rule left out why."""
    found = _run(record, _plan(chosen.rules), numbers, show_values)
    unanswered, excused = (tuple(one.path for one in odd(record, kind)) for kind in ("unanswered", "excused"))
    notes, drafts = len(record.looked_at), sum(1 for visit in record.looked_at if visit.draft)
    parts = {rule.code: rule.part for rule in chosen.rules}
    rank = {rule.code: number for number, rule in enumerate(chosen.rules)}
    found.sort(key=lambda one: (one.order, rank[one.rule], one.path))
    return Verdict(
        findings=tuple(one for one in found if one.rule not in left_out and not one.answers),
        answered=tuple(one for one in found if one.rule not in left_out and one.answers),
        left_out=tuple(
            LeftOut(
                code,
                left_out[code],
                tuple(one for one in found if one.rule == code and not one.answers),
                parts.get(code, ""),
            )
            for code in sorted(left_out)
        ),
        rules=chosen.rules,
        checklist=chosen.name,
        policy=f"{numbers.name} {numbers.version}",
        notes=notes,
        drafts=drafts,
        unanswered=unanswered,
        excused=excused,
    )


def _reasons(ignore: Mapping[str, str], chosen: Checklist) -> Mapping[str, str]:
    known = {rule.code for rule in chosen.rules}
    for code, reason in ignore.items():
        if code not in known:
            expected = "the code of a rule of this checklist"
            raise InputError(f"ignore, {code}", expected, renamed(code) or "See `woundfhir explain`")
        if not reason.strip():
            raise InputError(f"ignore, {code}", "a reason", f"Write why: {code}=REASON")
    return ignore


@lru_cache(maxsize=16)
def _plan(rules: tuple[Rule, ...]) -> Plan:
    """Rules by scope, those with the same conditions together, so that each set of conditions is asked once."""
    plan: dict[Scope, dict[tuple[str, ...], list[Rule]]] = {}
    for rule in rules:
        plan.setdefault(rule.scope, {}).setdefault(rule.when, []).append(rule)
    return {scope: list(sets.items()) for scope, sets in plan.items()}


def _run(record: RecordView, plan: Plan, policy: Policy, show_values: bool) -> list[Finding]:
    out: list[Finding] = []
    if unknown := odd(record, "word"):
        record.listen(one.path for one in unknown)
    _judge(record, record, plan, policy, out, show_values)
    _judge(record.patient, record, plan, policy, out, show_values)
    seen = None if record.alone is None else {entry.wound.index for entry in record.alone.entries}
    for wound in record.wounds:
        if not wound.in_error and (seen is None or wound.index in seen):
            _judge(wound, record, plan, policy, out, show_values)
    for visit in record.looked_at:
        _judge(visit, record, plan, policy, out, show_values)
        for entry in visit.entries:
            if not entry.wound.in_error:
                _judge(entry, record, plan, policy, out, show_values)
    _judge(record, record, plan, policy, out, show_values, "last")
    return out


def _judge(
    view: Any,
    record: RecordView,
    plan: Plan,
    policy: Policy,
    out: list[Finding],
    show_values: bool,
    scope: Scope | None = None,
) -> None:
    code = ""
    try:
        for when, rules in plan.get(scope or view.scope, ()):
            held = not when or all_hold(view, when)
            if record.heard is not None:
                _lean(record, record.heard, () if held else rules)
            if not held:
                continue
            for rule in rules:
                code = rule.code
                for problem in rule.body(view, policy):
                    out.append(finding(record, rule, problem, show_values))
                if record.heard is not None:
                    _lean(record, record.heard, (rule,))
    except TextError as error:
        raise TextError(f"rule {code}: {error}") from None
    except Exception as error:
        # A fault of ours; the error's own text may hold a value of the client, so only its kind is shown.
        kind = type(error).__name__
        raise RuleError(f"rule {code} failed at {view.path() or 'the record'} ({kind})") from None


def _lean(record: RecordView, heard: Heard, rules: Sequence[Rule]) -> None:
    """Note that rules asked for the words at the places that were asked for since the last time."""
    for place in heard.taken():
        record.leaning.setdefault(place, set()).update(rule.code for rule in rules)


def rules_of(checklists: Iterable[str | Path] = (STANDARD,)) -> tuple[Rule, ...]:
    """Return the rules of checklists, in the order in which they are printed.

    Examples
    --------
    >>> rules = rules_of()
    >>> len({one.code for one in rules}) == len(rules) > 100
    True
    """
    return compose(list(checklists)).rules
