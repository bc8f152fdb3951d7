"""``woundfhir page``: the nurse's page on her own machine."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from woundfhir.cli import options
from woundfhir.cli.texts import words
from woundfhir.extras import need

if TYPE_CHECKING:
    from woundfhir.jose.keys import Key
    from woundfhir.page.state import Keys

_KEY = click.Path(path_type=Path)


@click.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path), default=Path(), metavar="[FOLDER]")
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option("--port", type=click.IntRange(0, 65535), default=0, show_default=True)
@click.option("--certificate", type=click.Path(path_type=Path), metavar="FILE")
@click.option("--key", type=click.Path(path_type=Path), metavar="FILE")
@options.password
@click.option("--sign", type=_KEY, metavar="KEY")
@click.option("--sign-password-file", type=_KEY, metavar="FILE")
@click.option("--encrypt-for", type=_KEY, metavar="KEY")
@click.option("--verify-key", type=_KEY, metavar="KEY")
@click.option("--open-with", type=_KEY, metavar="KEY")
def command(
    folder: Path,
    host: str,
    port: int,
    certificate: Path | None,
    key: Path | None,
    password_file: Path | None,
    **keys: Path | None,
) -> None:
    """Chart visits on a page."""
    need("page", "page")
    from woundfhir.page.app import application
    from woundfhir.page.folder import Folder
    from woundfhir.page.state import Page, new_code
    from woundfhir.web.listen import Place, is_loopback, listen, place

    page = Page(Folder(folder), keys=_keys(keys))
    if is_loopback(host):
        where = Place(host, port, page.secret, certificate, key, password_file)
    else:
        page.code, page.printed = new_code(), _next_code
        where = place(host, port, certificate, key, password_file, {"WOUNDFHIR_SERVE_TOKEN": page.secret})

    def say(line: str) -> None:
        address = next((part for part in line.split() if part.startswith("http")), line)
        options.say(words("page.open", address=f"{address}/open?t={page.once}"))
        if page.code is not None:
            options.say(words("page.pair", address=f"{address}/pair", code=_apart(page.code)))

    listen(application(page, hosts=where.hosts, secure=where.secure), where, say)


def _next_code(code: str) -> None:
    options.say(f"A device was let in. The next one writes {_apart(code)}.")


def _apart(code: str) -> str:
    return f"{code[:4]} {code[4:]}"


def _keys(given: Mapping[str, Path | None]) -> Keys:
    """The keys in the files; one that cannot be read is one message before anything listens."""
    from woundfhir.page.state import Keys

    def read(name: str, password: str = "") -> Key | None:
        path = given[name]
        return None if path is None else options.key(path, given[password] if password else None)

    return Keys(read("sign", "sign_password_file"), read("encrypt_for"), read("verify_key"), read("open_with"))
