"""What the status codes of CDA say of a resource of R4.

ActStatus is HL7's v3 code system; the pairs follow HL7's C-CDA on FHIR guide as remembered, but for the codes of a
problem's status, which are C-CDA's own and stand here from memory.
"""

from __future__ import annotations

#: Act status -> Observation.status.
OBSERVATION = {
    "completed": "final", "active": "preliminary", "new": "registered", "held": "registered",
    "suspended": "registered", "aborted": "cancelled", "cancelled": "cancelled", "nullified": "entered-in-error",
    "obsolete": "entered-in-error",
}  # fmt: skip
#: Act status -> Procedure.status.
PROCEDURE = {
    "completed": "completed", "active": "in-progress", "new": "preparation", "held": "on-hold",
    "suspended": "on-hold", "aborted": "stopped", "cancelled": "not-done", "nullified": "entered-in-error",
    "obsolete": "entered-in-error",
}  # fmt: skip
#: Act status -> SupplyDelivery.status.
SUPPLY = {
    "completed": "completed", "active": "in-progress", "new": "in-progress", "aborted": "abandoned",
    "cancelled": "abandoned", "nullified": "entered-in-error", "obsolete": "entered-in-error",
}  # fmt: skip
#: Status of a concern -> clinical status of what it is about. One that is no longer tracked is not thereby over.
CONCERN = {"active": "active", "completed": "inactive", "aborted": "inactive", "suspended": "inactive"}
#: SNOMED CT code of a problem's or an allergy's status (C-CDA problem status; memory) -> clinical status.
PROBLEM = {"55561003": "active", "73425007": "inactive", "413322009": "resolved"}
#: SNOMED CT codes by which a negated problem or allergy says that there is none at all (C-CDA; memory).
NO_PROBLEM = frozenset(("55607006", "64572001", "404684003"))
NO_ALLERGY = frozenset(("419199007", "416098002", "414285001", "420134006", "418038007"))
#: Moods of what is to be done, or may be, or is wished (v3 ActMood): no facts.
PLANNED = frozenset(("INT", "RQO", "PRMS", "PRP", "ARQ", "APT", "GOL", "SLOT", "DEF", "EVN.CRT", "OPT", "PERM", "RSK"))
