"""What the generated typed models are made of: their base, and texts that give their number or their moment.

A record is text through and through, as it was written; these classes are that text, and read it on request.
"""

from __future__ import annotations

import datetime as _datetime
from decimal import Decimal
from typing import Annotated, Any, Self

from pydantic import BaseModel, ConfigDict, GetCoreSchemaHandler, StringConstraints
from pydantic_core import CoreSchema, core_schema

from woundfhir.record import dates, quantity
from woundfhir.record.answers import TEXT_PATTERN

Json = Any
#: Something visible, and nothing that FHIR and XML cannot carry.
Text = Annotated[str, StringConstraints(min_length=1, pattern=TEXT_PATTERN)]


class WrittenText(str):
    """A text as it was written; equal to the plain text."""

    __slots__ = ()

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        written = core_schema.str_schema(min_length=1, pattern=TEXT_PATTERN)
        return core_schema.no_info_after_validator_function(cls, written)


class QuantityText(WrittenText):
    """A quantity as it was written: ``4.10 cm``.

    Examples
    --------
    >>> length = QuantityText("<4.10 cm")
    >>> length.comparator, length.number, length.unit, length == "<4.10 cm"
    ('<', Decimal('4.10'), 'cm', True)
    >>> QuantityText("two fingers").number is None
    True
    """

    __slots__ = ()

    @property
    def number(self) -> Decimal | None:
        """The number with all its digits; None for other words."""
        found = quantity.parse(str(self))
        return found.value if found else None

    @property
    def unit(self) -> str | None:
        """The unit as it was written; None where there is none, and for other words."""
        found = quantity.parse(str(self))
        return found.unit if found else None

    @property
    def comparator(self) -> str | None:
        """One of < <= > >=, or None."""
        found = quantity.parse(str(self))
        return found.comparator if found else None


class CountText(QuantityText):
    """A count or a score as it was written: ``3``."""

    __slots__ = ()


class ClockText(WrittenText):
    """A position on the clock face as it was written; 12 is towards the head.

    Examples
    --------
    >>> ClockText("6").hour, ClockText("at the heel").hour
    (6, None)
    """

    __slots__ = ()

    @property
    def hour(self) -> int | None:
        """The hour, 1 to 12; None for other words."""
        return int(self) if self.isascii() and self.isdigit() and 1 <= int(self) <= 12 else None


class DateText(WrittenText):
    """A date, partial date or point in time as it was written.

    Examples
    --------
    >>> at = DateText("2026-03-02T10:05:00-05:00")
    >>> at.date, at.datetime.hour
    (datetime.date(2026, 3, 2), 10)
    >>> DateText("2026-03").date is None, DateText("2026-03").datetime is None, DateText("last spring").date is None
    (True, True, True)
    """

    __slots__ = ()

    @property
    def date(self) -> _datetime.date | None:
        """The calendar day as written; None for a partial date and for other words."""
        return dates.day(str(self))

    @property
    def datetime(self) -> _datetime.datetime | None:
        """The point in time, with the offset that is written, or none; None where no clock time is written."""
        return dates.moment(str(self)) if dates.has_clock(self) else None


class RecordModel(BaseModel):
    """Base of the typed models: a key that is not in the catalogue is refused, and nothing can be changed in place."""

    model_config = ConfigDict(extra="forbid", frozen=True, hide_input_in_errors=True)

    def plain(self) -> dict[str, Json]:
        """Return the same as plain data, as ``History.of`` takes it and ``History.data`` holds it."""
        named = {field.serialization_alias or name: name for name, field in type(self).model_fields.items()}
        found = {key: getattr(self, name) for key, name in named.items()}
        return {key: _plain(value) for key, value in found.items() if value is not None}

    @classmethod
    def of(cls, raw: Json) -> Self:
        """Return the model of canonical data."""
        return cls.model_validate(raw)


def _plain(value: Json) -> Json:
    if isinstance(value, RecordModel):
        return value.plain()
    if isinstance(value, list):
        return [_plain(item) for item in value]
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    return str(value) if isinstance(value, str) else value
