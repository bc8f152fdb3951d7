"""What a service was started with, and hands to each of its workers."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass


@dataclass(frozen=True, slots=True)
class Setup:
    """Names of files and of built-in tables, as the options of the command line give them.

    Attributes
    ----------
    site
        The folder of a site.
    maps
        Maps that hold beside it.
    language
        Of what people read.
    policy, checklists, defaults
        As of ``check``; None or empty: those of the site, else the standard ones.
    """

    site: str | None = None
    maps: tuple[str, ...] = ()
    language: str = "en"
    policy: str | None = None
    checklists: tuple[str, ...] = ()
    defaults: str | None = None

    def json(self) -> bytes:
        """Return it as text for another process."""
        return json.dumps(asdict(self)).encode()

    @classmethod
    def of_json(cls, content: bytes) -> Setup:
        """Return what ``json`` wrote.

        Examples
        --------
        >>> made = Setup(maps=("a",), policy="ontario")
        >>> Setup.of_json(made.json()) == made
        True
        """
        found = json.loads(content)
        return cls(**{**found, "maps": tuple(found["maps"]), "checklists": tuple(found["checklists"])})
