"""Builds the conformance resources of ``profiles/`` from the catalogue; see ``tools/build_profiles.py``."""
