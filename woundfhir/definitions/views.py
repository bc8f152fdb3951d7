"""ViewDefinitions (HL7 SQL on FHIR 2) that give the columns of our tables from our FHIR, made from the same data.

Only what every runner has to have is used: where, exists, empty, ofType, first, extension, getResourceKey,
getReferenceKey, the operators and literals; a number in another unit is a branch of its own (``unionAll``).
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from woundfhir.catalogue import Concept
from woundfhir.definitions.definition import PUBLISHER
from woundfhir.fhir.terms import Terms
from woundfhir.flat import Column, Table, tables, version
from woundfhir.flat.wide import field_of
from woundfhir.record.units import MeasureError, to_unit

Json = Any
_KEY = "getResourceKey()"
_STANDS = "status = 'final' or status = 'amended' or status = 'corrected' or status = 'unknown'"
#: What has no value: FHIRPath's empty collection.
_NOTHING = "{}"


def views(terms: Terms) -> list[dict[str, Json]]:
    """Return all ViewDefinitions: one for each table that our FHIR can give, and one of the notes that are replaced."""
    made = _Views(terms)
    return [made.view(table) for table in tables().values() if table.view] + [made.replaced()]


class _Views:
    def __init__(self, terms: Terms) -> None:
        self.terms = terms
        self.urls = {name: terms.ext(f"supply-{name}") for name in ("visit", "wound")}
        link = "extension('{}').value.ofType(Reference).getReferenceKey({})"
        #: Type of resource -> the columns that it shares with others, by their names.
        self.heads: dict[str, dict[str, str]] = {
            "Patient": {"client": _KEY},
            "Condition": {"client": _of("subject", "Patient"), "wound": _KEY, "wound_id": "identifier.first().value"},
            "Encounter": {
                "client": _of("subject", "Patient"), "visit": _KEY,
                "visit_id": "identifier.first().value", "at": "period.start",
            },
            "Observation": {
                "client": _of("subject", "Patient"), "wound": _of("focus.first()", "Condition"),
                "visit": _of("encounter", "Encounter"), "at": "effective.ofType(dateTime)",
            },
            "Procedure": {
                "client": _of("subject", "Patient"), "wound": _of("reasonReference.first()", "Condition"),
                "visit": _of("encounter", "Encounter"), "at": "performed.ofType(dateTime)",
            },
            "SupplyDelivery": {
                "client": _of("patient", "Patient"), "wound": link.format(self.urls["wound"], "Condition"),
                "visit": link.format(self.urls["visit"], "Encounter"), "at": "occurrence.ofType(dateTime)",
            },
            "CarePlan": {
                "client": _of("subject", "Patient"), "wound": _of("addresses.first()", "Condition"),
                "visit": _of("encounter", "Encounter"), "at": "created",
            },
        }  # fmt: skip

    # -- one view ------------------------------------------------------------------------------

    def view(self, table: Table) -> dict[str, Json]:
        """Return the ViewDefinition of a table."""
        columns = {column.name: column for column in table.columns}
        head = self.heads[table.view]
        keys = {"column": [_column(columns[name], path) for name, path in head.items() if name in columns]}
        body: Json = getattr(self, f"_{table.name}")(table, columns)
        where = [{"path": path} for path in self._where(table.name)]
        about = f"{table.title}: {table.row}, as woundfhir's table `{table.name}` (schema {version()}) has it."
        return self._frame(table.name, about + _COUNTS, table.view, [keys, *body], where)

    def replaced(self) -> dict[str, Json]:
        """Return the view of the notes that others replace: what a finished note replaces does not count."""
        pair = [
            {"name": "visit", "path": _of("entity.where(role = 'revision').what", "Encounter"), "type": "string",
             "description": "The visit whose note is replaced"},
            {"name": "by", "path": _of("target.first()", "Encounter"), "type": "string",
             "description": "The visit whose note takes its place"},
        ]  # fmt: skip
        where = [{"path": "entity.where(role = 'revision').exists()"}]
        about = "Notes that another note replaces; they count no longer once the other one is finished."
        return self._frame("replaced", about, "Provenance", [{"column": pair}], where)

    def _frame(self, name: str, about: str, resource: str, select: list[Json], where: list[Json]) -> dict[str, Json]:
        return {
            "resourceType": "ViewDefinition",
            "url": f"{self.terms.catalogue.bases[-1]}/ViewDefinition/wound-{name}",
            "name": f"wound_{name}",
            "version": version(),
            "status": "active",
            "publisher": PUBLISHER,
            "description": about,
            "fhirVersion": ["4.0.1"],
            "resource": resource,
            "select": select,
            **({"where": where} if where else {}),
        }

    def _where(self, name: str) -> list[str]:
        terms = self.terms
        return {
            "facts": [_STANDS],
            "visits": ["status = 'finished' or status = 'unknown'"],
            "wounds": [
                _has("category", terms.code_key("wound_category")),
                "verificationStatus.coding.where(code = 'entered-in-error').empty()",
            ],
            "sizes": [_STANDS, _has("code", terms.code_key("size"))],
            "changes": ["status = 'completed' or status = 'not-done' or status = 'unknown'"],
            "supplies": ["status = 'completed' or status = 'unknown'", f"extension('{self.urls['visit']}').exists()"],
            "plans": ["status = 'active' or status = 'unknown'", _has("category", terms.code_key("plan_category"))],
        }.get(name, [])

    # -- the columns of each -------------------------------------------------------------------

    def _clients(self, table: Table, columns: dict[str, Column]) -> list[Json]:
        return _given(columns, {
            "identifier_system": "identifier.first().system", "identifier_value": "identifier.first().value",
            "born": "birthDate", "sex": "gender",
        })  # fmt: skip

    def _visits(self, table: Table, columns: dict[str, Column]) -> list[Json]:
        return _given(columns, {"written_at": f"extension('{self.terms.ext('written')}').value.ofType(dateTime)"})

    def _wounds(self, table: Table, columns: dict[str, Column]) -> list[Json]:
        return _given(columns, {
            "kind_written": "code.text", **_first_code("kind", "code"),
            "site_written": "bodySite.first().text", **_first_code("site", "bodySite.first()"),
            "onset": "onset.ofType(dateTime)", "closed": "abatement.ofType(dateTime)",
        })  # fmt: skip

    def _sizes(self, table: Table, columns: dict[str, Column]) -> list[Json]:
        known = self.terms.catalogue.groups["assessment"]
        return [
            self._number(column, known[key], f"component.where({_has('code', known[key].codings[0].key)})")
            for column, key in table.below("assessment")
            if column.view
        ]

    def _changes(self, table: Table, columns: dict[str, Column]) -> list[Json]:
        """One branch for each step: the same columns, each by its own path."""
        steps = [term for term in self.terms.groups["care"].values() if term.concept.shape == "step"]
        return [{"unionAll": [self._step(table, columns, term.concept) for term in steps]}]

    def _step(self, table: Table, columns: dict[str, Column], step: Concept) -> Json:
        fields = self.terms.groups["care"][step.key].fields
        select: list[Json] = [*_given(columns, {"step": f"'{step.key}'", "done": "(status = 'not-done').not()"})]
        for column, path in table.below("care"):
            if not column.view:
                continue
            field = field_of(step, path)
            if field is None:
                select += _given(columns, {column.name: _NOTHING})
            elif column.gives in ("system", "code", "written") and path.endswith("native"):
                used = "usedCode.first()" if field.native == "used" else _NOTHING
                select += _given(columns, {column.name: _word(column.gives, used)})
            else:
                select.append(self._cell(column, field, f"extension('{fields[field.key].url}')"))
        return {"forEach": f"where({_has('code', step.codings[0].key)})", "select": select}

    def _supplies(self, table: Table, columns: dict[str, Column]) -> list[Json]:
        known, fields = self.terms.catalogue.groups["supply"], self.terms.groups["supply"]
        item, much = "suppliedItem.item.ofType(CodeableConcept)", "suppliedItem.quantity"
        select = []
        for column, key in table.below("supply"):
            if not column.view:
                continue
            if known[key].native == "item":
                select += _given(columns, {column.name: _word(column.gives, item)})
            elif known[key].native:
                select += _given(columns, {column.name: f"{much}.{'unit' if column.gives == 'unit' else 'value'}"})
            else:
                select.append(self._cell(column, known[key], f"extension('{fields[key].url}')"))
        return select

    def _plans(self, table: Table, columns: dict[str, Column]) -> list[Json]:
        known, select = self.terms.catalogue.groups["plan"], []
        for column, key in table.below("plan"):
            if column.view:
                concept = known[key]
                code = self.terms.activities[str(concept.activity)]
                detail = f"activity.detail.where({_has('code', code)})"
                end = {"event": "scheduled.ofType(Timing).event.first()", "performer": "performer.first().display"}
                select += _given(columns, {column.name: f"{detail}.{end[str(concept.native)]}"})
        return [*select, *_given(columns, {"note": "note.first().text"})]

    def _facts(self, table: Table, columns: dict[str, Column]) -> list[Json]:
        """The values of Observations and of their components, one branch for each type of value."""
        share = f"component.where({_has('code', self.terms.code_key('share_percent'))}).value.ofType(Quantity)"
        other = _has("code", self.terms.code_key("share_percent"))
        branches = []
        for start in ("", f"component.where(({other}).not())."):
            for test, paths in _values("" if start else share):
                made = {**_CODED, **dict.fromkeys(_OF_VALUE, _NOTHING), **paths}
                branches.append({"forEach": f"{start}where({test})", "select": _given(columns, made)})
        return [{"unionAll": branches}]

    # -- cells ---------------------------------------------------------------------------------

    def _cell(self, column: Column, concept: Concept, holder: str) -> Json:
        if column.gives == "number":
            return self._number(column, concept, holder)
        kind = {"whole": "integer"}.get(column.gives) or ("dateTime" if concept.shape == "date" else "string")
        return {"column": [_column(column, f"{holder}.value.ofType({kind})")]}

    def _number(self, column: Column, concept: Concept, holder: str) -> Json:
        """A plain number: a branch for each unit that fits, turned into that of the column, and one for none."""
        plain = f"{holder}.value.ofType(Quantity).where(comparator.empty() and ({{}}))"
        units = [unit for unit in concept.units if _factor(unit, column.unit) is not None]
        branches = []
        for unit in units:
            factor = _factor(unit, column.unit)
            path = "value" if factor == 1 else f"value * {factor:f}"
            branches.append({"forEach": plain.format(f"code = '{unit}'"), "column": [_column(column, path)]})
        any_unit = " or ".join(f"code = '{unit}'" for unit in units)
        missing = {"forEach": f"where({plain.format(any_unit)}.empty())", "column": [_column(column, _NOTHING)]}
        return {"unionAll": [*branches, missing]}


_COUNTS = (
    " A row counts where its visit is one of the view wound_visits that no finished note replaces (wound_replaced), and"
    " its wound one of wound_wounds. Keys are those of the resources; words are as written."
)
_CODED = {"concept_system": "code.coding.first().system", "concept_code": "code.coding.first().code"}
_OF_VALUE = ("written_value", "written_unit", "word", "system", "code", "comparator")


def _values(share: str) -> Iterable[tuple[str, dict[str, str]]]:
    """Yield the test of each type of value, and the paths of its columns."""
    much, word = "value.ofType(Quantity)", "value.ofType(CodeableConcept)"
    for test, unit in (("exists", "code"), ("empty", "unit")):
        yield f"{much}.exists() and {much}.code.{test}()", {
            "written_value": f"{much}.value", "written_unit": f"{much}.{unit}", "comparator": f"{much}.comparator",
        }  # fmt: skip
    yield "value.ofType(integer).exists()", {"written_value": "value.ofType(integer)"}
    yield f"{word}.exists()", {
        "system": f"{word}.coding.first().system", "code": f"{word}.coding.first().code",
        **({"written_value": f"{share}.value", "written_unit": f"{share}.code"} if share else {}),
    }  # fmt: skip
    yield "value.ofType(boolean) = true", {"word": "'yes'"}
    yield "value.ofType(boolean) = false", {"word": "'no'"}
    yield "value.ofType(string).exists() or value.ofType(dateTime).exists()", {}
    yield "dataAbsentReason.exists()", {}


def _of(path: str, kind: str) -> str:
    return f"{path}.getReferenceKey({kind})"


def _has(path: str, key: tuple[str, str]) -> str:
    system, code = key
    return f"{path}.coding.where(system = '{system}' and code = '{code}').exists()"


def _first_code(name: str, path: str) -> dict[str, str]:
    return {f"{name}_{part}": f"{path}.coding.first().{part}" for part in ("system", "code")}


def _word(gives: str, path: str) -> str:
    """The path of what a column takes of a CodeableConcept."""
    if path == _NOTHING:
        return path
    return f"{path}.text" if gives == "written" else f"{path}.coding.first().{gives}"


def _given(columns: dict[str, Column], paths: dict[str, str]) -> list[Json]:
    return [{"column": [_column(columns[name], path) for name, path in paths.items()]}]


def _column(column: Column, path: str) -> dict[str, str]:
    about = f"{column.says} ({column.unit})" if column.unit else column.says
    return {"name": column.name, "path": path, "type": _type(column, path), "description": about}


#: End of a path -> the type in FHIR of what stands there, where our table has it as a text.
_ENDS = {
    "ofType(dateTime)": "dateTime", "period.start": "dateTime", "created": "dateTime", "event.first()": "dateTime",
    "birthDate": "date", "gender": "code", ".code": "code", ".comparator": "code", ".system": "uri",
}  # fmt: skip


def _type(column: Column, path: str) -> str:
    """The type of a column in FHIR, the same in every branch."""
    if column.type != "string":
        return column.type
    coded = column.name.endswith("code") or column.name in ("comparator", "written_unit")
    system = column.name.endswith("system")
    found = next((kind for end, kind in _ENDS.items() if path.endswith(end)), "string")
    return "uri" if system else "code" if coded else found


def _factor(unit: str, wanted: str) -> Decimal | None:
    try:
        return to_unit(Decimal(1), unit, wanted).normalize() if wanted else None
    except MeasureError:
        return None
