"""The words of sizes and their course: one file a language, with named slots."""

from __future__ import annotations

from functools import partial

from woundfhir.texts import say as say_of

#: ``say("why.gap", days=21)``: the words under a key in the language that holds.
say = partial(say_of, "woundfhir.measures")
