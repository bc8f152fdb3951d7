"""Plain resources to objects of fhir.resources and back, exact.

The library has no R4; the models of its R4B package are used, which differ in a few types only (MedicinalProduct,
Evidence and their like). Its own ``model_dump`` writes 4.10 as 4.1 and a time in another spelling; so the way back
here walks the objects itself: a ``Decimal`` keeps its digits, and a point in time keeps the text it was written in.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Mapping
from datetime import date, datetime, time
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, Any

from woundfhir.errors import InputError
from woundfhir.r4.definitions import elements, resource_types
from woundfhir.r4.times import without_leap

if TYPE_CHECKING:
    from fhir_core.fhirabstractmodel import FHIRAbstractModel

Json = Any
_NAME = re.compile(r"_?[A-Za-z][A-Za-z0-9]{0,63}")
_FIX = "Use the plain dicts of to_fhir for this resource, or correct the element"


class WrittenDateTime(datetime):
    """A point in time that keeps the text it was written in, with its own digits of seconds and offset.

    Examples
    --------
    >>> moment = WrittenDateTime.of("2026-03-02T15:05:00.120Z")
    >>> moment.hour, moment.written
    (15, '2026-03-02T15:05:00.120Z')
    >>> moment.replace(hour=16).written
    ''
    """

    #: The text; empty for one that was computed.
    written: str = ""

    @classmethod
    def of(cls, text: str) -> WrittenDateTime:
        """Return the point in time of an R4 dateTime with a clock time, or raise ``ValueError``.

        Python has no leap second: for :60, which R4 allows, it is the second before.
        """
        made = cls.fromisoformat(without_leap(text))
        made.written = text
        return made

    def __reduce_ex__(self, protocol: Any) -> Any:
        return (WrittenDateTime.of, (self.written,)) if self.written else super().__reduce_ex__(protocol)


@cache
def _model(kind: str) -> Any:
    from fhir.resources.R4B import get_fhir_model_class

    try:
        return get_fhir_model_class(kind)
    except (KeyError, ValueError):
        return None


def to_object(resource: Mapping[str, Json]) -> FHIRAbstractModel:
    """Return a resource as an object of ``fhir.resources.R4B``.

    Parameters
    ----------
    resource
        Plain dicts with exact decimals; it is not changed.

    Returns
    -------
    FHIRAbstractModel
        Decimals keep their digits, and a time with a clock is a ``WrittenDateTime``. For the text on the wire take
        ``from_object`` and ``woundfhir.r4.jsonio.encode``: the object's own ``model_dump_json`` drops trailing zeros.

    Raises
    ------
    InputError
        For a type that the library does not have, and where its model refuses an element. No value is repeated.

    Examples
    --------
    >>> size = {"value": Decimal("4.10"), "unit": "cm"}
    >>> plain = {"resourceType": "Observation", "status": "final", "code": {"text": "Length"}, "valueQuantity": size}
    >>> made = to_object(plain)
    >>> str(made.valueQuantity.value), from_object(made) == plain
    ('4.10', True)
    """
    from pydantic import ValidationError

    kind = str(resource.get("resourceType"))
    model = _model(kind) if kind in resource_types() else None
    if model is None:
        raise InputError("resourceType", "a resource type of R4 that fhir.resources.R4B has", _FIX)
    try:
        return model.model_validate(_with_times(resource, kind))  # type: ignore[no-any-return]
    except ValidationError as error:
        place = kind + "".join(_step(part) for part in error.errors(include_input=False)[0]["loc"] if part != "root")
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError):
        place = kind
    raise InputError(place, "an element that the model of fhir.resources takes", _FIX) from None


def _step(part: int | str) -> str:
    """One step of a path; a key that is no name of an element may be a client's value."""
    if isinstance(part, int):
        return f"[{part}]"
    return f".{part}" if _NAME.fullmatch(part) else ".?"


def _with_times(value: Json, kind: str) -> Json:
    """Return a copy in which each time with a clock is a ``WrittenDateTime``."""
    if isinstance(value, list):
        return [_with_times(item, kind) for item in value]
    if isinstance(value, str) and kind in ("dateTime", "instant") and "T" in value:
        try:
            return WrittenDateTime.of(value)
        except ValueError:
            return value  # for the model to refuse
    if not isinstance(value, Mapping):
        return value
    if kind in ("Resource", "DomainResource"):
        kind = value["resourceType"] if value.get("resourceType") in resource_types() else kind
    known = elements(kind)
    types = {name: known[name].type for name in value if name in known}
    made = {name: _with_times(item, types.get(name, "Element")) for name, item in value.items()}
    return _extension(made) if kind == "Extension" else made


def _extension(value: dict[str, Json]) -> Json:
    """Return an extension ready for its model, which has no field for the ``_valueString`` of a value that is missing.

    Such members are kept in the object's ``__dict__``, where copies and pickles keep them and ``from_object`` looks.
    """
    beside = {key: item for key, item in value.items() if key.startswith("_value")}
    if not beside:
        return value
    made = _model("Extension").model_validate({key: item for key, item in value.items() if key not in beside})
    element = _model("Element")
    made.__dict__.update({key: element.model_validate(item) for key, item in beside.items()})
    return made


def from_object(model: Any) -> dict[str, Json]:
    """Return an object of fhir.resources as plain dicts with exact decimals.

    Parameters
    ----------
    model
        A resource or a data type, made by ``to_object`` or by hand.

    Returns
    -------
    dict
        Members in R4's order. A time made by hand is written with its offset (``Z`` for UTC).

    Raises
    ------
    InputError
        For what is no such object.

    Examples
    --------
    >>> from fhir.resources.R4B.patient import Patient
    >>> from_object(Patient(birthDate="1948-03", active=True))
    {'resourceType': 'Patient', 'active': True, 'birthDate': '1948-03'}
    """
    if not hasattr(model, "elements_sequence"):
        raise InputError("resource", "plain dicts, or objects of fhir.resources", "Convert it first")
    kind = model.get_resource_type()
    out: dict[str, Json] = {"resourceType": kind} if kind in resource_types() else {}
    names = {field.alias or name: name for name, field in type(model).model_fields.items()}
    for element in model.elements_sequence():
        for key in (element, f"_{element}"):
            value = getattr(model, names[key]) if key in names else model.__dict__.get(key)
            if value is not None:
                out[key] = _plain(value)
    return out


def _plain(value: Json) -> Json:
    if isinstance(value, list):
        return [_plain(item) for item in value]
    if isinstance(value, datetime):
        return getattr(value, "written", "") or value.isoformat().replace("+00:00", "Z")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, Decimal):
        return int(value) if value.as_tuple().exponent == 0 else value
    if isinstance(value, bytes):
        return b64encode(value).decode()
    if value is None or isinstance(value, str | bool | int | float):
        return value
    return from_object(value) if hasattr(value, "elements_sequence") else str(value)
