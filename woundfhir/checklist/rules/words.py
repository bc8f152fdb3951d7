"""Words that no answer list knows, and what they kept the other rules from; answers left out without a reason."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.catalogue import AnswerList, catalogue
from woundfhir.catalogue.spelling import same_form
from woundfhir.chart.heard import around
from woundfhir.chart.views import RecordView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.form import ImpossibleValue, odd
from woundfhir.checklist.rules.helpers import honey_used
from woundfhir.record.nearest import nearest_words
from woundfhir.record.positions import positions
from woundfhir.texts import AsWritten


@rule("WD01", "word-not-known", severity="sense", scope="last", group="sense")
def word_not_known(record: RecordView, policy: Policy) -> Iterator[Problem]:
    for answers, same in _words(record):
        leaning = {code for one in same for code in _leaning(record, one.path)}
        if leaning:
            near = nearest_words(answers, same[0].value)
            kind = "product" if answers.substances else "word"
            yield Problem(
                same[0].path,
                f"{kind}_near" if near else kind,
                field=same[0].label,
                number=len(leaning),
                rules=["rule" if len(leaning) == 1 else "rules"],
                near=AsWritten(near),
                list=same[0].concept.path if same[0].concept is not None else "",
                value=same[0].value,
            )


@rule("WD02", "word-not-needed-now", severity="recommended", scope="last", group="sense")
def word_not_needed_now(record: RecordView, policy: Policy) -> Iterator[Problem]:
    for answers, same in _words(record):
        if same[0].value.casefold() == "yes":
            continue  # a step that was done, in one word: what is missing in it is asked already
        near = nearest_words(answers, same[0].value)
        if (near or _has_facts(answers)) and not any(_leaning(record, one.path) for one in same):
            key = "near" if near else "unknown"
            yield Problem(same[0].path, key, field=same[0].label, near=AsWritten(near), value=same[0].value)


def _has_facts(answers: AnswerList) -> bool:
    """Whether the words of a list carry facts that rules use: then the next note may need this one."""
    return bool(answers.substances) or any(not tag.startswith("class:") for word in answers.words for tag in word.tags)


@rule("AB01", "no-answer-without-reason", severity="required", scope="record", group="header")
def no_answer_without_reason(record: RecordView, policy: Policy) -> Iterator[Problem]:
    reasons = AsWritten(word.shown for word in catalogue().answers["absent_reason"].words if "reason" in word.tags)
    for one in odd(record, "unexcused"):
        if one.path == "patient.allergies" and honey_used(record):
            continue  # FA01 asks already
        if one.path.endswith(".circulation_checked"):
            continue  # LL09 asks already
        yield Problem(one.path, "reason", field=one.label, reasons=reasons)


def _words(record: RecordView) -> Iterator[tuple[AnswerList, list[ImpossibleValue]]]:
    """Yield each unknown word once for a note and an answer list, with all places where it stands there."""
    found: dict[tuple[object, str, str], tuple[AnswerList, list[ImpossibleValue]]] = {}
    for one in odd(record, "word"):
        answers = one.concept.answers if one.concept is not None else None
        if answers is not None:
            key = (positions(one.path)[:3], answers.key, same_form(one.value))
            found.setdefault(key, (answers, []))[1].append(one)
    yield from found.values()


def _leaning(record: RecordView, path: str) -> set[str]:
    """Return the codes of the rules that asked for a word: for its own place, or for that of the list or group."""
    return {code for place in around(path) for code in record.leaning.get(place, ())}
