"""The official HL7 validation engine, driven from Python, judges what the project writes."""
