"""What can be charted: concepts, answer lists, codes. Data in TOML and a strict loader; imports nothing of ours."""

from woundfhir.catalogue.base import BASE, PATHS
from woundfhir.catalogue.former import current
from woundfhir.catalogue.frame import Frame, FrameKey, Part, frame
from woundfhir.catalogue.load import GROUPS, Catalogue, catalogue
from woundfhir.catalogue.model import AnswerList, CatalogueError, Coding, Concept, Word

__all__ = [
    "BASE",
    "GROUPS",
    "PATHS",
    "AnswerList",
    "Catalogue",
    "CatalogueError",
    "Coding",
    "Concept",
    "Frame",
    "FrameKey",
    "Part",
    "Word",
    "catalogue",
    "current",
    "frame",
]
