"""Findings as cards of CDS Hooks 2.0: each safety prompt and contradiction on its own, all gaps on one."""

from __future__ import annotations

import re
import uuid
from collections.abc import Sequence
from typing import Any, Literal

from woundfhir._version import __version__
from woundfhir.checklist import Finding
from woundfhir.report.brief import merged, places, start_of
from woundfhir.report.judged import Judged
from woundfhir.report.text import sentence, summary
from woundfhir.report.words import say

Json = Any
Indicator = Literal["info", "warning", "critical"]
#: The longest summary, in characters (CDS Hooks: under 140).
SUMMARY = 139
#: So many gaps are listed on their card.
_GAPS = 40
_MARKS = re.compile(r"([\\`*_\[\]<>#|~&])")


def cards(one: Judged, instance: uuid.UUID, *, gaps_are: Indicator, partly: Sequence[str] = ()) -> list[Json]:
    """Return the cards of a verdict: safety prompts first, then contradictions, then the gaps, then what did not come.

    Parameters
    ----------
    one
        The verdict.
    instance
        The call that is answered: it makes the ids of its cards.
    gaps_are
        How much the card with the gaps asks for.
    partly
        Types of resource of which not all came.
    """
    findings = one.verdict.findings
    source = {"label": say("cards.source", version=__version__, judged=summary(one.verdict))}

    def card(key: str, indicator: Indicator, short: str, detail: Sequence[str]) -> Json:
        return {
            "uuid": str(uuid.uuid5(instance, key)),
            "summary": cut(short),
            "indicator": indicator,
            "detail": "\n\n".join((*detail, _plain(say("caution")))),
            "source": source,
        }

    made = []
    for (severity, rule, message), group in merged(findings).items():
        if severity in ("caution", "sense"):
            named = places(group, one.verdict.notes > 1)
            short = f"{start_of(severity, named)}{message}"
            made.append(card(f"{rule} {message} {named}", "warning", short, _details(group)))
    if gaps := [found for found in findings if found.to_add]:
        required = sum(1 for found in gaps if found.severity == "required")
        short = say("cards.gaps", number=len(gaps), required=required)
        made.append(card("gaps", gaps_are if required else "info", short, _listed(gaps)))
    if partly:
        short = say("cards.partly", types=", ".join(partly))
        made.append(card("partly", "warning", short, [_plain(say("cards.partly_detail", types=", ".join(partly)))]))
    return made


def cut(text: str) -> str:
    """Return a text in one line that is short enough for a summary, cut between words.

    Examples
    --------
    >>> len(cut("word " * 60)) <= SUMMARY, cut("Odour: not written")
    (True, 'Odour: not written')
    """
    plain = " ".join(text.split())
    if len(plain) <= SUMMARY:
        return plain
    return f"{plain[: SUMMARY - 1].rpartition(' ')[0] or plain[: SUMMARY - 1]}…"


def _plain(text: str) -> str:
    """Return a text that Markdown and HTML show as it is."""
    return _MARKS.sub(
        lambda found: "&amp;" if found[1] == "&" else "&lt;" if found[1] == "<" else rf"\{found[1]}", text
    )


def _details(group: Sequence[Finding]) -> list[str]:
    first = group[0]
    made = [f"- {_plain(sentence(found))}" for found in group]
    said = [first.fix, first.to_answer, f"{say('why')}{first.why}", f"{say('source')}{first.source}"]
    return ["\n".join(made), *(_plain(text) for text in said if text), _plain(f"[{first.reference}]")]


def _listed(gaps: Sequence[Finding]) -> list[str]:
    lines = [f"- {_plain(sentence(found))} {_plain(f'[{found.reference}]')}" for found in gaps[:_GAPS]]
    more = [_plain(say("cards.more", number=len(gaps) - _GAPS))] if len(gaps) > _GAPS else []
    return ["\n".join(lines), *more]
