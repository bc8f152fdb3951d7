"""The plain record that a nurse or a source system writes, in JSON, YAML and CSV."""

from woundfhir.record.history import History

__all__ = ["History"]
