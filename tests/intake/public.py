"""FHIR R4 resources made at random from the public models of fhir.resources (R4B: the same as R4 for these types).

No shape here was taken from our own output: which elements a type has, which are required, of which types they are
and which values an enumeration has is asked of the models. Every free text and number is unique, so that whoever walks
over the leaves finds each again without asking the report.
"""

from __future__ import annotations

import re
from decimal import Decimal
from random import Random
from typing import Any

from fhir.resources.R4B import get_fhir_model_class
from pydantic import BaseModel

Json = Any
TYPES = (
    *("Observation", "Observation", "Observation", "Procedure", "Condition", "DeviceUseStatement", "SupplyDelivery"),
    *("CarePlan", "QuestionnaireResponse", "Media", "AllergyIntolerance", "Goal", "Encounter", "DocumentReference"),
    *("ServiceRequest", "DiagnosticReport", "BodyStructure", "NutritionOrder", "Flag", "ClinicalImpression"),
)
LOINC, SCT = "http://loinc.org", "http://snomed.info/sct"
#: Codes that public guides show for wounds (``tests/data/codes.tsv``), so that some of what is made is understood.
CODES = (
    *((LOINC, code) for code in ("39126-8", "39125-0", "39127-6", "72287-6", "39135-9", "72292-6", "72514-3")),
    *((LOINC, code) for code in ("72288-4", "72297-5", "72296-7", "89254-7", "89256-2")),
    *((SCT, code) for code in ("402863005", "416462003", "18949003", "225552003", "84607009", "283371005", "36777000")),
)
UNITS = ("cm", "mm", "cm2", "%", "mm[Hg]", "{score}", "d", "kg")
_USUAL = {
    **dict.fromkeys(("Observation", "DiagnosticReport"), "final"),
    **dict.fromkeys(
        ("Procedure", "Media", "QuestionnaireResponse", "SupplyDelivery", "ClinicalImpression"), "completed"
    ),
    **{"Encounter": "finished", "DocumentReference": "current"},
}
#: Types with their own rules between elements, whose content is no matter of wounds.
_LEFT_OUT = frozenset(("contained", "implicitRules", "language", "meta", "extension", "fhir_comments", "id"))
_ABSTRACT = re.compile(r"(?:abc\.)?(\w+)Type\b")


class Making:
    """One set of resources that refer to each other, with the words and numbers of each."""

    def __init__(self, random: Random) -> None:
        self.random = random
        self.count = 0
        self.names: list[str] = []
        #: Unique words and numbers, by resource.
        self.marks: dict[str, set[str]] = {}
        self.current = ""

    def bundle(self, size: int) -> list[Json]:
        """A client, a wound of hers, and some resources of any type, each about the client and some about the wound."""
        kinds = [self.random.choice(TYPES) for _ in range(size)]
        self.names = [f"{kind}/r{number}" for number, kind in enumerate(kinds)]
        patient = {"resourceType": "Patient", "id": "p", "identifier": [{"system": "urn:example:m", "value": "1"}]}
        wound = {"resourceType": "Condition", "id": "w", "subject": {"reference": "Patient/p"}}
        wound["code"] = {"coding": [{"system": SCT, "code": "402863005"}]}
        wound["clinicalStatus"] = {
            "coding": [{"system": "http://terminology.hl7.org/CodeSystem/condition-clinical", "code": "active"}]
        }
        return [patient, wound, *(self.resource(name) for name in self.names)]

    def resource(self, name: str) -> Json:
        kind, _, key = name.partition("/")
        self.current = name
        self.marks[name] = set()
        made = {"resourceType": kind, "id": key, **self.members(get_fhir_model_class(kind), 0)}
        client = (
            "patient"
            if kind in ("AllergyIntolerance", "SupplyDelivery", "BodyStructure", "NutritionOrder")
            else "subject"
        )
        made[client] = {"reference": "Patient/p"}
        for link in ("focus", "reasonReference", "addresses", "condition", "basedOn"):
            if link in made and kind not in ("Encounter",) and self.random.random() < 0.6 and link != "basedOn":
                made[link] = [{"reference": "Condition/w"}]
        if kind == "Observation" and self.random.random() < 0.6:
            made["focus"] = [{"reference": "Condition/w"}]
            made["code"] = {"coding": [{"system": LOINC, "code": self.random.choice(CODES[:9])[1]}]}
        if kind == "Observation" and self.random.random() < 0.4:
            made = {key: value for key, value in made.items() if not key.startswith("value")}
            made["valueQuantity"] = {**self.quantity("Quantity"), "unit": "cm", "code": "cm"}
        if kind == "Observation" and self.random.random() < 0.3:
            made["component"] = [
                {"code": {"coding": [{"system": LOINC, "code": code}]}, "valueQuantity": self.quantity("Quantity")}
                for _, code in self.random.sample(CODES[:9], 2)
            ]
        if kind in ("Procedure", "Condition", "BodyStructure", "DeviceUseStatement") and self.random.random() < 0.6:
            words = self.random.choice(
                ("Dressing change", "Wound of left heel", "Venous ulcer", "compression", "foam dressing")
            )
            made["code"] = {"coding": [self.coding()], "text": f"{words} {self.word()}"}
        if kind in ("BodyStructure", "DeviceUseStatement", "SupplyDelivery"):
            made.pop("code", None)
        if "status" in made and kind != "DeviceUseStatement" and self.random.random() < 0.6:
            made["status"] = _USUAL.get(kind, "active")
        if self.random.random() < 0.1:
            made["modifierExtension"] = [{"url": f"urn:example:{self.word()}", "valueBoolean": True}]
        if self.random.random() < 0.1:
            made["contained"] = [{"resourceType": "Basic", "id": "c", "code": {"text": self.word()}}]
        self.marks[name] = {text for text in self.marks[name] if text in _texts(made)}
        return made

    def members(self, model: type[BaseModel], depth: int) -> dict[str, Json]:
        """The members of one element: what is required, one of each choice, and some of the rest."""
        made: dict[str, Json] = {}
        chosen: dict[str, list[str]] = {}
        fields = {}
        for name, field in model.model_fields.items():
            extra = field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}
            left_out = name in _LEFT_OUT or (name == "text" and depth == 0)
            if name.endswith("__ext") or left_out or name in ("resource_type", "modifierExtension"):
                continue
            fields[field.alias or name] = (field, extra)
            if "one_of_many" in extra:
                chosen.setdefault(str(extra["one_of_many"]), []).append(field.alias or name)
        one_of = {name: group for group, names in chosen.items() for name in names}
        picked = {group: self.random.choice(names) for group, names in chosen.items()}
        share = (0.35, 0.3, 0.15, 0.0)[min(depth, 3)]
        for name, (field, extra) in fields.items():
            group = one_of.get(name)
            needed = bool(field.is_required() or extra.get("element_required"))
            if group is not None:
                needed = picked[group] == name and bool(extra.get("one_of_many_required"))
                if picked[group] != name:
                    continue
            often = 0.8 if name.startswith("value") or name in ("code", "effectiveDateTime") else share
            if needed or (depth < 3 and self.random.random() < often):
                value = self.value(name, str(field.annotation), extra, depth + 1)
                if value is not None:
                    made[name] = value
        return made

    def value(self, name: str, kind: str, extra: dict[str, Json], depth: int) -> Json:
        if "List[" in kind:
            inner = kind.replace("typing.List[", "").replace("List[", "")
            return [
                one
                for _ in range(self.random.choice((1, 1, 2)))
                if (one := self.value(name, inner, extra, depth)) is not None
            ] or None
        found = _ABSTRACT.search(kind)
        if found and found[1] not in ("Resource", "FHIRPrimitiveExtension"):
            return self.complex(found[1], depth)
        if found:
            return None
        return self.primitive(name, kind, extra)

    def complex(self, kind: str, depth: int) -> Json:
        if kind == "Reference":
            made: Json = {"reference": self.random.choice(self.names)} if self.random.random() < 0.7 else {}
            return {**made, "display": self.word()} if not made or self.random.random() < 0.2 else made
        if kind == "CodeableConcept":
            made = {"coding": [self.coding()]} if self.random.random() < 0.8 else {}
            return {**made, "text": self.word()} if not made or self.random.random() < 0.4 else made
        if kind == "Coding":
            return self.coding()
        if kind in ("Quantity", "Age", "Duration", "Distance", "Count", "SimpleQuantity"):
            return self.quantity(kind)
        if kind in ("Range",):
            return {"low": self.quantity(kind), "high": self.quantity(kind)}
        if kind == "Ratio":
            return {"numerator": self.quantity(kind), "denominator": self.quantity(kind)}
        if kind == "Period":
            return {"start": self.date(), "end": "2026-04-01T10:00:00Z"}
        if kind in ("Extension", "Meta", "Narrative"):
            return None
        return self.members(get_fhir_model_class(kind), depth) or None

    def coding(self) -> Json:
        if self.random.random() < 0.6:
            system, code = self.random.choice(CODES)
            return {"system": system, "code": code}
        made = {"system": "urn:example:codes", "code": self.word()}
        return {**made, "display": self.word()} if self.random.random() < 0.5 else made

    def quantity(self, kind: str) -> Json:
        unit = self.random.choice(UNITS)
        made: Json = {"value": self.number()}
        if self.random.random() < 0.9:
            made |= {"unit": unit, "system": "http://unitsofmeasure.org", "code": unit}
        if self.random.random() < 0.15 and kind == "Quantity":
            made["comparator"] = self.random.choice(("<", "<=", ">=", ">"))
        return made

    def primitive(self, name: str, kind: str, extra: dict[str, Json]) -> Json:
        allowed = [one for one in extra.get("enum_values", ()) if one != "+"]
        if allowed:
            return self.random.choice([*allowed, "entered-in-error"] if name == "status" else allowed)
        if "bool" in kind:
            return self.random.choice((True, False))
        if "Decimal" in kind:
            return self.number()
        if "int" in kind:
            return self.random.randint(1, 9)
        if "datetime.time" in kind:
            return "10:05:00"
        if "datetime.datetime" in kind or "datetime.date" in kind:
            return (
                self.date()
                if "Date()" not in kind.replace("DateTime()", "") or "datetime.datetime" in kind
                else "2026-03-02"
            )
        if "Base64" in kind or "bytes" in kind:
            return "QUJD"
        if any(one in kind for one in ("Uri()", "Url()", "Canonical()", "Oid()", "Uuid()")):
            return f"urn:example:{self.word()}"
        return self.word()

    def date(self) -> str:
        return f"2026-03-0{self.random.randint(1, 9)}T10:05:00-05:00"

    def word(self) -> str:
        self.count += 1
        return self.mark(f"wq{self.count}zz")

    def number(self) -> Decimal:
        self.count += 1
        made = Decimal(self.random.choice(("1", "7", "12"))) + Decimal(self.count) / 10000 + Decimal("0.00001")
        self.mark(f"{made:f}")
        return made

    def mark(self, text: str) -> str:
        self.marks[self.current].add(text)
        return text


def _texts(value: Json) -> set[str]:
    if isinstance(value, dict):
        return {text for item in value.values() for text in _texts(item)}
    if isinstance(value, list):
        return {text for item in value for text in _texts(item)}
    return {str(value).removeprefix("urn:example:")}
