"""Invariants of data types."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from woundfhir.r4.structure.invariants.registry import has, holds, invariant, number, text
from woundfhir.r4.structure.walk import Node
from woundfhir.r4.times import is_before

Json = Any
_UCUM = "http://unitsofmeasure.org"


@holds(
    "qty-3",
    "Quantity",
    expression="code.empty() or system.exists()",
    text="a system beside the code of a unit",
    found="a code alone",
)
def qty_3(value: Mapping[str, Json]) -> bool:
    """A code means nothing without its system."""
    return not has(value, "code") or has(value, "system")


@holds(
    "per-1",
    "Period",
    expression="start.hasValue().not() or end.hasValue().not() or (start <= end)",
    text="a start that is not after the end",
    found="a start after the end",
)
def per_1(value: Mapping[str, Json]) -> bool:
    """Only what is certain is an issue: partial dates that overlap, and times without offset, may fit."""
    return is_before(value.get("end"), value.get("start")) is not True


@holds(
    "rng-2",
    "Range",
    expression="low.empty() or high.empty() or (low <= high)",
    text="a low that is not above the high",
    found="a low above the high",
)
def rng_2(value: Mapping[str, Json]) -> bool:
    """Compared where the units are the same."""
    low, high = value.get("low"), value.get("high")
    if not isinstance(low, Mapping) or not isinstance(high, Mapping):
        return True
    same = all(text(low, name) == text(high, name) for name in ("system", "code", "unit"))
    bottom, top = number(low, "value"), number(high, "value")
    return not same or bottom is None or top is None or bottom <= top


@holds(
    "rat-1",
    "Ratio",
    expression=("(numerator.empty() xor denominator.exists()) and (numerator.exists() or extension.exists())"),
    text="both numerator and denominator, or neither and an extension",
    found="another mix",
)
def rat_1(value: Mapping[str, Json]) -> bool:
    """A ratio has two sides."""
    numerator, denominator = has(value, "numerator"), has(value, "denominator")
    return numerator == denominator and (numerator or has(value, "extension"))


@holds(
    "drt-1",
    "Duration",
    expression="code.exists() implies ((system = %ucum) and value.exists())",
    text="a value and UCUM as the system beside the code of a duration",
    found="a code alone",
)
def drt_1(value: Mapping[str, Json]) -> bool:
    """A duration is counted in UCUM."""
    return not has(value, "code") or (value.get("system") == _UCUM and has(value, "value"))


@holds(
    "att-1",
    "Attachment",
    expression="data.empty() or contentType.exists()",
    text="a content type beside the data",
    found="data alone",
)
def att_1(value: Mapping[str, Json]) -> bool:
    """Bytes say nothing without their type."""
    return not has(value, "data") or has(value, "contentType")


@holds(
    "cpt-2",
    "ContactPoint",
    expression="value.empty() or system.exists()",
    text="a system (phone, email ...) beside the value",
    found="a value alone",
)
def cpt_2(value: Mapping[str, Json]) -> bool:
    """A number alone may be a telephone or a fax."""
    return not has(value, "value") or has(value, "system")


#: R4's expression, and what must hold when the first member is there.
_TIMING = {
    "tim-1": ("duration", "durationUnit", "duration.empty() or durationUnit.exists()"),
    "tim-2": ("period", "periodUnit", "period.empty() or periodUnit.exists()"),
    "tim-6": ("periodMax", "period", "periodMax.empty() or period.exists()"),
    "tim-7": ("durationMax", "duration", "durationMax.empty() or duration.exists()"),
    "tim-8": ("countMax", "count", "countMax.empty() or count.exists()"),
}


def _pair(first: str, second: str) -> Any:
    def test(value: Mapping[str, Json]) -> bool:
        return not has(value, first) or has(value, second)

    return test


for _key, (_first, _second, _expression) in _TIMING.items():
    holds(
        _key,
        "Timing.repeat",
        expression=_expression,
        text=f"the element {_second} beside {_first}",
        found=f"the element {_first} alone",
    )(_pair(_first, _second))


@invariant(
    "tim-4",
    "Timing.repeat",
    expression="duration.exists() implies duration >= 0",
    text="a duration that is not below zero",
)
def tim_4(node: Node) -> Iterator[tuple[str, str]]:
    """A time span is not negative."""
    yield from _negative(node, "duration")


@invariant(
    "tim-5", "Timing.repeat", expression="period.exists() implies period >= 0", text="a period that is not below zero"
)
def tim_5(node: Node) -> Iterator[tuple[str, str]]:
    """A time span is not negative."""
    yield from _negative(node, "period")


def _negative(node: Node, name: str) -> Iterator[tuple[str, str]]:
    value = number(node.value, name)
    if value is not None and value < 0:
        yield f".{name}", "a negative number"


@holds(
    "tim-9",
    "Timing.repeat",
    expression="offset.empty() or (when.exists() and ((when in ('C' | 'CM' | 'CD' | 'CV')).not()))",
    text="an offset only beside a when, and not beside a meal as such (C, CM, CD, CV)",
    found="an offset without a fitting when",
)
def tim_9(value: Mapping[str, Json]) -> bool:
    """An offset is counted from an event."""
    when = value.get("when")
    return not has(value, "offset") or (isinstance(when, list) and not {"C", "CM", "CD", "CV"} & set(map(str, when)))


@holds(
    "tim-10",
    "Timing.repeat",
    expression="timeOfDay.empty() or when.empty()",
    text="a time of day or a when",
    found="both",
)
def tim_10(value: Mapping[str, Json]) -> bool:
    """One way to say when."""
    return not (has(value, "timeOfDay") and has(value, "when"))
