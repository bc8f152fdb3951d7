"""``woundfhir serve``: the checklist and the converters over HTTP, for another system."""

from __future__ import annotations

from pathlib import Path

import click

from woundfhir.cli import options

_TOKEN = """Who may ask: on this machine everybody who can reach the port, unless a token is set; from elsewhere only
    who sends Authorization: Bearer and the token in WOUNDFHIR_SERVE_TOKEN, or in the file that
    WOUNDFHIR_SERVE_TOKEN_FILE names."""


@click.command(epilog=" ".join(_TOKEN.split()))
@click.option("--host", default="127.0.0.1", show_default=True, help="Where to listen; elsewhere asks a token and TLS.")
@click.option("--port", type=click.IntRange(0, 65535), default=8460, show_default=True, help="0: any that is free.")
@click.option("--certificate", type=click.Path(path_type=Path), metavar="FILE", help="TLS: the certificate (PEM).")
@click.option("--key", type=click.Path(path_type=Path), metavar="FILE", help="TLS: its private key (PEM).")
@options.password
@click.option("--map", "maps", type=click.Path(), multiple=True, metavar="FILE|FOLDER", help="As of `convert`.")
@click.option("--policy", metavar="NAME|FILE", help="The numbers to judge by, as of `check`.")
@click.option("--checklist", "checklists", multiple=True, metavar="NAME|FILE", help="As of `check`.")
@click.option("--defaults", metavar="FILE", help="What never changes at your site, as of `check`.")
@click.option("--body", type=click.IntRange(1, 200), default=10, show_default=True, help="Largest request, in MB.")
@click.option("--seconds", type=click.IntRange(1), default=60, show_default=True, help="Longest answer.")
@click.option("--workers", type=click.IntRange(1, 64), default=2, show_default=True, help="Processes that work.")
@click.option("--waiting", type=click.IntRange(0), default=16, show_default=True, help="Requests that may wait.")
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
    """Answer another system over HTTP, until Ctrl-C. Nothing is stored, and nothing of a client is logged.

    \b
    woundfhir serve
    curl --data-binary @note.yaml -H 'Content-Type: application/yaml' 'http://127.0.0.1:8460/$validate'

    \b
    POST /$validate        notes judged by the checklist: an OperationOutcome
    POST /$convert         a record or FHIR (Content-Type) in another format (Accept)
    /cds-services          CDS Hooks 2.0: patient-view, encounter-discharge
    /metadata              CapabilityStatement
    /openapi.json          everything, for a program
    """
    from woundfhir.catalogue import catalogue
    from woundfhir.language import spoken
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
