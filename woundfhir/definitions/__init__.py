"""Conformance resources made from the catalogue: ours, which ``profiles/`` holds, and the package of a site."""
