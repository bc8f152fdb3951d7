"""What is to the letter what we write: read by the places that our identifiers name.

Nothing in it need be judged or looked for. The proof is in the writing: the record is written again, and where one byte
differs, all of it is read as what others send is read. So this can accept too little, and nothing wrong.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Any

import msgspec

from woundfhir.errors import InputError
from woundfhir.fhir.came import Came, Resource
from woundfhir.fhir.convert import build
from woundfhir.fhir.ids import escape, unescape, uuid5
from woundfhir.fhir.keeping import Keeping
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.resources import patient
from woundfhir.fhir.terms import Terms
from woundfhir.fhir.write_context import strong_namespace, urn
from woundfhir.intake.belonging import Belonging
from woundfhir.intake.counting import verdict
from woundfhir.intake.reading import Reading
from woundfhir.intake.result import ReadResult
from woundfhir.maps import in_force, shipped
from woundfhir.maps.apply import applied, codes_in
from woundfhir.record import History

Json = Any
Path = tuple[Any, ...]
_encode = msgspec.json.Encoder(decimal_format="number").encode
_decode = msgspec.json.decode
#: Types that say in a status more than whether they count.
_WITH_STATES = ("AllergyIntolerance", "Condition")
_OTHERS = (AttributeError, TypeError, KeyError, ValueError, IndexError, InputError, RecursionError)


class _NotOurs(ValueError):
    """Something of it is not as we write it."""


def read_own(resources: list[Any], terms: Terms) -> ReadResult | None:
    """Return what resources say that are to the letter what we write; None where they are not.

    They are not changed, and what comes back shares nothing with them.
    """
    clients = [one for one in resources if isinstance(one, dict) and one.get("resourceType") == "Patient"]
    if len(clients) != 1 or in_force() is not shipped():  # a site's map may read our codes as something else
        return None
    try:
        return _read(resources, clients[0], terms) if terms.is_ours(clients[0]) else None
    except _OTHERS:
        return None


def _read(resources: list[Resource], client: Resource, terms: Terms) -> ReadResult | None:
    alone = len(resources) == 1
    came = [Came(one, one, at="" if alone else f"[{number}]") for number, one in enumerate(resources)]
    for one in came:
        if one.original["resourceType"] in _WITH_STATES:
            one.states = verdict(one.original).states
    source = ReadContext(came, terms)
    reading = _Reading(source, client)
    # Written anew, so that nothing of it is a caller's.
    history = History(_decode(_encode(reading.data())), "FHIR")
    if source.reasons or reading.inferred or reading.belonging.named or any(one.left for one in came):
        return None
    keeping = Keeping(source, history, build)
    texts = [_encode(one) for one in resources]
    if texts != [_encode(one) for one in keeping.out.resources]:
        return None
    for one, text in zip(came, texts, strict=True):
        one.mapped = _Lost(text)
    keeping.said_all()
    return ReadResult(history, keeping.report([], [], [], [], []))


class _Lost(Mapping[Path, str]):
    """The codes of a resource that a map decides too, with what was lost: worked out when a report asks."""

    def __init__(self, text: bytes) -> None:
        self.text = text

    @cached_property
    def _found(self) -> dict[Path, str]:
        if not codes_in(self.text, shipped()):
            return {}
        return {one.path: one.mapping.loss or "" for one in applied(_decode(self.text), shipped())[1]}

    def __getitem__(self, path: Path) -> str:
        return self._found[path]

    def __iter__(self) -> Iterator[Path]:
        return iter(self._found)

    def __len__(self) -> int:
        return len(self._found)


class _Reading(Reading):
    """A reading in which the one client, and the place of everything, are named by us."""

    def __init__(self, source: ReadContext, client: Resource) -> None:
        super().__init__(source, _Places(source))
        self.client = client

    def _read_client(self) -> None:
        self.patient, self.zone = patient.read_patient(self.source, self.client)
        space = strong_namespace(self.patient)
        if space is None or self.client["id"] != uuid5(space, "Patient/patient"):
            raise _NotOurs
        self.source.system = urn(space)


class _Places(Belonging):
    """Where everything belongs, by its place alone."""

    def __init__(self, source: ReadContext) -> None:
        super().__init__(source)
        self._by_name: dict[str, dict[str, Json]] = {}

    def spot(self, resource: Resource, exclusive: bool, client: bool) -> RecordPlace | None:
        """Return the place that a resource names."""
        name, _, rest = (self.source.place(resource) or "").partition("/")
        visit = self._by_name.get(name)
        if visit is None:
            self._by_name.update({escape(one["id"]): one for one in self.visits})
            visit = self._by_name[name]
        return RecordPlace(visit, visit, name) if client else self.at(visit, unescape(rest.partition("/")[0]))
