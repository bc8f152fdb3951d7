"""What is the same in many resources: the addresses of definitions, ``meta``, codes, answers that come again."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any, Self, TypeVar

import msgspec

from woundfhir.catalogue import BASE, Catalogue, Coding, catalogue
from woundfhir.fhir.codecs import Codec, Reasons
from woundfhir.record.canonical import to_json

Json = Any
T = TypeVar("T")
CodeKey = tuple[str, str]
#: How many of the answers to one concept that come again and again are kept as they are written.
_KEPT = 1024


class FixedParts:
    """What of the catalogue is written in the same way again and again, made once.

    Parameters
    ----------
    encoded
        Whether what is the same in many resources (codes, ``meta``, answers that come again and again) is kept as JSON
        (``msgspec.Raw``) instead of as dicts: for bytes, which are then made without a walk through it.
    """

    def __init__(self, encoded: bool = False) -> None:
        self.catalogue: Catalogue = catalogue()
        self.encoded = encoded
        self._writers: dict[Callable[..., Json], Callable[[str], Json]] = {}
        self._metas: dict[tuple[str, str], Json] = {}
        self.reasons = Reasons(self.catalogue.answers["absent_reason"])

    def keeping(self, write: Callable[[Self, str], Json]) -> Callable[[str], Json]:
        """Return a writer of texts that come again and again: it writes each of them once."""
        found = self._writers.get(write)
        if found is None:
            found = self._writers[write] = lru_cache(_KEPT)(lambda text: self.fixed(write(self, text)))
        return found

    def ext(self, name: str, base: str = BASE) -> str:
        """URL of one of the project's own extensions, or of the site's whose base is given."""
        return f"{base}/StructureDefinition/{name}"

    def meta(self, profile: str, base: str = BASE) -> Json:
        """``meta`` that names one of the project's own profiles, or of the site's whose base is given."""
        found = self._metas.get((profile, base))
        if found is None:
            made = self.fixed({"profile": [f"{base}/StructureDefinition/{profile}"]})
            found = self._metas[profile, base] = made
        return found

    def fixed(self, value: Json) -> Json:
        """Return what stands in many resources as it is kept: as JSON, where bytes are made of it."""
        if not self.encoded or value is None or value.__class__ is str:
            return value
        if value.__class__ is tuple:  # a member: its name and its value
            return value[0], self.fixed(value[1])
        return msgspec.Raw(to_json(value))

    def once(self, codec: Codec, write: Callable[[Json], T]) -> Callable[[Json], T]:
        """Return a writer that writes a text once, where answers come again and again."""
        if not codec.recurs:
            return write
        known = lru_cache(_KEPT)(lambda text: self.fixed(write(text)))
        return lambda answer: known(answer) if answer.__class__ is str else write(answer)

    def coding(self, key: str) -> Coding:
        """One entry of the catalogue's table of codes."""
        return self.catalogue.codes[key]

    def code_key(self, key: str) -> CodeKey:
        """The (system, code) of one entry of the table of codes."""
        return self.catalogue.codes[key].key
