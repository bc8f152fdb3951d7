"""What can be charted: concepts, answer lists, codes. Data in TOML and a strict loader; imports nothing of ours."""

from woundfhir.catalogue.base import BASE, PATHS
from woundfhir.catalogue.coding import Coding
from woundfhir.catalogue.former import current
from woundfhir.catalogue.frame import ENTRY_GROUPS, ENTRY_LISTS, Frame, FrameKey, Part, frame
from woundfhir.catalogue.in_force import catalogue, holding, per_catalogue
from woundfhir.catalogue.load import load
from woundfhir.catalogue.model import AnswerList, CatalogueError, Concept, Word
from woundfhir.catalogue.reader import GROUPS
from woundfhir.catalogue.site import Additions, Labels, SiteFacts
from woundfhir.catalogue.whole import Catalogue

__all__ = [
    "BASE",
    "ENTRY_GROUPS",
    "ENTRY_LISTS",
    "GROUPS",
    "PATHS",
    "Additions",
    "AnswerList",
    "Catalogue",
    "CatalogueError",
    "Coding",
    "Concept",
    "Frame",
    "FrameKey",
    "Labels",
    "Part",
    "SiteFacts",
    "Word",
    "catalogue",
    "current",
    "frame",
    "holding",
    "load",
    "per_catalogue",
]
