"""Hypothesis strategies for everything that the record admits: values, absent reasons, other words, partial dates."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from woundfhir.catalogue import Concept, catalogue
from woundfhir.record.shapes import shape_of

#: Text that a record can hold: something visible, nothing that XML cannot carry, no blanks at the ends.
words = (
    st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Cn")), min_size=1, max_size=20)
    .map(lambda text: text.strip())
    .filter(lambda text: bool(text.strip("\ufeff ")))
)
plain = st.sampled_from(
    ["as told", "see chart", "not seen before", "half past two", "<b>&amp;", "ünïcödé", "4,1 cm", "none", "yes"]
)
text = st.one_of(plain, words)
numbers = (
    st.decimals(min_value=Decimal("-99"), max_value=Decimal("9999"), places=2)
    .map(lambda d: format(d, "f"))
    .filter(lambda s: not s.startswith("-0"))
)
whole = st.integers(0, 300).map(str)
units = st.sampled_from(["cm", "mm", "cm2", "mL", "%", "mmHg", "fingers", "°C", "d", "wk", "days"])
quantities = st.builds(
    lambda c, n, u: f"{c}{n}{' ' + u if u else ''}",
    st.sampled_from(["", "", "<", ">="]),
    st.one_of(numbers, whole),
    st.one_of(st.just(""), units),
)
days = st.dates().map(str).filter(lambda d: d >= "1000")
instants = st.builds(
    lambda d, t, z: f"{d}T{t.strftime('%H:%M:%S')}{z}", days, st.times(), st.sampled_from(["Z", "-05:00", "+05:30", ""])
)
dates = st.one_of(days, days.map(lambda d: d[:7]), days.map(lambda d: d[:4]), instants, text)
absent = st.builds(
    lambda reason: {"absent": reason}, st.one_of(st.sampled_from(["not assessed", "declined", "unknown"]), text)
)


def answer(concept: Concept) -> st.SearchStrategy[Any]:
    """Everything that one concept may hold in canonical form (made canonical by the record itself)."""
    known = [word.word for word in concept.answers.words] if concept.answers else []
    said = st.one_of(st.sampled_from(known), text) if known else text
    shapes: dict[str, st.SearchStrategy[Any]] = {
        "quantity": st.one_of(quantities, text),
        "interval": st.one_of(st.sampled_from(["2 d", "1 wk", "3 days", "12 h", "1.5 d"]), quantities, text),
        "choice": said,
        "choices": st.lists(said, min_size=1, max_size=3),
        "share": st.one_of(text, st.dictionaries(said, st.one_of(quantities, absent), min_size=1, max_size=3)),
        "flag": st.one_of(st.sampled_from(["yes", "no"]), text),
        "clock": st.one_of(st.integers(1, 12).map(str), text),
        "date": dates,
        "score": st.one_of(whole, quantities, text),
        "count": st.one_of(whole, text),
        "text": text,
    }
    if concept.is_group:
        item = st.fixed_dictionaries({}, optional={**{k: answer(f) for k, f in concept.fields.items()}, "note": text})
        inner = st.lists(item, min_size=1, max_size=2) if concept.many else item
        return st.one_of(st.just("none"), absent, inner)
    # A shape that has no strategy here is tried with its own examples and with other words.
    examples = [*shape_of(concept).examples(concept), "other words"]
    return st.one_of(shapes.get(concept.shape, st.one_of(st.sampled_from(examples), text)), absent)


def group(name: str, most: int = 5) -> st.SearchStrategy[dict[str, Any]]:
    """Some answers of one group."""
    concepts = catalogue().groups[name]

    def some(keys: list[str]) -> st.SearchStrategy[dict[str, Any]]:
        return st.fixed_dictionaries({key: answer(concepts[key]) for key in keys})

    return st.lists(st.sampled_from(sorted(concepts)), max_size=most, unique=True).flatmap(some)


def _optional(**fields: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({}, optional=fields)


_known = st.one_of(st.just({"none": "known"}), absent)
patients = _optional(
    identifiers=st.lists(st.fixed_dictionaries({"system": st.just("urn:example:clinic"), "value": words}), max_size=2),
    name=st.one_of(text, _optional(family=text, given=st.lists(text, max_size=2))),
    born=dates,
    sex=st.one_of(st.sampled_from(["female", "male", "other", "unknown"]), text),
    allergies=st.one_of(
        _known,
        st.lists(_optional(to=text, reaction=text, status=st.one_of(st.just("active"), text), note=text), max_size=2),
    ),
    conditions=st.one_of(_known, st.lists(text, max_size=2)),
    contact=_optional(name=text, role=text, phone=text),
    note=text,
)
authors = _optional(id=text, name=text, designation=text, organisation=text)


@st.composite
def records(draw: st.DrawFn, most_visits: int = 2) -> dict[str, Any]:
    """A whole record, as somebody may write it."""
    wound_ids = draw(st.lists(st.one_of(st.sampled_from(["W1", "W2", "a/b"]), words), max_size=2, unique=True))
    wounds = [
        {
            "id": i,
            **draw(_optional(status=st.sampled_from(["open", "closed", "entered in error"]), note=text)),
            **draw(group("wound")),
        }
        for i in wound_ids
    ]
    visit_ids = draw(st.lists(st.one_of(st.sampled_from(["V1", "V2"]), words), max_size=most_visits, unique=True))
    visits = []
    for number, visit_id in enumerate(visit_ids):
        seen = draw(st.lists(st.sampled_from(wound_ids), max_size=2, unique=True)) if wound_ids else []
        entries = [
            {
                "wound": i,
                **draw(
                    _optional(
                        assessment=group("assessment"),
                        care=group("care", 3),
                        plan=group("plan", 4),
                        supplies=st.lists(group("supply"), max_size=2),
                        photos=st.lists(group("photo"), max_size=1),
                        note=text,
                    )
                ),
            }
            for i in seen
        ]
        visit = {"id": visit_id, "wounds": entries, **draw(group("visit"))}
        visit.update(
            draw(
                _optional(
                    at=dates,
                    written=dates,
                    by=authors,
                    client=group("client", 3),
                    note=text,
                    status=st.sampled_from(["draft", "final", "amended", "entered in error"]),
                )
            )
        )
        if number:
            visit.update(draw(_optional(replaces=st.just(visit_ids[0]))))
        visits.append(visit)
    record = {"woundfhir": 1, "patient": draw(patients), "wounds": wounds, "visits": visits}
    if draw(st.booleans()):
        record["some_key_of_theirs"] = draw(st.one_of(text, st.lists(st.integers(), max_size=2)))
    return record
