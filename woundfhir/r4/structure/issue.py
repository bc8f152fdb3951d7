"""One thing that a resource breaks: where, what was expected, what was found, and why it matters."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

Json = Any
Severity = Literal["error", "warning", "information"]

R4 = "HL7 FHIR R4 4.0.1"


@dataclass(frozen=True, slots=True)
class Issue:
    """A break of the standard.

    Parameters
    ----------
    severity
        ``error``: R4 says SHALL. ``warning``: R4 says should, or a reader will stumble. ``information``: not checked.
    key
        The key of R4's own invariant (``obs-6``), or: ``structure`` (an element that is not known, a list where one
        stands, the wrong kind of value, two of a choice), ``required`` (missing), ``value`` (a form that its type
        does not have), ``code-invalid`` (not in the required value set), ``reference-target`` (points at a type that
        it may not), ``not-found`` (points at nothing), ``full-url``, ``document`` (R4's rules of documents).
    path
        A FHIRPath-like expression: ``Observation.component[0].valueQuantity.value``.
    expected
        What should stand there.
    found
        What stands there, in general words; the value itself only where asked for.
    why
        The rule, with its source.

    Examples
    --------
    >>> from woundfhir.r4.structure import check_resource
    >>> [(one.key, one.path) for one in check_resource({"resourceType": "Observation", "status": "final"})]
    [('required', 'Observation.code'), ('dom-6', 'Observation.text')]
    """

    severity: Severity
    key: str
    path: str
    expected: str
    found: str
    why: str


def kind_of(value: Json) -> str:
    """Say what kind of JSON value something is, and nothing of the value.

    Examples
    --------
    >>> kind_of("Tremblay"), kind_of([1]), kind_of(None)
    ('a text', 'a list', 'nothing')
    """
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, str):
        return "a text" if value else "an empty text"
    if isinstance(value, list):
        return "a list" if value else "an empty list"
    if isinstance(value, dict):
        return "an object" if value else "an empty object"
    return "a number"


@dataclass(slots=True)
class Issues:
    """Collects issues; the only place that decides whether a value may be shown."""

    show_values: bool = False
    items: list[Issue] = field(default_factory=list)
    #: Paths of all issues so far.
    paths: set[str] = field(default_factory=set)

    def add(
        self,
        key: str,
        path: str,
        expected: str,
        found: str,
        why: str,
        *,
        severity: Severity = "error",
        value: Json = None,
    ) -> None:
        """Add one; ``value`` is shown where that was asked for."""
        if self.show_values and value is not None:
            found = f"{found} ({str(value)[:80]!r})"
        self.paths.add(path)
        self.items.append(Issue(severity, key, path, expected, found, f"{why}. Source: {R4}"))

    def undefined(self, path: str) -> None:
        """Add an element that R4 does not define."""
        self.add("structure", path, "an element that R4 has here", "another", "R4 does not define it")
