"""One history that came in, made of decoded data or of FHIR resources, with what of it was not understood."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from woundfhir.errors import InputError
from woundfhir.fhir.fates import TO_LOOK_AT, kind_of
from woundfhir.record import History
from woundfhir.record.clients import CHOOSE

if TYPE_CHECKING:
    from woundfhir.fhir.losses import Losses
    from woundfhir.intake.resources import Part
    from woundfhir.r4.xmltree import Unknown

Json = Any

#: Why a computed value is kept: the record gives another.
DIFFERS = "a computed value that the record does not give: not used"


@dataclass(slots=True)
class Input:
    """One history that came in, where from, and what of it was not understood."""

    name: str
    history: History
    kind: str
    content: bytes = b""
    #: What became of every value of a FHIR input; None for a record on the command line.
    report: Losses | None = None
    #: False for what names no client, beside several.
    of_client: bool = True

    def __iter__(self) -> Iterator[Any]:
        """Yield history and report, so that it unpacks like the result of ``read``."""
        yield self.history
        yield self.report

    @property
    def losses(self) -> list[str]:
        """What of a FHIR input was not understood and a person must look at: a line each, made when it is asked for."""
        if self.report is None:
            return []
        from woundfhir.fhir.undefined import UNDEFINED

        return [*self.report.lines(), *(one.line for one in self.report.items if one.why in (DIFFERS, UNDEFINED))]

    @property
    def asks(self) -> bool:
        """Whether a person must look: something came that is no fact, or contradicts, or is not all there is."""
        return (self.report is not None and self.report.asks) or any(
            kind_of(item.get("why", "")) in TO_LOOK_AT for item in self.history.extra
        )

    @property
    def left_aside(self) -> bool:
        """Whether anything that came has no place in the record."""
        return bool(self.losses) or (self.report is not None and self.report.left_aside)


def only(found: Iterable[Input], where: str) -> Input:
    """Return the one history of an input that must be of one client.

    Raises
    ------
    InputError
        Says how many clients there are, and how to choose.
    """
    some = list(found)
    if len(some) == 1:
        return some[0]
    raise InputError(where, "the record of one client", CHOOSE, found=f"it holds the records of {len(some)} clients")


def from_data(data: Json, name: str, kind: str = "record") -> Input:
    """Return the history of decoded data: a record, a FHIR resource or a Bundle."""
    if isinstance(data, dict) and "resourceType" in data:
        return from_resources([data], name, "fhir-json")
    if not isinstance(data, dict):
        raise InputError(name, "one record: keys and values", "Start with `woundfhir: 1` and `patient:`")
    return Input(name, History.of(data, name), kind)


def from_resources(resources: list[dict[str, Json]], name: str, kind: str, undefined: Sequence[Unknown] = ()) -> Input:
    """Return the history that FHIR resources give; ``undefined`` is what stands in XML and R4 does not define."""
    from woundfhir.intake.resources import Part, read_plain

    with _placed(name):
        history, report = read_plain(resources)
    return _made(Part(history, report, []), name, kind, undefined)


def from_own_lines(content: bytes, name: str, kind: str) -> Input | None:
    """Return the history that lines of resources give which are to the byte what we write, else None."""
    from woundfhir.intake.own import read_own_lines
    from woundfhir.intake.resources import Part

    found = read_own_lines(content)
    return None if found is None else _made(Part(*found, []), name, kind, ())


def from_resources_many(
    resources: list[dict[str, Json]], name: str, kind: str, undefined: Sequence[Unknown] = ()
) -> Iterator[Input]:
    """Yield the history of each client of whom FHIR resources tell."""
    from woundfhir.intake.resources import from_fhir_many

    with _placed(name):
        parts = from_fhir_many(resources)
    if len(parts) == 1:
        yield _made(parts[0], name, kind, undefined)
        return
    for number, part in enumerate(parts, 1):
        last = number == len(parts)
        title = f"{name}, client {number}" if part.named else f"{name}, what names no client"
        form, content = _as_file(part)
        made = _made(part, title, form, undefined if last else ())
        made.content, made.of_client = content, part.named
        yield made


def _as_file(part: Part) -> tuple[str, bytes]:
    """Return the resources of one client as a file of their own: with their addresses, where they had some."""
    from woundfhir.r4 import jsonio, ndjson

    if not any(one.base for one in part.came):
        return "ndjson", ndjson.write(one.original for one in part.came)
    entries = [{**({"fullUrl": one.full_url} if one.full_url else {}), "resource": one.original} for one in part.came]
    return "fhir-json", jsonio.encode({"resourceType": "Bundle", "type": "collection", "entry": entries})


@contextmanager
def _placed(name: str) -> Iterator[None]:
    try:
        yield
    except InputError as error:
        raise error.at(name) from None


def _made(part: Part, name: str, kind: str, undefined: Sequence[Unknown]) -> Input:
    from woundfhir.fhir.undefined import keep_undefined

    history, report = part.history, part.losses
    history.source = name
    if wrong := _differing(history, report.computed):
        taken = [one._replace(all_of=("kept", DIFFERS)) if one.label in wrong else one for one in report.taken]
        report = replace(report, taken=taken)
    if undefined:
        report = replace(report, more=tuple(keep_undefined(history, undefined)))
    return Input(name, history, kind, report=report)


def _differing(history: History, came: tuple[Mapping[str, Json], ...]) -> set[str]:
    """Keep computed values that the record does not give, and say so: they are recomputed, never trusted."""
    if not came:
        return set()
    from woundfhir.intake.derived import differences
    from woundfhir.record.canonical import as_json

    wrong = differences(history, came)
    items = [{"from": f"Observation/{r.get('id', '')}", "why": DIFFERS, "value": as_json(dict(r))} for r in wrong]
    if items:
        history.keep(items)
    return {item["from"] for item in items}
