"""A wound history for the next team: selected, bundled, printed, signed, received and compared."""

from woundfhir.handover.bundling import bundle

__all__ = ["bundle"]
