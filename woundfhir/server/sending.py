"""A record sent to a server: part after part, each all or nothing, with a receipt of what is stored."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from woundfhir.errors import InputError
from woundfhir.fhir.bundles import full_url
from woundfhir.fhir.keys import Key
from woundfhir.fhir.references import rename
from woundfhir.fhir.transactions import body, chunks, name_of, request, system, to_send
from woundfhir.r4.literals import references
from woundfhir.record import History
from woundfhir.server.answers import Answer, Refusal, refused
from woundfhir.server.capability import Capability, capability
from woundfhir.server.connection import Connection
from woundfhir.server.planning import CHANGES, Plan, Policy, Step, digest_of, plan
from woundfhir.server.receipt import Receipt
from woundfhir.server.sent import Sent, became, would
from woundfhir.server.withdrawing import withdrawals

Json = Any
Resource = dict[str, Json]
#: Entries of one transaction, unless a visit has more.
CHUNK = 200
_VERSION = re.compile(r"(?:(?P<type>[A-Za-z]+)/(?P<id>[A-Za-z0-9.-]{1,64}))(?:/_history/(?P<version>[A-Za-z0-9.-]+))?$")


def send(
    history: History,
    server: Connection,
    receipt: Receipt,
    *,
    policy: Policy = "update",
    chunk: int = CHUNK,
    dry_run: bool = False,
    withdraw: bool = False,
    without: Collection[str] = (),
    also: Collection[str] = (),
) -> Sent:
    """Send one client's record to a server.

    Parameters
    ----------
    history
        The record; the client needs an identifier with a system.
    server
        Where to.
    receipt
        What is known to be stored there; brought up to date and saved after each part.
    policy
        What to do with what is there and says something else: ``update``, ``create`` (leave it) or ``refuse``.
    chunk
        Most entries of one transaction; a visit is never parted.
    dry_run
        Look only, and return what would be done.
    withdraw
        Mark whole visits and wounds that left the record as entered in error too.
    without
        Resource types to leave out, for a server that does not store them; what refers to them names their key.
    also
        Resource types to send although the server does not say that it stores them: not every statement is complete.

    Raises
    ------
    InputError
        When nothing could be sent, or sending stopped; what was stored by then is in the receipt.
    """
    every = to_send(history)
    pairs = _leave_out(every, without) if without else every
    can = capability(server)
    if lacks := can.lacks({key.type for _, key in pairs} - set(also)):
        fix = (
            "Nothing was sent. Ask who keeps the server, leave types out with --without TYPE, or try them all the same "
            "with --also TYPE"
        )
        raise InputError("the server", "all that sending needs", fix, found="; ".join(lacks))
    ours = system(history)
    made = plan(server, can, pairs, ours, receipt, policy)
    sent = Sent()
    if len(pairs) < len(every):
        sent.notices.append(f"{len(every) - len(pairs)} resources of the record are not sent (--without).")
    gone, notices = withdrawals(server, receipt, made.steps, ours, whole=withdraw)
    if policy == "update":
        made.steps.extend(gone)
        sent.notices.extend(notices)
    _drop_dependents(made)
    if not dry_run:
        _carry_out(server, can, made, receipt, chunk, ours, policy)
    tell = would if dry_run else became
    sent.outcomes = [(step.key.words, tell(step)) for step in made.steps]
    return sent


def _leave_out(pairs: list[tuple[Resource, Key]], kinds: Collection[str]) -> list[tuple[Resource, Key]]:
    """Leave out resources of some types; a reference to one becomes its business key (R4, logical reference)."""
    named = {name_of(resource): key for resource, key in pairs if key.type in kinds}
    return [(_by_key(resource, named), key) for resource, key in pairs if key.type not in kinds]


def _by_key(value: Json, named: Mapping[str, Key]) -> Json:
    if isinstance(value, dict):
        made = {name: _by_key(item, named) for name, item in value.items()}
        key = named.get(str(value.get("reference")))
        if key is None:
            return made
        del made["reference"]
        return {"type": key.type, "identifier": {"system": key.system, "value": key.value}, **made}
    return [_by_key(item, named) for item in value] if isinstance(value, list) else value


def _drop_dependents(made: Plan) -> None:
    """Refuse what refers to something that is refused and is not there: a server could not resolve it."""
    changed = True
    while changed:
        changed = False
        missing = {step.ours for step in made.steps if step.action == "refused" and step.place is None}
        for step in made.to_send():
            if missing & set(references(step.resource)):
                step.action, step.why, changed = "refused", "it refers to something that is refused", True


# -- parts -----------------------------------------------------------------------------------------


def _carry_out(
    server: Connection, can: Capability, made: Plan, receipt: Receipt, size: int, ours: str, policy: Policy
) -> None:
    for step in made.steps:
        if step.place is not None and step.action in ("unchanged", "left"):
            receipt.note(step.key, step.place, step.version, _digest(step, made, server))
    steps = made.to_send()
    entries = [_entry(step, can) for step in steps]
    by_url = {entry["fullUrl"]: step for entry, step in zip(entries, steps, strict=True)}
    urls = {step.ours: entry["fullUrl"] for entry, step in zip(entries, steps, strict=True)}
    parts = chunks([{**one, "resource": rename(one["resource"], urls)} for one in entries], size)
    try:
        for number, part in enumerate(parts, 1):
            here = [by_url[entry["fullUrl"]] for entry in part]
            server.say(f"Part {number} of {len(parts)}: {len(part)} resources.")
            _send_part(server, can, made, here, receipt, ours, policy, f"part {number} of {len(parts)}")
    except InputError as error:
        done = sum(step.action in CHANGES and step.why == "done" for step in steps)
        kept = f"Stored by then: {done} of {len(steps)}, each as a whole. {error.fix}"
        raise InputError(error.where, error.expected, kept, found=error.found) from None
    finally:
        receipt.save()


def _entry(step: Step, can: Capability) -> Resource:
    """One entry: what is there under its own id and version, what is not by its key."""
    kept, about = body(step.resource), can.of(step.key.type)
    sent: dict[str, str]
    if step.place is not None:
        kept["id"] = step.place.split("/")[1]
        sent = {"method": "PUT", "url": step.place, **({"ifMatch": f'W/"{step.version}"'} if step.version else {})}
    elif step.key.system and about.conditional_create and "identifier" in about.searches:
        sent = request(step.key, "create")
    elif step.key.system and about.update_create is False:
        sent = {"method": "POST", "url": step.key.type}  # it was looked for a moment ago, and is not there
    else:
        sent = {"method": "PUT", "url": step.ours}
    if sent["method"] == "POST":
        kept.pop("id", None)
    return {"fullUrl": full_url(step.resource), "resource": kept, "request": sent}


def _send_part(
    server: Connection,
    can: Capability,
    made: Plan,
    steps: Sequence[Step],
    receipt: Receipt,
    ours: str,
    policy: Policy,
    where: str,
) -> None:
    """Send one transaction; where something changed meanwhile, or an answer was lost, look again, once."""
    steps = [step for step in steps if step.action in CHANGES]
    if not steps:
        return
    answer = _post(server, can, made, steps)
    if answer.status in (409, 412):
        _look_again(server, can, made, steps, receipt, ours, policy)
        steps = [step for step in steps if step.action in CHANGES]
        if not steps:
            receipt.save()
            return
        answer = _post(server, can, made, steps)
    if answer.status not in (200, 201):
        raise refused(answer, f"the server, {where}")
    _note(answer.resource(f"the server, {where}"), steps, made, receipt, where)
    for step in steps:  # now that the server's name of each is known
        if step.action != "withdraw" and step.place is not None:
            receipt.note(step.key, step.place, step.version, _digest(step, made, server))
    receipt.save()


def _post(server: Connection, can: Capability, made: Plan, steps: Sequence[Step]) -> Answer:
    entries = [_entry(step, can) for step in steps]
    urls = {step.ours: entry["fullUrl"] for step, entry in zip(steps, entries, strict=True)}
    names = {**urls, **made.names}
    bundle = {
        "resourceType": "Bundle",
        "type": "transaction",
        "entry": [{**entry, "resource": rename(entry["resource"], names)} for entry in entries],
    }
    return server.send("POST", "", bundle, Prefer="return=minimal")


def _look_again(
    server: Connection, can: Capability, made: Plan, steps: Sequence[Step], receipt: Receipt, ours: str, policy: Policy
) -> None:
    again = plan(server, can, [(step.resource, step.key) for step in steps], ours, receipt, policy, made.names)
    for step, now in zip(steps, again.steps, strict=True):
        if step.action == "withdraw":
            continue
        if now.action == "update" and step.place is not None and now.version != step.version:
            now.action, now.why = "refused", "somebody changed it there at this moment: look at it, and send again"
        step.action, step.place, step.version, step.why = now.action, now.place, now.version, now.why
    made.names.update(again.names)


def _digest(step: Step, made: Plan, server: Connection) -> str:
    return digest_of(rename(body(step.resource), made.names), server.base)


def _note(said: Resource, steps: Sequence[Step], made: Plan, receipt: Receipt, where: str) -> None:
    """Take the server's ids and versions from its answer: in the order in which the entries were sent (R4, http)."""
    answers = [one.get("response") or {} for one in said.get("entry") or ()]
    if said.get("type") != "transaction-response" or len(answers) != len(steps):
        wrong = "its answer does not say what became of each entry"
        fix = "Send again: what is stored is not stored twice"
        raise Refusal(f"the server, {where}", "a transaction-response with an entry for each", fix, found=wrong)
    for step, answer in zip(steps, answers, strict=True):
        found = _VERSION.search(str(answer.get("location") or ""))
        if found is not None and found["type"] == step.key.type:
            step.place = f"{found['type']}/{found['id']}"
        etag = re.search(r'"([^"]+)"', str(answer.get("etag") or ""))
        version = (found and found["version"]) or (etag and etag[1]) or None
        if step.place is not None:
            made.names[step.ours] = step.place
            if step.action == "withdraw":
                receipt.forget(step.key.words)
        same = step.version is not None and version == step.version
        met = step.action == "create" and str(answer.get("status", "")).startswith("200")
        if same or met:
            step.action = "unchanged"
        step.version, step.why = version, "done"


__all__ = ["CHUNK", "send"]
