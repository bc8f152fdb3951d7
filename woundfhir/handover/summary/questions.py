"""The ten questions of a transfer, their answers out of the facts, and what the record leaves open.

The questions gather the nursing transfer list of RNAO (recommendation 4.1, discharge and transfer of care,
2007 and 2011) and what continuity needs beside it: last and next change, packing inside, compression with
the date of the limb pressure, supplies left, contact, serial sizes (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from woundfhir.catalogue import catalogue
from woundfhir.handover.summary.client import Summary
from woundfhir.handover.summary.words import Fact, is_none, long
from woundfhir.handover.summary.wound import WoundSummary


@dataclass(frozen=True, slots=True)
class Question:
    """One question of the transfer list.

    Attributes
    ----------
    key, title
        Its name, and the question as a nurse asks it.
    rules
        The entries of the transfer list that it answers.
    answers
        What the record says, most needed first.
    missing
        What it does not say.
    """

    key: str
    title: str
    rules: tuple[str, ...]
    answers: tuple[Fact, ...]
    missing: tuple[str, ...]


#: What a question yields: a Fact that answers it, or the words for what is missing.
Answers = Iterator[Fact | str]


def questions(given: Summary) -> tuple[Question, ...]:
    """Return the ten questions, answered as far as the facts go."""
    out = []
    for key, title, rules, ask in _QUESTIONS:
        found = list(ask(given))
        answers = tuple(item for item in found if isinstance(item, Fact))
        out.append(Question(key, title, rules, answers, tuple(item for item in found if isinstance(item, str))))
    return tuple(out)


def _one_of(given: Summary, label: str, *keys: str) -> Answers:
    """The facts about the client under these keys; the label is missing where there are none."""
    found: list[Fact | str] = [given.client[key] for key in keys if key in given.client]
    yield from found or [label]


def _next(given: Summary) -> Answers:
    for wound in given.open_wounds:
        if wound.next_change is None:
            yield f"{wound.id}: next change due"
        else:
            by = f", by {wound.change_by.text}" if wound.change_by else ""
            yield Fact("Next change", long(wound.next_change.text) + by, wound.next_change.at, wound.id)
        if wound.change_by is None:
            yield f"{wound.id}: who does the next change"
        if wound.last_change is None:
            yield f"{wound.id}: time of the last change"
    if not given.open_wounds:
        yield from () if given.wounds else ["a wound"]


def no_deep_space(wound: WoundSummary) -> bool:
    """Whether the newest notes say that there is neither undermining nor a tunnel."""
    return len(wound.deep) == 2 and all(is_none(fact.text) for fact in wound.deep)


def packing_words(wound: WoundSummary) -> str | None:
    """Return the packing inside in words; None where the record does not answer the question."""
    if wound.packing.least is not None:
        return wound.packing.text
    return "none written; no undermining, no tunnel" if no_deep_space(wound) else None


def _packing(given: Summary) -> Answers:
    for wound in given.open_wounds:
        words = packing_words(wound)
        if words is not None:
            yield Fact("Packing inside", words, wound.packing.at, wound.id)
        if words is None or not (wound.packing.certain or wound.packing.least is None):
            yield f"{wound.id}: pieces of packing inside"
        if wound.packing.most != 0 and wound.packing.least is not None and wound.packing.where is None:
            yield f"{wound.id}: where the packing is"


def _now(given: Summary) -> Answers:
    for wound in given.open_wounds:
        yield Fact("Wound", wound.name + (f", {wound.stage.text}" if wound.stage else ""), None, wound.id)
        yield from [
            f"{wound.id}: {label}" for label, value in (("kind", wound.kind), ("site", wound.site)) if value is None
        ]
        if wound.stage is None and is_pressure(wound):
            yield f"{wound.id}: stage"
        if wound.size is None:
            yield f"{wound.id}: size"
            continue
        changed = f"; {wound.since_first.dated}" if wound.since_first else ""
        yield Fact("Size", wound.size.text + changed, wound.size.at, wound.id)


def is_pressure(wound: WoundSummary) -> bool:
    """Whether the kind of wound is one that is staged."""
    found = catalogue().answers["wound_kind"].find(wound.kind)
    return found is not None and "pressure" in found.tags


def is_lower_limb(wound: WoundSummary) -> bool:
    """Whether kind or site puts the wound on the leg or foot."""
    answers = catalogue().answers
    found = (answers["wound_kind"].find(wound.kind), answers["body_site"].find(wound.site))
    return any(word is not None and "lower limb" in word.tags for word in found)


def _dressing(given: Summary) -> Answers:
    for wound in given.open_wounds:
        if wound.recipe is None:
            yield f"{wound.id}: dressing in place"
        else:
            on = ", over ".join(wound.recipe.in_place) or "nothing put on"
            yield Fact("On it", on, wound.recipe.at, wound.id)
            yield from [f"{wound.id}: {step.label.lower()}" for step in wound.recipe.steps if step.text is None]
        rhythm = wound.planned("change_every")
        if rhythm:
            yield Fact("Every", rhythm.text, rhythm.at, wound.id)
        else:
            yield f"{wound.id}: how often it is changed"


def _allergies(given: Summary) -> Answers:
    yield from [Fact("Allergy", allergy.text) for allergy in given.allergies]
    if not given.allergies:
        known = given.allergies_known == "none known"
        yield Fact("Allergies", "none known") if known else "allergies and reactions"


def _compression(given: Summary) -> Answers:
    for wound in given.open_wounds:
        yield from [Fact(f"limb pressure, {fact.label}", fact.text, fact.at, wound.id) for fact in wound.indices]
        if wound.compression_brief is not None:
            yield _about(wound, wound.compression_brief)
        if is_lower_limb(wound):
            yield from [] if wound.compression else [f"{wound.id}: compression on or off"]
            yield from [] if wound.indices else [f"{wound.id}: limb pressure with its date"]
    if not any(is_lower_limb(wound) or wound.indices or wound.compression for wound in given.open_wounds):
        yield Fact("Compression", "no open wound of the leg or foot")


def _about(wound: WoundSummary, fact: Fact) -> Fact:
    """The same fact, with the wound that it is about."""
    return Fact(fact.label.lower(), fact.text, fact.at, wound.id)


def _history(given: Summary) -> Answers:
    concepts = catalogue().groups["wound"]
    for wound in given.wounds:
        yield from [_about(wound, fact) for fact in wound.learnt]
        labels = {fact.label for fact in wound.learnt}
        if not wound.closed_now:
            yield from [
                f"{wound.id}: {concepts[key].label.lower()}"
                for key in ("previous_treatments", "effective", "not_effective")
                if concepts[key].label not in labels
            ]
    closed = [wound for wound in given.wounds if wound.closed_now]
    for wound in closed:
        yield Fact("closed", f"{wound.closed or 'without a date'}: {wound.name}", None, wound.id)
    if "healed_wounds" in given.client or not closed:
        yield from _one_of(given, "closed wounds", "healed_wounds")


def _pain(given: Summary) -> Answers:
    relief, scores, borne = [], [], []
    for wound in given.open_wounds:
        response = wound.recipe.response if wound.recipe else ()
        plan = wound.planned("pain_plan")
        relief += [_about(wound, fact) for fact in ([plan] if plan else []) + _named(response, "analgesia")]
        scores += [_about(wound, fact) for key in ("pain_at_rest", "pain_at_change") if (fact := wound.found(key))]
        borne += [_about(wound, fact) for fact in _named(response, "tolerated", "stinging", "teaching")]
    needs = [given.client["pain_needs"]] if "pain_needs" in given.client else []
    told = [given.client[key] for key in ("response_to_care", "teaching") if key in given.client]
    yield from [*needs, *told]
    for wound in given.open_wounds:
        yield from [fact for fact in (*relief, *scores, *borne) if fact.about == wound.id]
    yield from [] if needs or relief else ["pain management needed"]
    yield from [] if scores else ["pain score"]
    yield from [] if told or borne else ["how client and family take it"]


def _named(response: tuple[Fact, ...], *keys: str) -> list[Fact]:
    labels = {catalogue().groups["care"]["response"].fields[key].label for key in keys}
    return [fact for fact in response if fact.label in labels]


def _risk(given: Summary) -> Answers:
    if given.conditions:
        yield Fact("Health conditions", ", ".join(given.conditions))
    elif given.conditions_known == "none known":
        yield Fact("Health conditions", "none known")
    else:
        yield "health conditions"
    score, tool = given.client.get("risk_score"), given.client.get("risk_tool")
    if score:
        on = given.client.get("risk_date", score)
        yield Fact(tool.text if tool else score.label, score.text, on.text if on is not score else score.at)
    else:
        yield "risk score"
    yield from _one_of(given, "pressure points and skin", "pressure_points")
    yield from _one_of(given, "bed or mattress", "support_surface")
    yield from _one_of(given, "seating", "seating")
    yield from _one_of(given, "transfer technique", "transfer_technique")
    yield from [given.client[key] for key in ("turning_plan", "mobility") if key in given.client]
    yield from [_about(wound, fact) for wound in given.open_wounds if (fact := wound.planned("offloading"))]
    yield from _one_of(given, "nutrition", "nutrition_screen", "nutrition_plan")
    yield from _one_of(given, "laboratory results", "laboratory")


def _people(given: Summary) -> Answers:
    yield from given.contacts or ["who to call"]
    yield from _one_of(given, "others involved", "team")
    yield from [given.client[key] for key in ("equipment_needed", "advance_notice") if key in given.client]
    for wound in given.open_wounds:
        if wound.supplies:
            left = ", ".join(f"{fact.label}: {fact.text}" for fact in wound.supplies)
            yield Fact("supplies left", left, wound.supplies[-1].at, wound.id)
        else:
            yield f"{wound.id}: supplies left"


_QUESTIONS: tuple[tuple[str, str, tuple[str, ...], Callable[[Summary], Answers]], ...] = (
    ("next", "When is the next change, and who does it?", ("XFR-LASTDRS",), _next),
    ("packing", "What is packed inside, how many pieces, where?", ("XFR-LASTDRS",), _packing),
    ("now", "What wound is it, how large, which way does it go?", ("XFR-CURRENT", "XFR-TREND"), _now),
    ("dressing", "What is on it, and how often is it changed?", ("XFR-CURRENT",), _dressing),
    ("allergies", "Which allergies and reactions?", ("XFR-ALLERGY",), _allergies),
    ("compression", "Which compression, on which limb pressure?", ("XFR-LASTDRS",), _compression),
    ("history", "What was tried, what worked, what did not?", ("XFR-HISTORY", "XFR-HEALED"), _history),
    ("pain", "What about pain, and how is the care taken?", ("XFR-PAIN", "XFR-RESPONSE"), _pain),
    (
        "risk",
        "Which risks, skin, bed, seat, food, results?",
        ("XFR-RISK", "XFR-SKIN", "XFR-DEVICES", "XFR-NUTR", "XFR-LABS"),
        _risk,
    ),
    ("people", "Who is called, who else helps, what is left?", ("XFR-LASTDRS", "XFR-TEAM"), _people),
)
