"""``bundle`` of many clients: a document for each of them in a folder, with a manifest."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from woundfhir.cli import options, streamed
from woundfhir.cli.texts import count, words
from woundfhir.errors import InputError

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from woundfhir.bulk.bundling import Documents
    from woundfhir.handover.bundling import Making
    from woundfhir.intake.format import Format
    from woundfhir.intake.inputs import Input
    from woundfhir.storage.growing import Growing

#: The format that holds its signature in itself: Bundle.signature is over JSON.
SIGNED = "fhir-json"
#: Options of one document, which many do not have.
_OF_ONE = ("patient", "wounds", "replaces", "sheet", "photos", "keep_metadata", "sign", "encrypt_for", "chunk")


def making(chosen: dict[str, Any]) -> Making:
    """Return what the Bundle is to be; a document is provided (``mhd``) when it is signed."""
    from woundfhir.handover.bundling import Making

    kind: Any = "document" if chosen["kind"] == "mhd" else chosen["kind"]
    names = ("at", "document", "replaces", "profiles", "dialect", "attested_by", "confidentiality")
    return Making(kind, policy=chosen["stored"], **{name: chosen[name] for name in names})


def many(inputs: tuple[str, ...], form: Format, output: Path | None, force: bool, chosen: dict[str, Any]) -> int | None:
    """Write a document for each client; None where that is not asked for.

    Raises
    ------
    InputError
        For options that it does not serve, and for what cannot be read or written.
    """
    asked = streamed.Choice(chosen["workers"], chosen["errors"], chosen["progress"], resume=chosen["resume"])
    option = asked.needs or ("--workers" if asked.workers else "")
    if not option and (output is None or not output.is_dir()):
        return None
    _refuse_others(chosen, option or "-o")
    if output is None or not output.is_dir():
        raise InputError(option, "a folder that exists, for a document of each client", "Make it and name it with -o")
    from woundfhir.bulk import bundling

    if chosen["compact"]:
        refuse_to_compact(form.name)
    part = {name: chosen[name] for name in ("since", "newest", "compact")}
    choice = bundling.Choice(making=making(chosen), **part)
    files = _Files(output, form.suffixes[0])
    job = streamed.Job(
        "bundling", partial(bundling.make, choice=choice), files, partial(_tell, dialect=choice.making.dialect), _again,
        repr(choice),
    )  # fmt: skip
    found = streamed.convert(inputs, form.name, output, force, asked, job)
    assert found is not None  # what has no lines is read file by file
    return options.exit_code(found, strict=chosen["strict"], more=bool(found.refused))


def refuse_to_compact(form: str) -> None:
    """Refuse ``--compact`` in any format but JSON."""
    if form != SIGNED:
        raise InputError("--compact", f"the format {SIGNED}", "Leave one of the two out")


def _refuse_others(chosen: dict[str, Any], option: str) -> None:
    given = [f"--{name.replace('_', '-').removesuffix('s')}" for name in _OF_ONE if chosen[name]]
    given += ["--dry-run"] if options.chosen_for_all("dry_run") else []
    if given:
        fix = "Leave it out; or choose one client with --patient, and name a file with -o"
        raise InputError(given[0], "a document of one client, in a file", fix, found=f"{option} asks for many")
    if chosen["kind"] not in ("document", "ips"):
        raise InputError("--as", "document or ips, for a document of each client", "Choose one of them")


def _tell(one: Input, dialect: Any) -> list[str]:
    lines = streamed.lines_of(one)
    if not one.of_client:
        return [*lines, words("bundle.of_nobody", name=one.name)]
    if (unmet := options.unmet(dialect, one.history)) is not None:
        lines.append(unmet)
    return lines


def _again(name: str) -> None:
    options.say(words("bundle.again", name=name))


class _Files:
    """The folder of the documents, and its manifest."""

    def __init__(self, output: Path, suffix: str) -> None:
        from woundfhir.bulk.bundling import Documents

        self.folders = [output]
        self._documents = Documents(output, suffix)

    def open(self, growing: Growing) -> AbstractContextManager[Documents]:
        """Begin both."""
        return self._documents.open(growing)

    def finish(self) -> list[str]:
        """Write the end of the manifest; return what is to be said when all of it stands."""
        from woundfhir.bulk.bundling import DOCUMENTS, MANIFEST

        self._documents.end()
        (folder,) = self.folders
        made = count("documents", self._documents.number)
        return [words("bundle.documents", documents=made, folder=folder / DOCUMENTS, manifest=folder / MANIFEST)]
