"""HL7 v2 messages (ORU^R01) as FHIR resources that remember where they stood."""
