"""``--resume``: a stopped run over many clients goes on from its last checkpoint."""

from __future__ import annotations

import sys
from dataclasses import asdict
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from woundfhir._version import __version__
from woundfhir.cli import options
from woundfhir.cli.texts import count, words
from woundfhir.errors import InputError
from woundfhir.language import spoken

if TYPE_CHECKING:
    from woundfhir.bulk.converting import Bulk
    from woundfhir.bulk.progress import Progress
    from woundfhir.storage.growing import Growing
    from woundfhir.storage.kept import Kept

MANIFEST = "manifest.json"


class Chosen(Protocol):
    """What was asked of a run (``streamed.Choice``)."""

    @property
    def errors(self) -> Path | None: ...
    @property
    def by_type(self) -> bool: ...
    @property
    def pack(self) -> str | None: ...
    @property
    def resume(self) -> bool: ...


def checkpoint(
    inputs: tuple[str, ...], to: str, output: Path | None, chosen: Chosen, manifest: bool, more: str
) -> Kept | None:
    """Return the checkpoint of a run; None where none can be kept.

    ``manifest`` is whether one is written in the folder ``output``; ``more`` is what the bytes depend on, besides.
    """
    from woundfhir.storage.kept import Kept
    from woundfhir.storage.outputs import goes_through

    if output is None or (not manifest and goes_through(output)):
        return None
    if chosen.resume and "-" in inputs:
        return None
    own = output / MANIFEST if manifest else output
    return Kept(own, _of(inputs, to, chosen, more) if chosen.resume else {}, resume=chosen.resume)


def not_served() -> InputError:
    """Return the error where a run cannot be gone on with."""
    expected = "files that are read, and output, but no tables, to a file that -o names (--by-type, bundle: a folder)"
    return InputError("--resume", expected, "Name them, or leave --resume out")


def _of(inputs: tuple[str, ...], to: str, chosen: Chosen, more: str) -> dict[str, Any]:
    """What the bytes of an output depend on."""
    from woundfhir.bulk.lines import stated

    errors = None if chosen.errors is None else str(chosen.errors.resolve())
    rules = [options.chosen_for_all(name) for name in ("site_folder", "map")]
    return {
        "the input": [[name, *found] for name, found in stated(inputs)],
        "the options": [to, chosen.by_type, chosen.pack, errors, spoken().tag, more],
        "the site or the maps": [digest(Path(path)) for path in _paths(rules)],
        "the version of woundfhir": __version__,
    }


def _paths(given: list[Any]) -> list[Any]:
    return [path for one in given if one for path in (one if isinstance(one, (tuple, list)) else (one,))]


def digest(path: Path) -> str:
    """The digest of a file, or of all files of a folder with their names."""
    found = sha256()
    for one in sorted(path.rglob("*")) if path.is_dir() else [path]:
        if one.is_file():
            content = one.read_bytes()
            found.update(f"{one.relative_to(path)}\0{len(content)}\0".encode(errors="surrogateescape") + content)
    return found.hexdigest()


def go_on(bulk: Bulk, kept: Kept, growing: Growing, to: str) -> None:
    """Let a run begin where the last checkpoint stands, and make further ones."""
    from woundfhir.bulk.clients import Seen
    from woundfhir.bulk.outcome import Outcome

    if kept.resume and (to == "ndjson" or bulk.again is not None):
        seen = growing.open(kept.path.with_suffix(".seen"), scratch=True)
        bulk.seen = Seen(seen.write, seen.part.read_bytes())
    if kept.more:
        bulk.out = Outcome(**kept.more)
        options.note(words("convert.goes_on", clients=count("clients", bulk.out.clients)))
    bulk.mark = lambda out: growing.mark(asdict(out))


def kinds(kept: Kept | None, folder: Path) -> list[str]:
    """Return the types of resources that have a file already, in a run that is gone on with."""
    names = [] if kept is None else [Path(name).name for name in kept.files if Path(name).parent == folder.resolve()]
    return [name.split(".")[0] for name in names if ".ndjson" in name]


def tell_kept(kept: Kept | None, progress: Progress) -> None:
    """Say that a run that is being stopped can be gone on with."""
    if kept is not None and kept.stands and sys.exc_info()[0] is not None:
        progress.end()
        options.say(words("convert.kept", path=kept.path))
