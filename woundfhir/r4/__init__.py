"""A general library for HL7 FHIR R4 (4.0.1), on plain dicts with exact decimals.

JSON, XML and NDJSON in and out, the definitions of R4, the check of structure, and the safety of narratives.
Nothing here knows what the resources are about.
"""
