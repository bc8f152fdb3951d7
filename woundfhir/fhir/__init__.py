"""The wound in FHIR R4 (4.0.1): what is written and how it is read, side by side."""

from woundfhir.fhir.convert import build, to_fhir, to_models
from woundfhir.fhir.losses import Loss, Losses

__all__ = ["Loss", "Losses", "build", "to_fhir", "to_models"]
