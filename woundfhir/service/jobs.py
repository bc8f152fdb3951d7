"""What a worker does: a note judged, a record converted, the cards of a hook; by the functions of the command line."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.checklist import LEVELS
from woundfhir.checklist.one_note import LAST, of_note
from woundfhir.checklist.policy import load
from woundfhir.checklist.site import compose
from woundfhir.errors import InputError
from woundfhir.fhir.elements import objects
from woundfhir.fhir.losses import Losses
from woundfhir.intake import formats
from woundfhir.intake.inputs import Input
from woundfhir.intake.mapped import using
from woundfhir.intake.source import histories
from woundfhir.language import speaking
from woundfhir.r4 import jsonio
from woundfhir.record.dates import given_day
from woundfhir.report import render
from woundfhir.report.received import judged
from woundfhir.service import hooks
from woundfhir.service.media import OUTCOMES, READ, WRITTEN
from woundfhir.service.setup import Setup
from woundfhir.site import Site
from woundfhir.web.guard import Refused

Json = Any
Options = Mapping[str, Any]
#: What an input is called in messages.
NAME = "the request"


@dataclass(frozen=True, slots=True)
class Reply:
    """What is answered: media type, headers, body."""

    media: str
    content: bytes
    headers: dict[str, str] = field(default_factory=dict)


@contextmanager
def holding(setup: Setup) -> Iterator[None]:
    """Let a site's folder, the language and maps hold, as the options of the command line do."""
    with ExitStack() as held:
        if setup.site is not None:
            held.enter_context(Site(setup.site))
        held.enter_context(speaking(setup.language))
        if setup.maps:
            held.enter_context(using(map(Path, setup.maps)))
        yield


def check_setup(setup: Setup) -> None:
    """Read everything that requests are judged by once, so that what is wrong in it is named before any comes.

    The site of ``setup`` holds already.
    """
    with using(map(Path, setup.maps)):
        load(setup.policy)
        compose(setup.checklists)
        if setup.defaults is not None:
            from woundfhir.chart.defaults import read

            read(setup.defaults)


def validate(options: Options, content: bytes, setup: Setup) -> Reply:
    """Judge what came by the checklist: an OperationOutcome, the same as ``check --format outcome`` writes."""
    came = _read(_without_parameters(content), str(options["media"]))
    policy = load(options.get("policy") or setup.policy)
    checklist = compose(options.get("checklist") or setup.checklists)
    today = given_day(options.get("today"), "the parameter today")
    reports = [
        judged(
            one, checklist=checklist, policy=policy, today=today, visit=options.get("visit"), defaults=setup.defaults
        )
        for one in came
    ]
    counts = {level: sum(one.verdict.count(level) for one in reports) for level in LEVELS}
    said = ", ".join(f"{number} {level}" for level, number in counts.items() if number) or "nothing found"
    return Reply(OUTCOMES[0], render(reports, "outcome"), {"Woundfhir-Report": said, **_asks(came)})


def convert(options: Options, content: bytes, setup: Setup) -> Reply:
    """Write what came in another format, byte for byte as ``convert`` does; or say what became of each value."""
    came = _read(content, str(options["media"]))
    if options.get("outcome"):
        issues = [issue for one in came for issue in _issues(one)]
        return Reply(OUTCOMES[0], jsonio.encode_readable({"resourceType": "OperationOutcome", "issue": issues}))
    form = formats.named(WRITTEN[options["to"]])
    if len(came) == 1:
        written = form.write(came[0].history)
    elif form.joins:
        written = form.write_many([one.history for one in came])
    else:
        several = ", ".join(media for media, name in WRITTEN.items() if formats.FORMATS[name].joins)
        fix = f"Send each client alone, or Accept one of {several}"
        raise Refused(422, NAME, "the record of one client", fix, found=f"it holds {len(came)} clients")
    reports = [one.report.summary for one in came if one.report is not None]
    report = {"Woundfhir-Report": "; ".join(reports)[:1000]} if reports else {}
    return Reply(str(options["to"]), written, {**report, **_asks(came)})


def hook(options: Options, content: bytes, setup: Setup) -> Reply:
    """Answer a call of CDS Hooks with cards."""
    call = hooks.parse(str(options["hook"]), content)
    service = hooks.SERVICES[call.hook]
    if (one := hooks.record_of(call)) is None:
        return Reply("application/json", jsonio.encode({"cards": []}))
    site = catalogue().site
    asked = setup.checklists or (site.checklists if site is not None else ())
    chosen = compose([*asked, service.checklist] if service.checklist else asked)
    today = given_day(options["today"], "the parameter today")
    found = judged(one, checklist=chosen, policy=load(setup.policy), today=today, defaults=setup.defaults)
    if service.newest and found.verdict.notes:
        newest = of_note(found.verdict, found.history, LAST).findings
        safety = (said for said in found.verdict.findings if said.severity == "caution")
        rest = (said for said in newest if said.severity != "caution")
        found = replace(found, verdict=replace(found.verdict, findings=(*safety, *rest)))
    return Reply("application/json", jsonio.encode({"cards": hooks.cards_of(call, found)}))


JOBS: dict[str, Callable[[Options, bytes, Setup], Reply]] = {"validate": validate, "convert": convert, "hook": hook}


def run(job: str, options: Options, content: bytes, setup: Setup) -> Reply:
    """Do one job, by its name."""
    return JOBS[job](options, content, setup)


def _read(content: bytes, media: str) -> list[Input]:
    found = formats.recognised(content, NAME)
    if found.name not in READ[media]:
        raise InputError(NAME, media, "Send the Content-Type that the body has", found=f"its body is {found.title}")
    return list(histories([(NAME, content)]))


def _without_parameters(content: bytes) -> bytes:
    """Return the resource in a Parameters, as ``$validate`` of R4 takes it; anything else as it is."""
    if b'"Parameters"' not in content:
        return content
    try:
        found = jsonio.decode_checked(content)
    except InputError:
        return content  # its reader says what is wrong
    if found.get("resourceType") != "Parameters":
        return content
    some = objects(found, "parameter")
    resources = [
        one["resource"] for one in some if one.get("name") == "resource" and isinstance(one.get("resource"), dict)
    ]
    if len(resources) != 1 or len(some) != 1:
        raise InputError(f"{NAME}, Parameters", "one parameter named resource, and no other", "Send the resource alone")
    return jsonio.encode(resources[0])


def _asks(came: list[Input]) -> dict[str, str]:
    """Whether a person must look: what the exit code 1 of ``convert`` says."""
    return {"Woundfhir-Asks": "yes" if any(one.asks for one in came) else "no"}


def _issues(one: Input) -> list[Json]:
    """What became of what came: counts first, then each place that a person must look at, or that has no place."""
    if one.report is None:
        return [_issue("information", f"{one.name}: a record; everything in it is kept")]
    report: Losses = one.report
    kept = [f"{item.where}: {item.why}" for item in report.items if item.kind == "kept"]
    return [
        _issue("information", f"{one.name}: {report.summary}"),
        *(_issue("warning", line) for line in one.losses),
        *(_issue("information", f"Kept, without a place in the record: {line}") for line in kept),
    ]


def _issue(severity: str, text: str) -> Json:
    kind = "informational" if severity == "information" else "processing"
    return {"severity": severity, "code": kind, "diagnostics": text}


__all__ = ["NAME", "Reply", "check_setup", "holding", "run"]
