"""Many clients' notes together: how many are complete, what is missing, which safety prompts were answered."""

from woundfhir.audit.count import Audit, Count

__all__ = ["Audit", "Count"]
