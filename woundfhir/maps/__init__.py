"""Maps: what codes of other systems mean here. Data that a site can edit, in TSV (SSSOM) and as FHIR ConceptMap."""

from woundfhir.maps.model import LOST, NEVER, SILENT, CodeMap, Equivalence, Mapping, Target
from woundfhir.maps.table import SUFFIXES, Table, in_force, is_map, load, parse, shipped, using

__all__ = [
    "LOST",
    "NEVER",
    "SILENT",
    "SUFFIXES",
    "CodeMap",
    "Equivalence",
    "Mapping",
    "Table",
    "Target",
    "in_force",
    "is_map",
    "load",
    "parse",
    "shipped",
    "using",
]
