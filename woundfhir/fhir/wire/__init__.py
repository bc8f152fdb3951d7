"""The wire: FHIR R4 as exact JSON, XML and NDJSON, and what a file is by its content."""
