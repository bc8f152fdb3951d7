"""The proposal as a draft note in YAML: each answer beside its words, what is less than certain as a comment."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.errors import escaped
from woundfhir.freetext.model import Proposal, Reading
from woundfhir.messages import translated
from woundfhir.record import History
from woundfhir.record.files import flow
from woundfhir.texts import tables

Json = Any
#: Groups of the record as they stand in the draft: where, and how far they are indented.
_ENTRY = ("assessment", "care", "plan")


def record(proposal: Proposal) -> Json:
    """Return the draft as a plain record that holds what is certain and nothing else.

    Examples
    --------
    >>> from woundfhir.freetext import read_text
    >>> record(read_text("no odour, edges rolled"))["visits"][0]["wounds"][0]["assessment"]
    {'odour': 'none', 'edge': ['rolled']}
    """
    groups: dict[str, dict[str, Json]] = {}
    for one in proposal.of("certain"):
        _put(groups, one)
    entry = {"wound": "W1", **{key: groups[key] for key in _ENTRY if key in groups}}
    visit = {"id": "V1", "status": "draft", **groups.get("visit", {})}
    if "client" in groups:
        visit["client"] = groups["client"]
    wound = {"id": "W1", "status": "open", **groups.get("wound", {})}
    return {"woundfhir": 1, "patient": {}, "wounds": [wound], "visits": [{**visit, "wounds": [entry]}]}


def history(proposal: Proposal) -> History:
    """Return the draft as a history."""
    return History.of(record(proposal), "proposal")


def _put(groups: dict[str, dict[str, Json]], one: Reading) -> None:
    group, key, *field = one.path.split(".")
    concept = catalogue().groups[group][key]
    answers = groups.setdefault(group, {})
    if field:
        answers.setdefault(key, {})[field[0]] = one.value
    elif one.value == "none" and concept.is_group:
        answers.setdefault(key, "none")
    elif concept.shape == "choices":
        if one.value not in answers.setdefault(key, []):
            answers[key].append(one.value)
    elif concept.shape == "share" and not isinstance(one.value, str):
        answers.setdefault(key, {}).update(one.value)
    elif concept.is_group and not isinstance(one.value, str):
        items = answers.setdefault(key, [])
        if isinstance(items, list) and items and not items[-1].keys() & one.value.keys():
            items[-1].update(one.value)
        elif isinstance(items, list):
            items.append(dict(one.value))
    else:
        answers[key] = one.value


def draft(proposal: Proposal) -> str:
    """Return the draft note as YAML text with comments; it can be read by every verb."""
    return "".join(f"{line}\n" for line in _lines(proposal, tables("woundfhir.freetext")["draft"]))


def _lines(proposal: Proposal, texts: dict[str, str]) -> Iterator[str]:
    for line in texts["head"].strip().splitlines():
        yield f"# {line}"
    for alarm in proposal.alarms:
        asked = texts["ask"].format(title=alarm.hazard.title, ask=alarm.hazard.ask, words=_words(proposal, alarm))
        yield f"# {asked}"
    data = record(proposal)
    visit = data["visits"][0]
    entry = visit["wounds"][0]
    yield "woundfhir: 1"
    yield "patient: {}"
    yield "wounds:"
    yield from _item(proposal, "wound", data["wounds"][0], "", texts)
    yield "visits:"
    yield from _item(proposal, "visit", {k: v for k, v in visit.items() if k not in ("client", "wounds")}, "", texts)
    if "client" in visit:
        yield "  client:"
        yield from _answers(proposal, "client", visit["client"], "    ", texts)
    yield "  wounds:"
    yield "  - wound: W1"
    for group in _ENTRY:
        if group in entry:
            yield f"    {group}:"
            yield from _answers(proposal, group, entry[group], "      ", texts)
        yield from _less(proposal, group, "    ", texts)
    for group in ("wound", "visit", "client"):
        yield from _less(proposal, group, "", texts)
    for start, end in proposal.unread:
        yield f"# {texts['unread'].format(words=_quoted(proposal.text[start:end]))}"


def _item(
    proposal: Proposal, group: str, answers: dict[str, Json], indent: str, texts: dict[str, str]
) -> Iterator[str]:
    """The keys of one wound or visit, as the item of a list."""
    for number, line in enumerate(_answers(proposal, group, answers, "", texts)):
        yield f"{indent}{'- ' if number == 0 else '  '}{line}"


def _answers(
    proposal: Proposal, group: str, answers: dict[str, Json], indent: str, texts: dict[str, str]
) -> Iterator[str]:
    for key, value in answers.items():
        words = [_words(proposal, one) for one in proposal.of("certain") if _at(one, group, key)]
        beside = "; ".join(dict.fromkeys(words))
        yield f"{indent}{key}: {flow(value)}" + (f"  # {texts['certain'].format(words=beside)}" if beside else "")


def _at(one: Reading, group: str, key: str) -> bool:
    return one.path == f"{group}.{key}" or one.path.startswith(f"{group}.{key}.")


def _less(proposal: Proposal, group: str, indent: str, texts: dict[str, str]) -> Iterator[str]:
    """What is less than certain, as comments."""
    for one in proposal.readings:
        if one.certainty != "certain" and one.path.startswith(f"{group}."):
            value = one.value if isinstance(one.value, str) else dict(one.value)
            shown = texts["less"].format(
                certainty=translated(one.certainty), why=translated(one.why), words=_words(proposal, one)
            )
            yield f"{indent}# {one.path.removeprefix(group + '.')}: {flow(value)}  # {shown}"


def _words(proposal: Proposal, one: Any) -> str:
    return _quoted(proposal.words(one))


def _quoted(text: str) -> str:
    return f'"{escaped(" ".join(text.split()), 120)}"'


def plain(proposal: Proposal) -> Json:
    """Return everything for a program: the draft, readings with words and places, hazards, words not read."""
    return {
        "version": 1,
        "note": record(proposal),
        "readings": [
            {
                "path": one.path,
                "value": one.value if isinstance(one.value, str) else dict(one.value),
                "certainty": one.certainty,
                "why": one.why,
                "words": proposal.words(one),
                "start": one.start,
                "end": one.end,
            }
            for one in proposal.readings
        ],
        "hazards": [
            {"key": one.hazard.key, "title": one.hazard.title, "ask": one.hazard.ask, "words": proposal.words(one)}
            for one in proposal.alarms
        ],
        "unread": [proposal.text[start:end] for start, end in proposal.unread],
    }
