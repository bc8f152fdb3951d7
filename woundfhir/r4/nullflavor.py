"""HL7 v3 NullFlavor, and the reason of R4 that each of its codes is."""

from __future__ import annotations

ABSENT = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
NULL_FLAVOR = "http://terminology.hl7.org/CodeSystem/v3-NullFlavor"
#: HL7 v3 NullFlavor -> data-absent-reason (R4's own concept map cm-data-absent-reason-v3; from memory).
REASONS = {
    "UNK": "unknown",
    "ASKU": "asked-unknown",
    "NAV": "temp-unknown",
    "NASK": "not-asked",
    "MSK": "masked",
    "NA": "not-applicable",
    "NINF": "negative-infinity",
    "PINF": "positive-infinity",
}
