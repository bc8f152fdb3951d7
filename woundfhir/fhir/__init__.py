"""The wire: the only folder that knows FHIR R4 (4.0.1)."""

from woundfhir.fhir.convert import build, from_fhir, to_fhir
from woundfhir.fhir.losses import Loss, Losses

__all__ = ["Loss", "Losses", "build", "from_fhir", "to_fhir"]
