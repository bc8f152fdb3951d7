"""The FHIR document: a Composition, its sections and their narrative."""
