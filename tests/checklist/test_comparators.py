"""Comparators in notes: a rule that holds a number against a limit speaks only where the words leave no other reading.

The note with a bound says what each note with a number that the bound allows says, where they agree; where the
allowed numbers disagree, it keeps silent. Arithmetic, no source.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any, NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.checklist.casebook import findings

Json = Any


class Asked(NamedTuple):
    """A rule, the base note, the number that it looks at, and how the answer is placed in the note."""

    rule: str
    base: str
    place: str
    unit: str
    numbers: tuple[str, ...]

    def speaks(self, text: str) -> bool:
        """Whether the rule speaks about an answer."""
        case: Json = {"base": self.base}
        *groups, key = self.place.split(".")
        at = case
        for group in groups:
            at = at.setdefault(group, {})
        at[key] = f"{text} {self.unit}".strip()
        if key == "index":
            case["assessment"] = {"limb_pressure": [{"side": "left", "date": "2026-02-27", "index": text}]}
        return self.rule in {one.rule for one in findings(case)}


ASKED = (
    Asked("CH03", "pressure", "care.cleansing.volume", "mL", ("50", "99", "100", "101", "300")),
    Asked("CH06", "change", "care.cleansing.pressure", "psi", ("1", "4", "8", "15", "16")),
    Asked("CH12", "change", "plan.change_every", "h", ("6", "12", "24", "25", "72")),
    Asked("LL04", "leg", "index", "", ("0.4", "0.59", "0.6", "0.61", "0.9")),
    Asked("LL03", "leg", "index", "", ("0.79", "0.8", "0.9", "1.2", "1.21")),
    Asked("PI05", "pressure", "assessment.depth", "cm", ("0", "0.1", "2")),
    Asked("SE27", "pressure first", "client.risk_score", "", ("5", "6", "18", "23", "24")),
)
ALLOWS = {
    "<": lambda number, bound: number < bound,
    "<=": lambda number, bound: number <= bound,
    ">": lambda number, bound: number > bound,
    ">=": lambda number, bound: number >= bound,
}


@given(st.sampled_from(ASKED), st.sampled_from(list(ALLOWS)), st.data())
@settings(max_examples=40, deadline=None)
def test_a_rule_speaks_of_a_bound_only_where_it_speaks_of_every_number_in_it(
    asked: Asked, comparator: str, data: st.DataObject
) -> None:
    bound = data.draw(st.sampled_from(asked.numbers))
    allowed = [number for number in asked.numbers if ALLOWS[comparator](Decimal(number), Decimal(bound))]
    if asked.speaks(f"{comparator}{bound}"):
        assert all(asked.speaks(number) for number in allowed), (asked, comparator, bound)


@pytest.mark.parametrize(
    ("asked", "text", "speaks"),
    [
        (ASKED[3], "<0.5", True),
        (ASKED[3], "<0.9", False),
        (ASKED[3], ">0.5", False),
        (ASKED[4], "<0.8", True),
        (ASKED[4], ">1.2", True),
        (ASKED[4], ">1.1", False),
        (ASKED[0], "<100", True),
        (ASKED[0], ">50", False),
        (ASKED[2], "<24", True),
    ],
)
def test_a_bound_that_leaves_no_doubt_is_asked_about(asked: Asked, text: str, speaks: bool) -> None:
    assert asked.speaks(text) is speaks
