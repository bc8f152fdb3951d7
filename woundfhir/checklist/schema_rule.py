"""One rule of a site's own checklist: its two JSON Schema fragments made into a generator of problems."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from jsonschema import Draft202012Validator
from jsonschema.exceptions import SchemaError
from jsonschema.exceptions import ValidationError as Mismatch
from jsonschema.protocols import Validator
from referencing import Registry

from woundfhir.chart.conditions import CONDITIONS
from woundfhir.checklist.pages import ONLY, Page
from woundfhir.checklist.rule import Body, Problem, Rule, RuleError, make
from woundfhir.checklist.site_rule import RuleEntry
from woundfhir.errors import InputError
from woundfhir.site_file import near

Json = Any


def schema_rule(entry: RuleEntry, place: str) -> Rule:
    """Return the rule that one ``[[rule]]`` of a checklist file writes.

    Raises
    ------
    InputError
        When a fragment is no JSON Schema, points outside itself, or a condition is unknown.
    """
    when, then = _validator(entry.when, f"{place}.when"), _validator(entry.then, f"{place}.then")
    for name in entry.conditions:
        if name not in CONDITIONS:
            fix = near(name, CONDITIONS) or "Choose from these"
            raise InputError(f"{place}.conditions", f"a list of: {', '.join(CONDITIONS)}", fix)
    source = f"{entry.source} ({entry.mark})"
    # A site's own message is no template: its braces are braces.
    message = entry.message.replace("{", "{{").replace("}", "}}")
    page = Page(entry.message, entry.why, entry.wrong, entry.right, entry.fix, source, entry.mark, {ONLY: message})
    body, conditions = _body(when, then, entry), tuple(entry.conditions)
    try:
        return make(f"SITE-{entry.code}", entry.name, entry.severity, entry.scope, "site", body, conditions, page)
    except RuleError as error:
        expected = "a code of letters, digits, dot, hyphen; a name of words joined by hyphens"
        raise InputError(place, expected, str(error)) from None


def _validator(schema: Json, place: str) -> Validator:
    for ref in _refs(schema):
        if not ref.startswith("#"):
            raise InputError(place, "no $ref to another file or address", "Put the part into the rule itself")
    try:
        Draft202012Validator.check_schema(schema)
    except SchemaError as error:
        where = ".".join((place, *(str(part) for part in error.absolute_path)))
        fix = (
            f"Look up '{error.absolute_path[-1]}' in JSON Schema"
            if error.absolute_path
            else "See `woundfhir explain checklist`"
        )
        raise InputError(where, "a valid JSON Schema (draft 2020-12)", fix) from None
    # An empty registry: a reference that cannot be followed fails, and nothing is fetched.
    return Draft202012Validator(schema, registry=Registry())


def _refs(schema: Json) -> Iterator[str]:
    if isinstance(schema, dict):
        for key, value in schema.items():
            if key in ("$ref", "$dynamicRef") and isinstance(value, str):
                yield value
            yield from _refs(value)
    elif isinstance(schema, list):
        for item in schema:
            yield from _refs(item)


def _body(when: Validator, then: Validator, entry: RuleEntry) -> Body:
    fixed = entry.path

    def judged(view: Any, policy: Any) -> Iterator[Problem]:
        seen = instance(view)
        if when.is_valid(seen):
            mismatch = next(iter(sorted(then.iter_errors(seen), key=_order)), None)
            if mismatch is not None:
                yield Problem(place(view, fixed or _named(mismatch)))

    return judged


def _order(mismatch: Mismatch) -> tuple[str, str]:
    return (_named(mismatch), str(mismatch.validator))


def instance(view: Any) -> Json:
    """Return what a rule of a view's scope looks at; parts of the record are shared, not copied."""
    if view.scope == "entry":
        visit = {key: value for key, value in view.visit.data.items() if key not in ("wounds", "client")}
        return {
            **view.data,
            "wound": view.wound.data,
            "visit": visit,
            "client": view.visit.data.get("client", {}),
            "patient": view.patient.data,
        }
    if view.scope in ("visit", "wound"):
        return {**view.data, "patient": view.patient.data}
    return view.data


def _named(mismatch: Mismatch) -> str:
    """The place that a mismatch is about, in the instance; a missing key is named itself."""
    out = ""
    path: list[Any] = list(mismatch.absolute_path)
    if mismatch.validator == "required" and isinstance(mismatch.instance, dict):
        needed: Any = mismatch.validator_value
        path += [key for key in needed if key not in mismatch.instance][:1]
    for part in path:
        out += f"[{part}]" if isinstance(part, int) else f".{part}" if out else str(part)
    return out


def place(view: Any, path: str) -> str:
    """Return the place in the record of a path in what the view's rules look at."""
    if path.partition(".")[0] == "patient" and view.scope in ("entry", "visit", "wound"):
        return view.patient.path(path.partition(".")[2])  # type: ignore[no-any-return]
    if path in ("wound", "visit") and view.scope == "entry":
        return (view.wound if path == "wound" else view.visit).path()  # type: ignore[no-any-return]
    return view.path(path)  # type: ignore[no-any-return]
