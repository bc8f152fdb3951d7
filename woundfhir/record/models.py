"""The record as pydantic models: a typed, checked view of the canonical form.

The models stand beside the hot path, not in it: the converters work on the plain canonical data, and
``History.record`` checks a copy. Answers to catalogue concepts are kept as they stand in the record and
are held against the schema of their group.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, StringConstraints, model_validator

from woundfhir.catalogue import Concept, catalogue
from woundfhir.record import answers
from woundfhir.record.quantity import Quantity, parse

Text = Annotated[str, StringConstraints(min_length=1, pattern=answers.TEXT_PATTERN)]


class _Model(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, hide_input_in_errors=True)


class Absent(_Model):
    """Said not to be there: the reason."""

    absent: Text


class NoneKnown(_Model):
    """Asked, and there is none."""

    none: Literal["known"]


@cache
def _validator(group: str, note: bool) -> Any:
    from jsonschema import Draft202012Validator

    fields: dict[str, Any] = {key: answers.schema(concept) for key, concept in catalogue().groups[group].items()}
    if note:
        fields["note"] = {"$ref": "#/$defs/leaf"}
    return Draft202012Validator(
        {
            "type": "object",
            "properties": fields,
            "additionalProperties": False,
            "$defs": {"leaf": {"type": "string", "pattern": answers.TEXT_PATTERN}, "absent": answers.ABSENT_SCHEMA},
        }
    )


def _checked(group: str, value: Mapping[str, Any], note: bool = False) -> None:
    error = next(_validator(group, note).iter_errors(dict(value)), None)
    if error is not None:
        place = ".".join(str(part) for part in error.absolute_path)
        raise ValueError(f"{group}{'.' + place if place else ''} does not have the form of its concept")
    if _canonical(value, {**catalogue().groups[group]}) != dict(value):
        raise ValueError(f"{group} is not in canonical form")


def _canonical(value: Mapping[str, Any], concepts: Mapping[str, Concept]) -> dict[str, Any]:
    out = {}
    for key, found in value.items():
        out[key] = found if key == "note" else answers.canonical(concepts[key], found, None, lambda path, v: None)
    return out


def _group(name: str, note: bool = False) -> AfterValidator:
    def check(value: dict[str, Any]) -> dict[str, Any]:
        _checked(name, value, note)
        return value

    return AfterValidator(check)


ClientAnswers = Annotated[dict[str, Any], _group("client")]
AssessmentAnswers = Annotated[dict[str, Any], _group("assessment")]
CareAnswers = Annotated[dict[str, Any], _group("care")]
PlanAnswers = Annotated[dict[str, Any], _group("plan", note=True)]
Supply = Annotated[dict[str, Any], _group("supply")]
Photo = Annotated[dict[str, Any], _group("photo")]


class Identifier(_Model):
    """A business identifier: always system and value."""

    system: Text | None = None
    value: Text | None = None


class Name(_Model):
    """A name in its parts, or as one text."""

    family: Text | None = None
    given: list[Text] | None = None
    text: Text | None = None


class Allergy(_Model):
    """What the client does not tolerate."""

    to: Text | None = None
    reaction: Text | None = None
    status: Text | None = None
    note: Text | None = None


class Contact(_Model):
    """Who to call."""

    name: Text | None = None
    role: Text | None = None
    phone: Text | None = None


class Patient(_Model):
    """The client."""

    identifiers: list[Identifier] | None = None
    name: Name | None = None
    born: Text | None = None
    sex: Text | None = None
    allergies: list[Allergy] | NoneKnown | Absent | None = None
    conditions: list[Text] | NoneKnown | Absent | None = None
    contact: Contact | None = None
    note: Text | None = None


class Author(_Model):
    """Who gave the care and wrote the note."""

    id: Text | None = None
    name: Text | None = None
    designation: Text | None = None
    organisation: Text | None = None


class _WithAnswers(_Model):
    """A model that also holds the answers of one group of the catalogue, as extra fields."""

    model_config = ConfigDict(extra="allow", frozen=True, hide_input_in_errors=True)

    @property
    def answers(self) -> dict[str, Any]:
        """The answers, by concept key."""
        return dict(self.__pydantic_extra__ or {})

    def quantity(self, key: str) -> Quantity | None:
        """Return an answer as a quantity, or None where it is none."""
        return parse(self.answers.get(key))


class Wound(_WithAnswers):
    """One wound."""

    id: Text
    status: Literal["open", "closed", "entered in error"] | None = None
    note: Text | None = None

    @model_validator(mode="after")
    def _answers(self) -> Wound:
        _checked("wound", self.answers)
        return self


class Entry(_Model):
    """What was seen and done for one wound at one visit."""

    wound: Text
    assessment: AssessmentAnswers | None = None
    care: CareAnswers | None = None
    supplies: list[Supply] | None = None
    plan: PlanAnswers | None = None
    photos: list[Photo] | None = None
    note: Text | None = None


class Visit(_WithAnswers):
    """One visit, one note."""

    id: Text
    at: Text | None = None
    written: Text | None = None
    by: Author | None = None
    status: Literal["draft", "final", "amended", "entered in error"] | None = None
    replaces: Text | None = None
    replaces_reason: Text | None = None
    client: ClientAnswers | None = None
    wounds: list[Entry] | None = None
    note: Text | None = None

    @model_validator(mode="after")
    def _answers(self) -> Visit:
        _checked("visit", self.answers)
        return self


class Record(_Model):
    """The whole record of one client.

    Examples
    --------
    >>> Record.model_validate({"woundfhir": 1, "patient": {"born": "1948-03"}, "wounds": [], "visits": []}).patient.born
    '1948-03'
    """

    woundfhir: Literal[1]
    zone: Text | None = None
    patient: Patient
    wounds: list[Wound]
    visits: list[Visit]
    extra: list[dict[str, Text]] | None = None
