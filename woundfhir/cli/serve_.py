"""``woundfhir serve``: the checklist and the converters over HTTP, for another system."""

from __future__ import annotations

from pathlib import Path

import click

from woundfhir.cli import options
from woundfhir.extras import need


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option("--port", type=click.IntRange(0, 65535), default=8460, show_default=True)
@click.option("--certificate", type=click.Path(path_type=Path), metavar="FILE")
@click.option("--key", type=click.Path(path_type=Path), metavar="FILE")
@options.password
@click.option("--map", "maps", type=click.Path(), multiple=True, metavar="FILE|FOLDER")
@click.option("--policy", metavar="NAME|FILE")
@click.option("--checklist", "checklists", multiple=True, metavar="NAME|FILE")
@click.option("--defaults", metavar="FILE")
@click.option("--body", type=click.IntRange(1, 200), default=10, show_default=True)
@click.option("--seconds", type=click.IntRange(1, 3600), default=60, show_default=True)
@click.option("--workers", type=click.IntRange(1, 64), default=2, show_default=True)
@click.option("--waiting", type=click.IntRange(0), default=16, show_default=True)
def command(
    host: str,
    port: int,
    certificate: Path | None,
    key: Path | None,
    password_file: Path | None,
    maps: tuple[str, ...],
    policy: str | None,
    checklists: tuple[str, ...],
    defaults: str | None,
    body: int,
    seconds: int,
    workers: int,
    waiting: int,
) -> None:
    """Answer another system over HTTP, until Ctrl-C. Nothing is stored, and nothing of a client is logged."""
    from woundfhir.catalogue import catalogue
    from woundfhir.language import spoken

    need("server", "serve")
    from woundfhir.service.app import service
    from woundfhir.service.jobs import check_setup
    from woundfhir.service.setup import Setup
    from woundfhir.web.guard import Limits
    from woundfhir.web.listen import listen, place

    site = catalogue().site
    setup = Setup(None if site is None else str(site.folder), maps, spoken().tag, policy, checklists, defaults)
    check_setup(setup)
    found = place(host, port, certificate, key, password_file)
    limits = Limits(body * 1024 * 1024, float(seconds), workers + waiting)
    listen(service(setup, found, limits, workers, options.say), found, options.say)
