"""``--terminology``: a terminology server is asked about the codes that came, after everything else is done."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

import click

from woundfhir.cli import options

if TYPE_CHECKING:
    from woundfhir.fhir.losses import Losses
    from woundfhir.server.terminology import Terminology

_F = TypeVar("_F", bound=Callable[..., Any])


def _checked(ctx: click.Context, _: click.Parameter, url: str | None) -> str | None:
    """Refuse an address that is not safe before anything is read or written."""
    if url is not None:
        from woundfhir.server.connection import base_of

        base_of(url)
    return url


def terminology(command: _F) -> _F:
    """Give a verb the option."""
    return click.option("--terminology", metavar="URL", callback=_checked)(command)


@contextmanager
def asking(url: str) -> Iterator[Terminology]:
    """Yield the server at an address."""
    from woundfhir.server.terminology import at

    server = at(url, options.say)
    try:
        yield server
    finally:
        server.close()


def look_up(url: str | None, reports: Iterable[Losses | None]) -> None:
    """Write what the server says of the codes that came; nothing where no server is named."""
    if url is None:
        return
    from woundfhir.server.looked_up import of_reports

    with asking(url) as server:
        for line in of_reports([one for one in reports if one is not None], server):
            options.say(line)
