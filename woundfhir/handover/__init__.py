"""A wound history for the next team: selected, bundled, printed, signed, received and compared."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from woundfhir.handover.bundling import bundle

__all__ = ["bundle"]


def __getattr__(name: str) -> object:
    """Load the builder of documents where it is asked for: who prints a sheet or shows a page does not need it."""
    if name == "bundle":
        from woundfhir.handover.bundling import bundle

        return bundle
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
