"""FHIR R4 resources to a history, with a list of what was not understood."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar, overload

from woundfhir.collector import resting
from woundfhir.errors import InputError
from woundfhir.fhir.came import Came
from woundfhir.fhir.convert import build
from woundfhir.fhir.keeping import collect
from woundfhir.fhir.losses import Losses
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.terms import Terms, terms
from woundfhir.intake.gather import Gathered, gather
from woundfhir.intake.own import read_own
from woundfhir.intake.parting import part
from woundfhir.intake.reading import Reading
from woundfhir.intake.result import ReadResult
from woundfhir.intake.subjects import SeveralClients
from woundfhir.language import ENGLISH, speaking
from woundfhir.r4.objects import from_object
from woundfhir.record import History
from woundfhir.record.answers import StructureError
from woundfhir.record.values import plain

if TYPE_CHECKING:
    from fhir_core.fhirabstractmodel import FHIRAbstractModel

Json = Any
Read = TypeVar("Read")
#: What breaks where an element holds the wrong kind of value.
_WRONG = (AttributeError, TypeError, KeyError, ValueError, IndexError)


@overload
def from_fhir(resources: Iterable[Mapping[str, Json]]) -> ReadResult: ...
@overload
def from_fhir(resources: Iterable[FHIRAbstractModel]) -> ReadResult: ...
@overload
def from_fhir(resources: Mapping[str, Json] | FHIRAbstractModel) -> ReadResult: ...
@resting()
@speaking(ENGLISH)
def from_fhir(resources: Any) -> ReadResult:
    """Return the history that FHIR R4 resources hold, and what of them has no place in it.

    Parameters
    ----------
    resources
        Resources or Bundles, or one of them: plain dicts, or objects of ``fhir.resources``. They are not changed, and
        what comes back shares nothing with them. A binary float is read in its shortest form; ``Decimal`` is exact.

    Returns
    -------
    ReadResult
        The history, with everything that was not understood kept verbatim under ``extra``; and the report: what, where
        and why. It unpacks into the two.

    Raises
    ------
    InputError
        When the resources belong to more than one client, and for what is no FHIR R4.

    Examples
    --------
    >>> came = {"resourceType": "Patient", "birthDate": "1948-03", "maritalStatus": {"text": "x"}}
    >>> history, report = from_fhir([came])
    >>> history.patient["born"], report.items[0].path
    ('1948-03', 'Patient.maritalStatus')
    """
    given = _listed(resources)
    return read_own(given) or read_any(_plain(given))


@resting()
@speaking(ENGLISH)
def read_plain(resources: list[dict[str, Json]]) -> ReadResult:
    """Do what ``from_fhir`` does with resources that are plain already, such as those of a file; they may be kept."""
    return read_own(resources) or read_any(resources)


@speaking(ENGLISH)
def read_any(resources: list[dict[str, Json]]) -> ReadResult:
    """Read resources of anybody: the way that decides, and the only one for what we did not write."""
    return gathered(_with_types(resources), lambda found: _read(found, terms()))


@resting()
@speaking(ENGLISH)
def from_fhir_many(resources: Iterable[Mapping[str, Json]]) -> list[Part]:
    """Return the history of each client of whom FHIR R4 resources tell; like ``from_fhir``.

    What names no client, where there are several, is a part without a client: kept, and read as no fact.

    Examples
    --------
    >>> came = [{"resourceType": "Patient", "id": name, "gender": "female"} for name in ("a", "b")]
    >>> [part.history.patient["sex"] for part in from_fhir_many(came)]
    ['female', 'female']
    """
    compiled, given = terms(), list(resources)
    if (own := read_own(given)) is not None:
        return [Part(*own, [])]
    return gathered(_with_types(given), lambda found: _parts(found, compiled))


def _parts(whole: Gathered, compiled: Terms) -> list[Part]:
    try:
        return [Part(*_read(whole, compiled), [])]
    except SeveralClients:
        found = part(whole, compiled)
    return [
        Part(*_read(one, compiled), [came for came in one.came if came.holder is None], named) for one, named in found
    ]


class Part(NamedTuple):
    """One client's part of what came.

    Parameters
    ----------
    history, losses
        As of ``from_fhir``.
    came
        The part itself, where there are several.
    named
        False for what names no client.
    """

    history: History
    losses: Losses
    came: list[Came]
    named: bool = True


def gathered(resources: list[dict[str, Json]], read: Callable[[Gathered], Read]) -> Read:
    """Read what is gathered of resources; what has the wrong kinds of values is looked for only where that broke it."""
    try:
        return read(gather(resources))
    except _WRONG:
        pass
    except InputError as error:
        if not isinstance(error.__context__, StructureError):
            raise
    try:
        return read(gather(resources, shaped=False))
    except _WRONG:
        raise InputError("FHIR", "FHIR R4 resources of the right structure", _CHECK) from None


def _listed(resources: Any) -> list[Any]:
    """Return what a program gives as a list: one resource or several."""
    many = [resources] if isinstance(resources, Mapping) or hasattr(resources, "elements_sequence") else resources
    text = isinstance(many, str | bytes | bytearray | memoryview) or hasattr(many, "read")
    if text or not isinstance(many, Iterable):
        raise InputError("FHIR", "resources as dicts, or objects of fhir.resources", "For text or a file take `read`")
    return list(many)


def _plain(resources: list[Any]) -> list[dict[str, Json]]:
    """Return resources, however a program holds them, as plain dicts of their own."""
    return [plain(one, "FHIR") if isinstance(one, Mapping) else from_object(one) for one in resources]


def _with_types(resources: list[Any]) -> list[Any]:
    """Return resources as they are; refuse them where none says what it is.

    One among others is set aside and named, as it is in a Bundle: the rest is read.
    """
    if resources and not any(isinstance(one.get("resourceType"), str) for one in resources):
        expected = "a FHIR resource with its resourceType, as one text"
        raise InputError("FHIR", expected, "Ask the sender for R4 resources")
    return resources


def _read(came: Gathered, compiled: Terms) -> ReadResult:
    source = ReadContext(came.came, compiled)
    reading = Reading(source)
    history = History(reading.data(), "FHIR")
    kept = collect(source, history, build, reading.belonging.named, came.entries)
    report = kept.report(reading.inferred, reading.spotted.computed, came.notices, came.twice, came.envelopes)
    return ReadResult(history, report)


_CHECK = "Check them with a FHIR validator; an element holds the wrong kind of value"


__all__ = ["Part", "from_fhir", "from_fhir_many", "read_plain"]
