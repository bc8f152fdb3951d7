"""The words of each section of the document, from the same facts as the printed sheet."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from lxml import etree

from woundfhir.drawing import clock_words, trend_rows
from woundfhir.handover.course import course_of
from woundfhir.handover.summary.client import Summary
from woundfhir.handover.summary.words import Fact, long, short
from woundfhir.handover.summary.wound import WoundSummary
from woundfhir.r4.narrative import element, table
from woundfhir.record import History

Blocks = list["etree._Element"]
Teller = Callable[[Summary], Blocks]
_NOTHING = "Not recorded."


def _lines(lines: Iterable[str]) -> Blocks:
    items = list(lines)
    return [element("ul", *[element("li", line) for line in items])] if items else [element("p", _NOTHING)]


def _facts(facts: Iterable[Fact], head: str = "") -> list[str]:
    return [f"{head}{fact.label}: {fact.dated}" for fact in facts]


def _by_wound(told: Summary, say: Callable[[WoundSummary], Iterable[str]]) -> Blocks:
    blocks: Blocks = []
    for wound in told.wounds:
        lines = list(say(wound))
        if lines:
            blocks += [element("p", element("b", f"{wound.id}: {wound.name}")), *_lines(lines)]
    return blocks or [element("p", _NOTHING)]


def overview(told: Summary) -> Blocks:
    """The whole document in one table: one row a wound."""
    rows = [
        (
            f"{wound.id}: {wound.name}",
            f"{wound.size.text} ({short(wound.size.at)})" if wound.size else "not recorded",
            wound.since_first.text if wound.since_first else "-",
            long(wound.next_change.text) if wound.next_change else "not recorded",
            wound.packing.text,
        )
        for wound in told.wounds
    ]
    head = ("Wound", "Newest size", "Change since first", "Next change due", "Packing in place")
    return [element("p", f"Newest note: {long(told.at)}, {told.author or 'author not recorded'}."), table(head, rows)]


def next_steps(told: Summary) -> Blocks:
    """What to do next, wound by wound, and what this history does not tell."""

    def say(wound: WoundSummary) -> Iterable[str]:
        if wound.closed_now:
            return
        due = long(wound.next_change.text) if wound.next_change else "not recorded"
        yield f"Next dressing change: {due}{f', {wound.change_by.text}' if wound.change_by else ''}"
        if assess := wound.planned("next_full_assessment"):
            yield f"Next full assessment: {long(assess.text)}"
        yield f"Packing in place: {wound.packing.text}"

    blocks = _by_wound(told, say)
    if told.missing:
        blocks += [element("p", element("b", "This history does not tell:")), *_lines(told.missing)]
    return blocks


def allergies(told: Summary) -> Blocks:
    """Allergies; what touches skin and wound comes first."""
    if not told.allergies:
        return [element("p", f"Allergies: {told.allergies_known}.")]
    return _lines(
        f"{allergy.text}{' (matters for skin and wound care)' if allergy.matters else ''}" for allergy in told.allergies
    )


def wounds(told: Summary) -> Blocks:
    """Every wound with its kind, place, onset and stage; other conditions."""

    def say(wound: WoundSummary) -> Iterable[str]:
        yield f"Status: {wound.status}"
        if wound.onset:
            yield f"Onset: {wound.onset}"
        if wound.stage:
            yield f"{wound.stage.label}: {wound.stage.dated}"
        if wound.closed:
            yield f"Closed: {wound.closed}"

    words = ", ".join(told.conditions) if told.conditions else told.conditions_known
    return [*_by_wound(told, say), element("p", f"Health conditions: {words}.")]


def course(told: Summary) -> Blocks:
    """Sizes, change, and the newest findings."""

    def say(wound: WoundSummary) -> Iterable[str]:
        if wound.size:
            yield f"Newest size: {wound.size.text} ({short(wound.size.at)})"
        if wound.first and wound.first is not wound.size:
            yield f"First size: {wound.first.text} ({short(wound.first.at)})"
        for name, moved in (("first", wound.since_first), ("the one before", wound.since_last)):
            if moved:
                yield f"Change of area since {name} ({short(moved.since)}): {moved.text}"
        yield from _facts((*wound.deep, *wound.state))

    return _by_wound(told, say)


def series(history: History) -> Blocks:
    """Every measurement of each wound as a table, the newest shape in sentences: drawings that a narrative takes."""
    blocks: Blocks = []
    for wound in history.wounds:
        found = course_of(history, wound["id"])
        if not found.points:
            continue
        head, rows = trend_rows(found)
        newest = found.points[-1].visit
        seen = next(e.get("assessment", {}) for v, e in history.entries(wound["id"]) if v["id"] == newest)
        words = clock_words(seen.get("length"), seen.get("width"), seen.get("undermining"), seen.get("tunnels"))
        blocks += [element("p", element("b", f"{wound['id']}: sizes")), table(head, rows), *_lines(words)]
    return blocks


def changes(told: Summary) -> Blocks:
    """The newest dressing change step by step, how it was borne, what worked and what did not."""

    def say(wound: WoundSummary) -> Iterable[str]:
        made = wound.recipe
        if made:
            yield f"Newest change: {long(made.at)}{f', {made.by}' if made.by else ''}"
            if made.removal:
                yield f"Taking off: {made.removal}"
            yield from (
                f"{number}. {step.label}: {step.text or 'not recorded'}" for number, step in enumerate(made.steps, 1)
            )
            yield from _facts(made.response, "Borne: ")
        yield from _facts(wound.learnt)

    return _by_wound(told, say)


def packing(told: Summary) -> Blocks:
    """Pieces inside each wound."""

    def say(wound: WoundSummary) -> Iterable[str]:
        yield wound.packing.text
        yield from wound.packing.gaps

    return _by_wound(told, say)


def compression(told: Summary) -> Blocks:
    """Compression and limb pressures with their dates."""

    def say(wound: WoundSummary) -> Iterable[str]:
        if wound.compression:
            yield f"Compression: {wound.compression.dated}"
        yield from _facts(wound.pressures, "Limb pressure, ")

    return _by_wound(told, say)


def supplies(told: Summary) -> Blocks:
    """What is left in the home."""
    return _by_wound(told, lambda wound: [f"Left: {fact.label}: {fact.dated}" for fact in wound.supplies])


def plan(told: Summary) -> Blocks:
    """Rhythm, goal, healability and what else is planned."""
    return _by_wound(told, lambda wound: _facts(wound.plan))


def pain(told: Summary) -> Blocks:
    """Pain at rest, at the change and after, and what is planned against it."""

    def say(wound: WoundSummary) -> Iterable[str]:
        response = wound.recipe.response if wound.recipe else ()
        yield from _facts(fact for fact in (*wound.state, *wound.plan, *response) if "pain" in fact.label.casefold())

    blocks = _by_wound(told, say)
    return (
        blocks + _lines(_facts(told.client[key] for key in ("pain_needs",) if key in told.client))
        if "pain_needs" in told.client
        else blocks
    )


_SURFACES = (
    "mobility",
    "support_surface",
    "seating",
    "turning_plan",
    "transfer_technique",
    "equipment_needed",
    "pressure_points",
)


def surfaces(told: Summary) -> Blocks:
    """Bed, chair, turning, transfer; offloading of each wound; the rest of what is known of the client."""
    first = _facts(told.client[key] for key in _SURFACES if key in told.client)
    offloading = [f"{w.id}: {fact.label}: {fact.dated}" for w in told.wounds if (fact := w.planned("offloading"))]
    rest = _facts(fact for key, fact in told.client.items() if key not in _SURFACES)
    return _lines([*first, *offloading, *rest])


def photos(told: Summary) -> Blocks:
    """Photos are listed as entries."""
    return [element("p", "The photos are listed as entries; the pictures are where their addresses say.")]


def contact(told: Summary) -> Blocks:
    """Who to call, and who wrote last."""
    return _lines([*(fact.dated for fact in told.contacts), f"Newest note by: {told.author or 'not recorded'}"])


def kept(told: Summary) -> Blocks:
    """What came from another system and has no place in the record."""
    return [element("p", "These came from another system and are passed on as they came; they were not interpreted.")]


def empty_reason(key: str, told: Summary) -> str:
    """Return the key of the empty reason of a section: nil known where the notes say so, else unavailable."""
    if key == "allergies" and told.allergies_known == "none known":
        return "empty_nilknown"
    if key == "packing" and all(wound.packing.most == 0 for wound in told.wounds) and told.wounds:
        return "empty_nilknown"
    return "empty_unavailable"
