"""A FHIR server: a record is sent to it, amended there, and fetched from it again."""
