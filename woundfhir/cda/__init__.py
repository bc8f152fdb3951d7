"""HL7 CDA R2 documents, as C-CDA shapes them, as FHIR resources that remember where they stood."""
