"""What a server can do, as its CapabilityStatement says (HL7 FHIR R4, capabilitystatement)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from woundfhir.errors import InputError
from woundfhir.server.answers import refused
from woundfhir.server.connection import Connection

Json = Any
_FIX = "Ask who keeps the server, or name another one"


@dataclass(frozen=True, slots=True)
class TypeCan:
    """What a server does with one resource type."""

    interactions: frozenset[str] = frozenset()
    searches: frozenset[str] = frozenset()
    conditional_create: bool = False
    #: None where the statement says nothing.
    update_create: bool | None = None

    @property
    def by_client(self) -> str | None:
        """The search parameter that names the client."""
        return next((name for name in ("patient", "subject") if name in self.searches), None)


@dataclass(frozen=True)
class Capability:
    """What a server can do."""

    transaction: bool
    everything: bool
    software: str
    types: Mapping[str, TypeCan] = field(default_factory=dict)

    def of(self, kind: str) -> TypeCan:
        """Return what it does with a type; with one that it does not name, nothing."""
        return self.types.get(kind, TypeCan())

    def lacks(self, kinds: Iterable[str]) -> list[str]:
        """Return in words what it cannot do of what sending these types needs: reported before anything is sent."""
        made = [] if self.transaction else ["it takes no transaction"]
        for kind in sorted(set(kinds)):
            can = self.of(kind)
            if not can.interactions & {"create", "update"}:
                made.append(f"it does not store {kind}")
            elif "identifier" not in can.searches and not can.by_client and can.update_create is False:
                made.append(
                    f"it cannot find a {kind} again, and takes none under our id: sending twice would double it"
                )
        return made


def capability(server: Connection) -> Capability:
    """Ask a server what it can do.

    Raises
    ------
    InputError
        When it does not say so, or serves another version of FHIR.
    """
    answer = server.get("metadata")
    if answer.status != 200:
        raise refused(answer, "the server's CapabilityStatement")
    said = answer.resource("the server's CapabilityStatement")
    if said.get("resourceType") != "CapabilityStatement":
        raise InputError("the server", "a CapabilityStatement under /metadata", "Check the address")
    if not str(said.get("fhirVersion", "")).startswith("4.0"):
        raise InputError("the server", "FHIR R4 (4.0.1)", _FIX, found="it serves another version")
    rest = next((one for one in said.get("rest") or () if one.get("mode") == "server"), None)
    if rest is None:
        raise InputError("the server", "a CapabilityStatement that says what it serves (rest)", _FIX)
    types = {str(one.get("type")): _can(one) for one in rest.get("resource") or ()}
    operations = [one.get("name") for one in rest.get("operation") or ()]
    client: Mapping[str, Json] = next((one for one in rest.get("resource") or () if one.get("type") == "Patient"), {})
    operations += [one.get("name") for one in client.get("operation") or ()]
    software = said.get("software") or {}
    return Capability(
        any(one.get("code") == "transaction" for one in rest.get("interaction") or ()),
        any(str(name).lstrip("$") in ("everything", "patient-everything") for name in operations),
        " ".join(str(software[key]) for key in ("name", "version") if key in software),
        types,
    )


def _can(said: Mapping[str, Json]) -> TypeCan:
    return TypeCan(
        frozenset(str(one.get("code")) for one in said.get("interaction") or ()),
        frozenset(str(one.get("name")) for one in said.get("searchParam") or ()),
        said.get("conditionalCreate") is True,
        said.get("updateCreate"),
    )
