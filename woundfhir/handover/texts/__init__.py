"""The words of the sheet and of the document's narrative: one file a language, with named slots."""

from __future__ import annotations

from functools import partial

from woundfhir.texts import say as say_of

#: ``say("fact.pieces", number=2)``: the words under a key in the language that holds.
say = partial(say_of, "woundfhir.handover")
