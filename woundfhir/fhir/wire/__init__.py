"""Bytes to plain dicts and back: JSON, XML, NDJSON of FHIR R4 (4.0.1), exact in what is said."""
