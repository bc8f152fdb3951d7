"""Why a resource that came is not read as a fact."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

#: Why something is kept and not read; the first words of its reason, by which reports sort it.
Kind = Literal["kept", "withdrawn", "negated", "not understood", "conflict"]


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a resource is not read as a fact."""

    kind: Kind
    why: str

    @property
    def words(self) -> str:
        """Both in one text, as it stands in the record."""
        return self.why if self.kind == "kept" else f"{self.kind}: {self.why}"


#: Of an earlier version of a resource whose newer one came too: nothing that is named means it.
SUPERSEDED = Reason("withdrawn", "a newer version of the same resource came too")
#: Of what only its place in a history Bundle shows to be an earlier version.
EARLIER = Reason("withdrawn", "an earlier version, in the history that it came in")
#: How every reason begins of a version of which none is the newest (`intake/contested.py`).
UNDER_ONE_ID = "came twice under one id"
#: Of what came with the resources of several clients, and says of no one of them a fact.
NOBODY = Reason("not understood", "names no client, and there are several here; not read as a fact of any")
CROSSED = Reason("conflict", "names what is another client's; not read as a fact of either")
#: Of what has an object, a list or a plain value where R4 has another of these.
MISSHAPEN = Reason("not understood", "an element holds another kind of value than FHIR R4 has there")
NO_TYPE = Reason("not understood", "a type of resource that FHIR R4 does not have")
#: Of what nothing can name: without a text it cannot go out as it came.
MISNAMED = Reason("not understood", "its id is no text")
#: Of what came in a document that is void (FHIR R4, CompositionStatus: "the entire series should not be considered").
VOID = Reason("withdrawn", "the document that it came in was entered in error")
#: Of what others that came take back, or of what replaces each other (``intake/replaced.py``).
REPLACED = Reason("withdrawn", "another resource that came says that it replaces it")
DELETED = Reason("withdrawn", "a Provenance says that it was deleted")
LOGGED = Reason("withdrawn", "an AuditEvent says that it was deleted")
NULLIFIED = Reason("withdrawn", "a Provenance says that it was made void")
CIRCLE = Reason("conflict", "it replaces what replaces it; neither is read as a fact")
#: Reasons that a resource itself does not show: alone it would be read as a fact, and so it is carried.
_UNSHOWN = frozenset((NOBODY.words, CROSSED.words, VOID.words, MISNAMED.words, EARLIER.words))
_TAKEN_BACK = frozenset(one.words for one in (REPLACED, DELETED, LOGGED, NULLIFIED, CIRCLE))
#: What facts of others hang on: what is about it must find it, and that it does not count.
_HUNG_ON = frozenset(("Patient", "Encounter"))


def shows(kind: str, why: str) -> bool:
    """Whether a resource of a type, alone, shows the reason why it is not read as a fact, or must stand by itself.

    Examples
    --------
    >>> shows("Observation", "withdrawn: status: entered in error"), shows("Observation", REPLACED.words)
    (True, False)
    """
    return why not in _UNSHOWN and (why not in _TAKEN_BACK or kind in _HUNG_ON)
