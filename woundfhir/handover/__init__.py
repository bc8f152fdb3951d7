"""The history that travels: gathered, bundled, printed, sealed, received and compared."""

from woundfhir.handover.bundling import bundle

__all__ = ["bundle"]
