"""``woundfhir receive``: take in a bundle: verify, compare with what is known, merge, keep what came."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Callable, Iterator, Mapping
from contextlib import nullcontext
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from woundfhir.cli import options
from woundfhir.cli.terms_option import look_up, terminology
from woundfhir.cli.texts import words
from woundfhir.errors import InputError
from woundfhir.messages import translated

if TYPE_CHECKING:
    from woundfhir.checklist.finding import Finding
    from woundfhir.handover.merge import Conflict
    from woundfhir.handover.received import Received
    from woundfhir.jose.verification import Verdict
    from woundfhir.record import History

_FILE = click.Path(path_type=Path)


@click.command()
@options.maps
@click.argument("source", metavar="IN")
@click.option("--into", type=_FILE)
@click.option("--known")
@click.option("--verify-key", type=_FILE)
@click.option("--key", type=_FILE)
@options.password
@click.option("--accept-unsigned", is_flag=True)
@options.patient
@options.same_client
@click.option("--at")
@click.option("--keep-whole", is_flag=True)
@click.option("--show-values", is_flag=True)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@options.strict
@terminology
@click.option("--force", is_flag=True)
def command(
    source: str,
    into: Path | None,
    known: str | None,
    verify_key: Path | None,
    key: Path | None,
    password_file: Path | None,
    accept_unsigned: bool,
    patient: str | None,
    same_client: bool,
    at: str | None,
    keep_whole: bool,
    show_values: bool,
    form: str,
    strict: bool,
    terminology: str | None,
    force: bool,
) -> int:
    """Take in the record of one client: verify it, show what it brings, join it to what is known."""
    from woundfhir.handover.kept import with_step
    from woundfhir.handover.receive import receive
    from woundfhir.intake.choosing import chosen
    from woundfhir.intake.client_folder import INDEX
    from woundfhir.intake.inputs import Input
    from woundfhir.intake.source import contents, load
    from woundfhir.jose.signature import SUFFIX
    from woundfhir.storage import locked

    files = list(contents([source]))
    name, content = files[0] if len(files) == 1 else (source, files)
    theirs = None if verify_key is None else options.key(verify_key)
    ours = None if key is None else options.key(key, password_file)
    signature = Path(f"{name}{SUFFIX}") if source != "-" and len(files) == 1 else None
    beside = load(signature) if signature is not None and signature.is_file() else None
    with nullcontext() if into is None else locked(into):  # nobody else changes the record between reading and writing
        there = _known(known, into, patient)
        done = receive(
            content,
            there.history,
            name=name,
            at=at,
            verify_key=theirs,
            key=ours,
            beside=beside,
            accept_unsigned=accept_unsigned,
            same_client=same_client,
            patient=patient,
            keep_whole=keep_whole,
        )
        if patient is not None and not there.of_several and not done.of_several:
            chosen([Input(name, done.came, "record")], patient)  # refuses where the one who came is somebody else
        written: list[Path] = []
        if into is not None:
            if not there.is_own:
                _refuse_another(into, done)
            done.merged.conflicts += _used_before(done, into)
            index = load(into / INDEX) if (into / INDEX).exists() else None
            written = _store(with_step(done, index, there.content, at), into, there.is_own or force)
    if form == "json":
        click.echo(_json(done, show_values, written))
    else:
        for line in _text(done, name, show_values, into, written):
            options.tell(line)
    look_up(terminology, [done.report])
    gaps = strict and bool(done.missing)
    return options.exit_code(done, strict=strict, more=bool(done.merged.conflicts) or gaps)


def _known(known: str | None, into: Path | None, patient: str | None) -> _Known:
    from woundfhir.intake.choosing import one_client
    from woundfhir.intake.client_folder import RECORD
    from woundfhir.intake.source import contents, histories, load, parse
    from woundfhir.record.files import to_yaml

    own = into / RECORD if into is not None else None
    if known is not None:
        files = list(contents([known]))
        clients = list(histories(files))
        if several := len(clients) > 1:  # what is kept must be of one client
            history = one_client(clients, patient, "--known").history
            return _Known(to_yaml(history), history, False, several)
        name, content = files[0]
        is_own = own is not None and own.exists() and Path(name).resolve() == own.resolve()
        return _Known(clients[0].content or content, clients[0].history, is_own, several)
    if own is not None and own.exists():
        content = load(own)
        return _Known(content, parse(content, str(own)).history, True)
    return _Known()


class _Known(NamedTuple):
    """The known record, its bytes first; whether it is the one that will be written; whether it is one of several."""

    content: bytes | None = None
    history: History | None = None
    is_own: bool = False
    of_several: bool = False


def _refuse_another(into: Path, done: Received) -> None:
    """Refuse to write over the record of somebody else, whatever was asked for: what is lost there is lost."""
    from woundfhir.intake.client_folder import RECORD
    from woundfhir.intake.source import load, parse
    from woundfhir.record.clients import evidence

    path = into / RECORD
    if not path.exists():
        return
    fix = "Nothing was written: choose another folder with --into"
    try:
        there = parse(load(path), str(path)).history
    except InputError:
        wrong = "it cannot be read, and so it cannot be told whose record it is"
        raise InputError(str(path), "the record of the same client, or none", fix, found=wrong) from None
    graded = evidence(there.patient, done.merged.history.patient)
    if not graded.same:
        wrong = f"it may be the record of another client ({graded.words})"
        raise InputError(str(path), "the record of the same client, or none", fix, found=wrong)


def _store(files: Mapping[str, bytes], into: Path, over: bool) -> list[Path]:
    """Write what was received, all or none; ``over`` allows another record. A Provenance that is there stays."""
    from woundfhir.intake.client_folder import INDEX, RECORD
    from woundfhir.storage import save_all

    wanted = {into / name: content for name, content in files.items()}
    kept = {path for path in wanted if path.name.endswith(".provenance.json") and path.exists()}
    new = {path: content for path, content in wanted.items() if path not in kept}
    return save_all(new, may_change=[into / INDEX, *([into / RECORD] if over else [])], same=True, held=into)


def _used_before(done: Received, into: Path) -> list[Conflict]:
    """A document's identifier is never used for another content (R4, Bundle.identifier); say where it was."""
    from woundfhir.handover.merge import Conflict
    from woundfhir.intake.source import load

    identifier, merged = done.bundle.get("identifier"), done.merged
    if not identifier or not (merged.added or merged.replaced or merged.conflicts):
        return []
    for path in sorted((into / "received").glob("*.provenance.json")):
        if path.name.split(".")[0] == done.digest:
            continue
        try:
            entities = json.loads(load(path)).get("entity", ())
        except (ValueError, AttributeError):
            continue
        if any(entity.get("what", {}).get("identifier") == identifier for entity in entities):
            why = "its identifier came before with another content: ask the sender which one holds"
            return [Conflict("the bundle", why)]
    return []


def _json(done: Received, show_values: bool, written: list[Path]) -> str:
    """Return the report for programs: ids stand in it as the keys of wounds and visits, and of resources."""
    merged = done.merged
    told: dict[str, Any] = {
        "version": 1,
        "bundle": {
            "type": done.bundle["type"],
            "sha256": done.digest,
            "part_of": done.part_of,
            "newest": done.newest,
            "resources": done.counts,
        },
        "wounds": [wound["id"] for wound in done.came.wounds],
        "visits": [visit["id"] for visit in done.came.visits],
        "signature": {"answer": done.signature.answer.value, "message": _meaning(done.signature)},
        "same_client_by_a_person": done.joined_by or None,
        "signed_content_changed": done.unsigned_changes,
        "notices": [{"path": one.path, "expected": one.expected} for one in done.notices],
        "added": merged.added,
        "duplicates": merged.duplicates,
        "replaced": merged.replaced,
        "conflicts": [one.json(show_values=show_values) for one in merged.conflicts],
        "perhaps_one_wound": [list(pair) for pair in done.perhaps_one],
        "doubtful": [{"rule": one.rule, "path": one.path, "message": one.message} for one in done.doubtful],
        "missing": [{"rule": one.rule, "path": one.path, "message": one.message} for one in done.missing],
        "kept": done.losses,
        "report": done.report.json(),
        "written": [str(path) for path in written],
    }
    return json.dumps(told, ensure_ascii=False, indent=2)


def _meaning(signature: Verdict, show: Callable[[str], str] = str) -> str:
    return " ".join(show(one) for one in (signature.message, signature.limit) if one)


def _text(done: Received, name: str, show_values: bool, into: Path | None, written: list[Path]) -> list[str]:
    from woundfhir.intake.client_folder import WHOLE
    from woundfhir.record.labels import Labels

    merged, came = done.merged, done.came
    kinds = ", ".join(f"{number} {kind}" for kind, number in done.counts.items())
    total, newest = sum(done.counts.values()), done.newest or words("receive.no_time")
    lines = [words("receive.came", name=name, type=done.bundle["type"], total=total, newest=newest), f"  {kinds}"]
    names = Labels(came)
    wounds, notes = [names.wound(w["id"]) for w in came.wounds], [names.visit(v["id"]) for v in came.visits]
    lines.append("  " + words("receive.of", wounds=_list(wounds), visits=_list(notes, words("receive.visit"))))
    lines.append(
        words(
            "receive.signature",
            answer=translated(done.signature.answer.value),
            means=_meaning(done.signature, translated),
        )
    )
    if done.part_of and not any(name.startswith(WHOLE) for name in done.files):
        lines.append(words("receive.part"))
    if done.joined_by:
        lines.append(words("receive.joined", evidence=translated(done.joined_by)))
    lines += _part("unsigned", done.unsigned_changes)
    lines += _part("notices", list(_notices(done)), len(done.notices))
    lines += _line("added", merged.added)
    lines += _line("duplicates", merged.duplicates)
    lines += _line("replaced", merged.replaced)
    both = Labels(merged.history)
    lines += _part(
        "perhaps_one", [words("receive.pair", one=both.wound(a), other=both.wound(b)) for a, b in done.perhaps_one]
    )
    conflicts = [line for one in merged.conflicts for line in one.lines(show_values=show_values)]
    lines += _part("conflicts", conflicts, len(merged.conflicts))
    lines += _part("doubtful", [_gap(one) for one in done.doubtful])
    lines += _part("missing", list(_gaps(done.missing)), len(done.missing))
    lines += _part("losses", options.loss_lines(done.losses, done.report) or _all_understood(done))
    if into is None:
        lines.append(words("receive.not_written"))
    else:
        lines += _part("written", [str(path) for path in written]) or [words("receive.all_here")]
    return lines


def _list(names: list[str], without: str = "") -> str:
    return ", ".join(name.removeprefix(without) for name in names) or words("receive.none")


def _line(title: str, names: list[str]) -> list[str]:
    head = words(f"receive.{title}")
    return (
        [words("receive.listed", title=head, number=len(names), names="; ".join(map(translated, names)))]
        if names
        else []
    )


def _notices(done: Received) -> Iterator[str]:
    """What is wrong with the Bundle; what is wrong in the same way at many places stands once."""
    for expected, some in groupby(done.notices, key=lambda one: one.expected):
        places = [one.path for one in some]
        more = words("receive.more_places", number=len(places) - 1) if len(places) > 1 else ""
        yield words("receive.expected", place=places[0] + more, words=_of_rule(expected))


def _of_rule(expected: str) -> str:
    """What a rule of R4 expects, with its key behind it: ``the absolute URL of the resource (full-url)``."""
    words_, bracket, key = expected.rpartition(" (")
    return f"{translated(words_)} ({key}" if bracket and translated(expected) == expected else translated(expected)


def _all_understood(done: Received) -> list[str]:
    """That nothing is left aside, in numbers: whoever takes a history in asks whether it is whole."""
    return [words("receive.understood", number=done.report.values)] if done.report.values else []


def _gaps(missing: list[Finding]) -> Iterator[str]:
    """What is missing, a line for each wound and note."""
    from woundfhir.report.words import shortened

    by_place: dict[str, list[str]] = {}
    for one in missing:
        by_place.setdefault(_place(one), []).append(shortened(one.message).rstrip(","))
    for place, some in by_place.items():
        listed = "; ".join(some)
        listed = words("receive.at", place=place, words=listed) if place else listed
        yield from textwrap.wrap(listed, 98, subsequent_indent="  ")


def _gap(one: Finding) -> str:
    place = _place(one)
    return words("receive.at", place=place, words=one.message) if place else one.message


def _place(one: Finding) -> str:
    """The wound and the note that a finding is about."""
    visit = f"{words('receive.visit')}{one.visit}" if one.visit and " " not in one.visit else one.visit
    return ", ".join(part for part in (one.wound, visit) if part)  # "note 3" says what it is


def _part(title: str, lines: list[str], number: int | None = None) -> list[str]:
    if not lines:
        return []
    head = words("receive.head", title=words(f"receive.{title}"), number=len(lines) if number is None else number)
    return [head, *(f"  {line}" for line in lines)]
