"""One difference between two records, as a sentence and as JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from woundfhir.handover.texts import say

Kind = Literal["differs", "only in A", "only in B", "written differently"]


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that differs.

    Parameters
    ----------
    place
        Whose it is, in words: "W1, visit V6", "the client"; an id that is no plain label is a position: "wound 2".
    what
        The label of the answer; empty where the whole place stands on one side alone.
    path
        The path in the record, for programs, with ids as keys: ``visits[V6].wounds[W1].assessment.length``.
    kind
        "differs", "only in A", "only in B", or "written differently" (the same answer in another form).
    a, b
        Both answers in words; None where one is not there.
    """

    place: str
    what: str
    path: str
    kind: Kind
    a: str | None = None
    b: str | None = None

    @property
    def clinical(self) -> bool:
        """Whether it is more than another way of writing the same."""
        return self.kind != "written differently"

    def line(self, *, show_values: bool = False, names: tuple[str, str] | None = None, placed: bool = True) -> str:
        """Return it in words; answers only when asked for, and without its place where a heading names that already.

        Examples
        --------
        >>> path = "visits[V6].wounds[W1].assessment.length"
        >>> one = Difference("W1, visit V6", "length", path, "differs", "4.10 cm", "3.9 cm")
        >>> one.line(), one.line(show_values=True)
        ('W1, visit V6: length differs', 'W1, visit V6: length 4.10 cm in A, 3.9 cm in B')
        """
        sides = names or (say("difference.a"), say("difference.b"))
        if self.kind.startswith("only"):
            side, answer = (sides[0], self.a) if self.kind == "only in A" else (sides[1], self.b)
            inner = say("difference.placed", place=self.place, what=self.what) if self.place and self.what else ""
            whole = (inner if placed else self.what) or self.what or self.place
            key = "only_valued" if show_values and answer else "only"
            return say(f"difference.{key}", side=side, what=whole, answer=answer)
        if show_values:
            key = "values" if self.clinical else "values_same"
            said = say(f"difference.{key}", what=self.what, a=self.a, b=self.b, side_a=sides[0], side_b=sides[1])
        else:
            said = say("difference.differs" if self.clinical else "difference.same", what=self.what)
        return say("difference.placed", place=self.place, what=said) if placed else said

    def json(self, *, show_values: bool = False) -> dict[str, str | None]:
        """Return it as plain data; answers only when asked for."""
        made: dict[str, str | None] = {"place": self.place, "what": self.what, "path": self.path, "kind": self.kind}
        return {**made, "a": self.a, "b": self.b} if show_values else made
