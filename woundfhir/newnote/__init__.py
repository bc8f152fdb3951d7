"""A new note to fill in: just what this visit asks of this kind of wound, stable facts of the last note carried."""

from woundfhir.newnote.asked import asked_in, needed_fields
from woundfhir.newnote.carried import Carried, carry
from woundfhir.newnote.write import new_note

__all__ = ["Carried", "asked_in", "carry", "needed_fields", "new_note"]
