"""``woundfhir bundle``: a client's wound history as one FHIR Bundle, with the sheet to print beside it."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from woundfhir.cli import bundled, options, streamed
from woundfhir.cli.bundled import SIGNED
from woundfhir.cli.texts import count, words
from woundfhir.errors import InputError

if TYPE_CHECKING:
    from woundfhir.record import History

Json = Any
#: As ``handover.document.around.LEVELS``; written here, as a help text loads nothing heavy.
LEVELS = ("U", "L", "M", "N", "R", "V")


@click.command()
@options.inputs
@click.option(
    "--as",
    "kind",
    type=click.Choice(["document", "ips", "mhd", "transaction", "collection"]),
    default="document",
    show_default=True,
)
@options.patient
@options.strict
@click.option("--wound", "wounds", multiple=True)
@click.option("--since")
@click.option("--newest", type=click.IntRange(min=1))
@click.option("--document", type=click.Choice(["transfer", "nurse", "ips"]), default="transfer", show_default=True)
@click.option("--attested-by", metavar="AUTHOR")
@click.option("--confidentiality", type=click.Choice(LEVELS), default="N", show_default=True)
@click.option("--replaces", metavar="URN")
@click.option("--sheet", type=click.Path(path_type=Path))
@click.option("--photos", type=click.Path(path_type=Path), metavar="FOLDER")
@click.option("--keep-metadata", is_flag=True)
@click.option("--paper", type=click.Choice(["letter", "A4"], case_sensitive=False), default="letter", show_default=True)
@click.option("--policy", show_default="ontario, or that of --site")
@click.option("--sign", type=click.Path(path_type=Path), metavar="KEY")
@click.option("--encrypt-for", type=click.Path(path_type=Path), metavar="KEY")
@options.password
@click.option("--at", metavar="INSTANT")
@click.option("--profiles/--no-profiles", default=True, show_default=True)
@click.option("--stored", type=click.Choice(["update", "create"]), default="update", show_default=True)
@click.option("--chunk", type=click.IntRange(min=1), metavar="N")
@click.option("--compact", is_flag=True)
@options.dialect
@options.to("bundle")
@streamed.reporting
@options.output
def command(inputs: tuple[str, ...], output: Path | None, force: bool, **chosen: Any) -> int:
    """Bundle the wound history of one client in IN; with a folder for -o, that of each of many clients."""
    from woundfhir.handover.bundling import assembled
    from woundfhir.intake import formats

    form = chosen["to"] = formats.chosen(chosen["to"], output, "bundle") or formats.named("fhir-json")
    if chosen["at"] == "now":
        chosen["at"] = datetime.now().astimezone().isoformat(timespec="seconds")
    if (code := bundled.many(inputs, form, output, force, chosen)) is not None:
        return code
    history = _history(inputs, chosen)
    kind = chosen["kind"]
    asked = bundled.making(chosen)

    def make(part: History) -> dict[str, Json]:
        return assembled(part, asked)

    made = make(history)
    options.tell_unmet(chosen["dialect"], history)
    if chosen["sign"] is not None and made.get("timestamp") is None:
        raise InputError("--sign", "an instant for the signature", "Give --at")
    if chosen["chunk"] is not None:
        return _parted(made, output, force, chosen)
    signed = _signed(made, chosen)
    if kind == "mhd":
        signed = _provided(signed, chosen)
    content = _compact(signed, form.name) if chosen["compact"] else form.write_bundle(signed, history, make)
    content = _encrypted(content, chosen)
    outputs = {**_beside(content, made, output, chosen), output or options.STDOUT: content}
    sheet: Path | None = chosen["sheet"]
    if sheet is not None:
        _check_sheet(sheet, output, chosen["policy"], force)
        try:
            outputs[sheet] = _sheet(history, sheet, chosen)
        except InputError:  # whatever goes wrong with the sheet, the history is there
            _write(outputs, force, kind, made, history)
            raise
    _write(outputs, force, kind, made, history)
    return int(chosen["code"])


def _provided(signed: dict[str, Json], chosen: dict[str, Any]) -> dict[str, Json]:
    """The document in the Bundle that provides it, byte for byte."""
    from woundfhir.fhir.mhd import provide
    from woundfhir.r4 import jsonio

    if chosen["to"].name != SIGNED:
        raise InputError("--as mhd", f"the format {SIGNED}", "Leave --to out, and name a file that ends in .json")
    return provide(jsonio.encode_readable(signed), replaces=chosen["replaces"])


def _parted(made: dict[str, Json], output: Path | None, force: bool, chosen: dict[str, Any]) -> int:
    """Write a transaction in parts, all or none: NAME-1.json, NAME-2.json ... in the order in which they are sent."""
    from woundfhir.fhir.transactions import parts
    from woundfhir.r4 import jsonio

    given = [f"--{name.replace('_', '-')}" for name in ("sign", "encrypt_for", "sheet") if chosen[name] is not None]
    if chosen["kind"] != "transaction" or chosen["to"].name != SIGNED or given:
        others = f", without {' and '.join(given)}" if given else ""
        raise InputError("--chunk", f"--as transaction in the format {SIGNED}{others}", "Leave one of them out")
    if output is None or output == options.STDOUT:
        raise InputError("--chunk", "a name for the files", "Add -o NAME.json: NAME-1.json and so on are written")
    some = parts(made, chosen["chunk"])
    width = len(str(len(some)))
    encode = jsonio.encode if chosen["compact"] else jsonio.encode_readable
    names = [output.with_stem(f"{output.stem}-{number:0{width}}") for number in range(1, len(some) + 1)]
    there = output.parent.iterdir() if output.parent.is_dir() else ()
    part = re.compile(rf"{re.escape(output.stem)}-\d{{1,3}}{re.escape(output.suffix)}")  # a year is no number of a part
    if any(part.fullmatch(one.name) and one not in names for one in there):
        wrong = "parts of an earlier run are there, which would be sent with these"
        raise InputError(str(output), "a name that no other parts have", "Remove them, or choose another", found=wrong)
    options.emit_all({name: encode(part) for name, part in zip(names, some, strict=True)}, force)
    counts = {"resources": count("resources", len(made["entry"])), "parts": count("parts", len(some))}
    options.say(words("convert.parts", **counts))
    return int(chosen["code"])


def _write(outputs: dict[Path, bytes], force: bool, kind: str, made: dict[str, Json], history: History) -> None:
    """Write bundle, signature and sheet, all or none, and say what the bundle holds and what it does not."""
    options.emit_all(outputs, force)
    counts = {"resources": made["entry"], "wounds": history.wounds, "visits": history.visits}
    said = {name: count(name, len(of)) for name, of in counts.items()}
    options.note(words("bundle.made", kind=kind, **said))
    if made["type"] == "document":
        _tell_missing(history)


def _history(inputs: tuple[str, ...], chosen: dict[str, Any]) -> History:
    from woundfhir.handover.select import gather
    from woundfhir.intake.choosing import one_client
    from woundfhir.intake.source import read_all

    found = one_client(read_all(inputs), chosen["patient"], each=True)
    options.tell_losses(found.name, found.losses, found.report)
    chosen["code"] = options.exit_code(found, strict=chosen["strict"])
    part = gather(found.history, wounds=chosen["wounds"], since=chosen["since"], newest=chosen["newest"])
    if chosen["photos"] is None:
        return part
    from woundfhir.photos.read import embed

    return embed(part, chosen["photos"], keep_metadata=chosen["keep_metadata"])


def _compact(made: dict[str, Json], form: str) -> bytes:
    from woundfhir.r4 import jsonio

    bundled.refuse_to_compact(form)
    return jsonio.encode(made)


def _signed(made: dict[str, Json], chosen: dict[str, Any]) -> dict[str, Json]:
    """The bundle with its signature, where one is asked for and the format can hold it (``_beside``)."""
    if chosen["sign"] is not None and chosen["to"].name == SIGNED:
        from woundfhir.jose.signature import seal

        key = options.key(chosen["sign"], chosen["password_file"])
        authors = made["entry"][0]["resource"].get("author") if made["type"] == "document" else None
        made = seal(made, key, when=made["timestamp"], who=authors[0] if authors else {"display": "woundfhir"})
    return made


def _encrypted(content: bytes, chosen: dict[str, Any]) -> bytes:
    if chosen["encrypt_for"] is not None:
        from woundfhir.jose.encryption import encrypt

        content = encrypt(content, options.key(chosen["encrypt_for"]), content_type=chosen["to"].media)
    return content


def _beside(content: bytes, made: dict[str, Json], output: Path | None, chosen: dict[str, Any]) -> dict[Path, bytes]:
    """The signature of a file that holds none in itself, by the name it gets: Bundle.signature is over JSON."""
    if chosen["sign"] is None or chosen["to"].name == SIGNED:
        return {}
    from woundfhir.jose.signature import SUFFIX, seal_bytes
    from woundfhir.r4.times import instant

    if output is None or output == options.STDOUT:
        raise InputError("--sign", "a name for the file: its signature stands in a file beside it", "Add -o FILE")
    path = output.with_name(f"{output.name}{SUFFIX}")
    key = options.key(chosen["sign"], chosen["password_file"])
    return {path: seal_bytes(content, key, at=instant(made["timestamp"]))}


_PDF, _HTML = (".pdf",), (".html", ".htm")


def _check_sheet(path: Path, output: Path | None, policy: str | None, force: bool) -> None:
    """Refuse what can be known to fail before anything is written."""
    from woundfhir.checklist.policy import load
    from woundfhir.handover.sheet.pdf import need_weasyprint
    from woundfhir.storage import refuse_taken

    if path.suffix.lower() not in _PDF + _HTML:
        raise InputError("--sheet", "a file that ends in .html or .pdf", "Name it so")
    if output is not None and path.resolve() == output.resolve():
        raise InputError("--sheet", "another name than that of the bundle", "Choose two names")
    refuse_taken(path, force)
    load(policy)
    if path.suffix.lower() in _PDF:
        need_weasyprint()


def _sheet(history: History, path: Path, chosen: dict[str, Any]) -> bytes:
    from woundfhir.handover.sheet.page import sheet_html, sheet_pdf

    make = sheet_pdf if path.suffix.lower() in _PDF else sheet_html
    try:
        return make(history, policy=chosen["policy"], paper=chosen["paper"])
    except InputError as error:
        raise InputError(f"{error.where} (the bundle is written)", error.expected, error.fix) from None


def _tell_missing(history: History) -> None:
    """Say what is missing; the document names wounds by their ids, a message by plain labels or positions."""
    from woundfhir.handover.summary.client import summary
    from woundfhir.handover.summary.questions import missing
    from woundfhir.record.labels import Labels

    names, found = Labels(history), summary(history)
    for wound in found.wounds:
        wound.called = names.wound(wound.id)
    if gaps := missing(found):
        options.say(words("bundle.missing"))
        for line in gaps:
            options.say(f"  {line}")
