"""What hangs together by way of others: a finding deep in a panel of panels, a focus of a focus, is of the one wound.

R4, Observation, "Grouping": members may have members; Observation.focus may be an Observation. No depth is given there.
"""

from __future__ import annotations

import pytest

from tests.intake.facts import read
from tests.intake.foreign.inputs import client, visit, wound
from tests.intake.test_which_wound import HEEL, SHIN, Json, l4, of, panel
from tests.intake.two_clients import ref

W, X = wound("w", bodySite=[HEEL]), wound("x", bodySite=[SHIN])


def nested(depth: int, **top: Json) -> list[Json]:
    """A length in so many panels, each in the next; the outermost says more."""
    panels = [panel(f"p{n}", f"p{n - 1}" if n else "l") for n in range(depth)]
    return [*panels[:-1], {**panels[-1], **top}, l4()]


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("depth", [*range(1, 9), 30])
@pytest.mark.parametrize("top", [of("x"), {"bodySite": SHIN}])
def test_a_finding_deep_in_panels_is_of_the_wound_of_the_outermost(depth: int, top: Json, turned: bool) -> None:
    came = [client(), W, X, *nested(depth, **top)]
    (found,) = read(*(came[::-1] if turned else came))
    assert [line for line in found if "length" in line] == ["2026-03-02 final x length 4 cm"]


@pytest.mark.parametrize("depth", [*range(1, 9), 30])
def test_a_finding_deep_in_panels_is_of_the_visit_of_the_outermost(depth: int) -> None:
    """No time and no Encounter of its own: those of its whole, and of the whole of that."""
    bare = [
        {key: value for key, value in one.items() if key != "effectiveDateTime"}
        for one in nested(depth, **of("x"), encounter=ref("Encounter/e"))
    ]
    (found,) = read(client(), X, visit("e"), *bare)
    assert found == ["2026-03-02 final x length 4 cm"]


@pytest.mark.parametrize("depth", [*range(1, 5), 30])
def test_a_finding_about_a_finding_is_of_the_wound_of_the_last(depth: int) -> None:
    about = [panel(f"f{n}", "none", focus=[ref(f"Observation/f{n + 1}")]) for n in range(depth - 1)]
    last = panel(f"f{depth - 1}", "none", **of("x"))
    (found,) = read(client(), W, X, l4(focus=[ref("Observation/f0")]), *about, last)
    assert [line for line in found if "length" in line] == ["2026-03-02 final x length 4 cm"]


def about(depth: int) -> list[Json]:
    """A length about a finding, that about the next, and the last about a wound: so many findings."""
    some = [panel(f"f{n}", "none", focus=[ref(f"Observation/f{n + 1}")]) for n in range(depth - 1)]
    return [l4(focus=[ref("Observation/f0")]), *some, panel(f"f{depth - 1}", "none", **of("x"))]


def at_a_visit(depth: int) -> list[Json]:
    """A length of a wound, without a time, in so many panels, of which the outermost is of a visit."""
    some = [*nested(depth, encounter=ref("Encounter/e"))[:-1], l4(**of("x"))]
    return [{key: value for key, value in one.items() if key != "effectiveDateTime"} for one in some]


MOST: dict[str, tuple[list[Json], list[Json]]] = {
    "wholes of a wound": (nested(99, **of("x")), nested(100, **of("x"))),
    "wholes at a place": (nested(100, bodySite=SHIN), nested(101, bodySite=SHIN)),
    "findings about findings": (about(99), about(100)),
    "wholes at a visit": (at_a_visit(100), at_a_visit(101)),
}


@pytest.mark.parametrize("name", MOST)
@pytest.mark.parametrize("more", [0, 1])
def test_a_hundred_are_asked_one_behind_the_other_and_no_more(name: str, more: int) -> None:
    """A promise of ours, so that reading ends: a hundred resources with the length, or a hundred wholes of it."""
    (found,) = read(client(), *([W] if "visit" not in name else []), X, visit("e"), *MOST[name][more])
    assert ("2026-03-02 final x length 4 cm" in found) is (not more)


def test_findings_that_all_name_each_other_are_asked_once_each() -> None:
    """Every way through them would be more than anybody can wait for; which wound they are of, none of them says."""
    names = [f"f{n}" for n in range(40)]
    tangle = [
        panel(one, "none", focus=[ref(f"Observation/{other}") for other in names if other != one]) for one in names
    ]
    assert read(client(), W, X, *tangle, l4(focus=[ref("Observation/f0")])) == [[]]
