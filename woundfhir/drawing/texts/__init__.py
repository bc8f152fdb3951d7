"""The words of drawings: one file a language, with named slots."""

from __future__ import annotations

from functools import partial

from woundfhir.texts import say as say_of

#: ``say("clock.title")``: the words under a key in the language that holds.
say = partial(say_of, "woundfhir.drawing")
