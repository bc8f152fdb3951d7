"""The narrative of a resource, all that is known about it.

``build`` makes one from plain words, ``check`` says what R4 admits in one (txt-1, txt-2), ``acting`` finds what would
run or load something, ``xhtml`` carries one between JSON, where it is a string, and XML, where it is an element.
"""

from woundfhir.r4.narrative.build import element, narrative, table
from woundfhir.r4.safexml import XHTML

__all__ = ["XHTML", "element", "narrative", "table"]
