"""Signs of infection as the rules count them: those that are named, and those that stand elsewhere in the note.

The letters are those of Woo and Sibbald 2009: five signs of local and seven of deep infection. A sign counts once,
however often it is written. No rule stands here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal

from woundfhir.catalogue import catalogue
from woundfhir.chart.views import EntryView
from woundfhir.chart.words import NONE, held
from woundfhir.checklist.policy import Policy
from woundfhir.measures.infection import SignCount, count_signs
from woundfhir.record.bounds import Amount
from woundfhir.record.units import temperature_difference

_SIGNS = "assessment.infection_signs"
_HUNDREDTH = Decimal("0.01")


def _tagged(entry: EntryView, path: str, *prefixes: str) -> Iterator[tuple[str, str]]:
    """Yield (tag, word) for each word of an answer and each of its tags that starts with a prefix."""
    concept = entry.find(path)[0]
    for text, known in entry.named(path):
        # Words that no list knows may hold one that it does: "high fever since last night".
        for word in (known,) if known is not None else held(concept, text):
            yield from ((tag, word.word) for tag in sorted(word.tags) if tag.startswith(prefixes))


def sign_count(entry: EntryView, policy: Policy) -> SignCount:
    """Return how many different signs of local and of deep infection a note holds."""
    return count_signs([*local_signs(entry), *deep_signs(entry, policy)])


def local_signs(entry: EntryView) -> Mapping[str, str]:
    """Return the signs of local infection: tag -> word."""
    found = dict(_tagged(entry, _SIGNS, "local:"))
    if "offensive" in entry.tags("assessment.odour"):
        found.setdefault("local:S", "smell")
    if "friable" in entry.tags("assessment.bleeding"):
        found.setdefault("local:R", "friable bed")
    return found


def deep_signs(entry: EntryView, policy: Policy) -> Mapping[str, str]:
    """Return the signs of deep infection: tag -> word."""
    found = dict(_tagged(entry, _SIGNS, "deep:"))
    if "offensive" in entry.tags("assessment.odour"):
        found.setdefault("deep:S", "smell")
    if "bone" in entry.tags("assessment.exposed") or entry.flag("assessment.probe_to_bone"):
        found.setdefault("deep:O", "bone reached or exposed")
    if _warmer(entry, policy):
        found.setdefault("deep:T", "warmer than the other side")
    return found


def _warmer(entry: EntryView, policy: Policy) -> bool:
    found = entry.quantity("assessment.temperature_difference")
    if found is None or found.unit is None:
        return False
    unit = catalogue().units.get(found.unit, found.unit)
    degrees = temperature_difference(found.value, unit, "Cel") if unit in ("Cel", "[degF]") else found.value
    return Amount(degrees.quantize(_HUNDREDTH), found.comparator).at_least(policy.number("infection.warmer"))


def systemic_signs(entry: EntryView, policy: Policy) -> list[str]:
    """Return the signs that the whole body is ill, or that infection runs up the limb."""
    found = {word for _, word in _tagged(entry, _SIGNS, "systemic", "spreading")}
    found |= {word for _, word in _tagged(entry, "client.systemic_signs", "systemic")}
    heat = entry.quantity("client.temperature")
    if heat is not None and heat.unit is not None:
        fahrenheit = catalogue().units.get(heat.unit) == "[degF]"
        degrees = (heat.value - 32) * 5 / 9 if fahrenheit else heat.value
        if Amount(degrees, heat.comparator).at_least(policy.number("infection.fever")):
            found.add("fever")
    return sorted(found)


def deep_infection(entry: EntryView, policy: Policy) -> list[str]:
    """Return the signs for which a deep or spreading infection is asked about; none where they are too few."""
    systemic = systemic_signs(entry, policy)
    if sign_count(entry, policy).deep >= policy.number("infection.signs"):
        return sorted({*deep_signs(entry, policy).values(), *systemic})
    return systemic


def signs_of_its_own(entry: EntryView) -> bool:
    """Whether the wound itself shows a sign of infection; fever and the like are of the whole client."""
    systemic = {word for _, word in _tagged(entry, _SIGNS, "systemic")}
    return bool({word for word in entry.words(_SIGNS) if word != NONE} - systemic)
