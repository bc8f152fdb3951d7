"""What holds on this machine while it works, and has to hold on every other one: site, maps, language."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Setting:
    """What each process that works is to know.

    Parameters
    ----------
    site
        A folder with ``site.toml``. Every machine must find it under this name (``spark-submit --archives``).
    maps
        Files of maps, in the same way.
    language
        The language of what people read, such as ``fr``.

    Examples
    --------
    >>> Setting(language="fr").maps
    ()
    """

    site: str | None = None
    maps: tuple[str, ...] = ()
    language: str | None = None

    def hold(self) -> None:
        """Let it hold in this process, which Spark uses for several tasks, until another one is to hold."""
        global _held, _stack
        if self == _held:
            return
        _stack.close()
        _held, _stack = NOTHING, ExitStack()
        if self.site is not None:
            from woundfhir.site import Site

            _stack.enter_context(Site(self.site))
        if self.maps:
            from woundfhir.intake.mapped import using

            _stack.enter_context(using(self.maps))
        if self.language:
            from woundfhir.language import speaking

            _stack.enter_context(speaking(self.language))
        _held = self


#: What came with woundfhir, and nothing else.
NOTHING = Setting()
_held = NOTHING
_stack = ExitStack()
