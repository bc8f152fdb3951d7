"""What ``woundfhir receive`` shows: for a person, and for programs."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Callable, Iterator
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from woundfhir.cli import options
from woundfhir.cli.texts import words
from woundfhir.messages import translated

if TYPE_CHECKING:
    from woundfhir.checklist.finding import Finding
    from woundfhir.handover.received import Received
    from woundfhir.jose.verification import Verdict


def as_json(done: Received, show_values: bool, written: list[Path]) -> str:
    """Return the report for programs: ids stand in it as the keys of wounds and visits, and of resources."""
    merged = done.merged
    report: dict[str, Any] = {
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
    return json.dumps(report, ensure_ascii=False, indent=2)


def _meaning(signature: Verdict, show: Callable[[str], str] = str) -> str:
    return " ".join(show(one) for one in (signature.message, signature.limit) if one)


def as_text(done: Received, name: str, show_values: bool, into: Path | None, written: list[Path]) -> list[str]:
    from woundfhir.record.labels import Labels

    merged = done.merged
    lines = _came(done, name)
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
    lines += _part("losses", options.loss_lines(done.losses, done.report) or _all_understood(done))
    lines += _part("missing", list(_gaps(done.missing)), len(done.missing))
    if into is None:
        lines.append(words("receive.not_written"))
    else:
        head = "would_write" if options.chosen_for_all("dry_run") else "written"
        lines += _part(head, [str(path) for path in written]) or [words("receive.all_here")]
    return lines


def _came(done: Received, name: str) -> list[str]:
    """What came: the Bundle, whose it is, its wounds and notes, and what its signature is worth."""
    from woundfhir.intake.client_folder import WHOLE
    from woundfhir.record.labels import Labels

    came = done.came
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
