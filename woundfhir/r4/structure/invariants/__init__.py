"""R4's own invariants, written by hand: one function each, in the file of what they are about."""

from woundfhir.r4.structure.invariants import bundles, clinical, datatypes, general
from woundfhir.r4.structure.invariants.registry import INVARIANTS, Invariant, broken

__all__ = ["INVARIANTS", "Invariant", "broken", "bundles", "clinical", "datatypes", "general"]
