"""A site's folder: its own words, data elements, labels, maps, policy, checklist and defaults, without code."""

from woundfhir.site.folder import Site

__all__ = ["Site"]
