"""A new note as YAML: just what this visit asks, each line with its question, stable facts carried and marked."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.errors import InputError, escaped
from woundfhir.newnote.asked import Line, data, lines
from woundfhir.newnote.carried import Carried
from woundfhir.record.files import flow
from woundfhir.record.spoken import word

Json = Any
#: A comment is cut at this column; `explain` has the rest.
_COLUMNS = 118


def new_note(
    kind: str | None = None,
    purpose: str = "dressing change",
    *,
    site: str | None = None,
    carried: Carried | None = None,
    schema: str | None = None,
) -> str:
    """Return a new note to fill in.

    Parameters
    ----------
    kind, site
        Of the wound; from the last note where one is carried.
    purpose
        ``dressing change``, ``full assessment`` or ``first assessment``.
    carried
        What the last notes say that still holds.
    schema
        Where an editor finds the JSON Schema; without it no line for editors is written.

    Raises
    ------
    InputError
        For a purpose or a kind of wound that is not known.

    Examples
    --------
    >>> text = new_note("skin tear", "dressing change", site="forearm")
    >>> text.splitlines()[0]
    '# A new note: skin tear; dressing change. Fill in what you saw and did; a line left empty is not written.'
    """
    known = carried or Carried()
    wound = {**known.wound, **({"kind": _word("wound.kind", kind)} if kind else {}), **({"site": site} if site else {})}
    purposes = data()["purposes"].get(_purpose(purpose))
    if purposes is None:
        raise InputError("--purpose", ", ".join(data()["purposes"]), "Choose one of them")
    if "kind" not in wound:
        raise InputError("--kind", "a kind of wound such as 'skin tear'", "See `woundfhir explain wound.kind`")
    asked = lines(wound, purposes)
    return "".join(f"{line.rstrip()}\n" for line in _lines(wound, purposes, asked, known, schema))


def _word(path: str, text: str) -> str:
    """A word of the answer list of a concept; another word is refused, since what is asked depends on it."""
    answers = catalogue().concept(path).answers
    found = answers.find(text) if answers else None
    if found is None:
        raise InputError(f"--{path.rsplit('.')[-1]}", "a word of its list", f"See `woundfhir explain {path}`")
    return str(found.shown)


def _purpose(text: str) -> str:
    """A purpose by its English word."""
    answers = catalogue().concept("visit.purpose").answers
    found = answers.find(text) if answers else None
    return text if found is None else found.word


def _shown(purposes: Sequence[str]) -> list[str]:
    """Purposes in the language that holds."""
    return [word(catalogue().concept("visit.purpose"), one) for one in purposes]


def _lines(
    wound: dict[str, Json], purposes: Sequence[str], asked: dict[str, list[Line]], known: Carried, schema: str | None
) -> Iterator[str]:
    texts = data()["texts"]
    if schema is not None:
        yield f"# {texts['schema'].format(schema=escaped(schema))}"
    head = (
        texts["head"].format(kind=escaped(str(wound["kind"])), purpose=", ".join(_shown(purposes))).strip().splitlines()
    )
    yield from (f"# {part}" for line in head for part in textwrap.wrap(line, _COLUMNS - 2))
    yield "woundfhir: 1"
    yield from _patient(known)
    yield "wounds:"
    yield from _wound(wound, asked.get("wound", []), known)
    yield "visits:"
    yield from _visit(purposes, asked, known)
    yield "  wounds:"
    yield f"  - wound: {flow(wound.get('id', 'W1'))}"
    for group in ("assessment", "care"):
        yield f"    {group}:"
        yield from _group(asked.get(group, []), known, "      ")
    yield f"    supplies: [{{item: , quantity: }}]  # {texts['supplies']}"
    yield "    plan:"
    yield from _group(asked.get("plan", []), known, "      ")


#: What each note asks of the client -> how it stands there unanswered.
_CLIENT = {"identifiers": "[{system: , value: }]", "name": "{family: , given: []}", "born": "", "allergies": ""}


def _patient(known: Carried) -> Iterator[str]:
    yield "patient:"
    mark = data()["texts"]["carried"].format(note=data()["texts"]["record"])
    asked = data()["patient"]
    for key, blank in _CLIENT.items():
        if key in known.patient:
            yield f"  {key}: {flow(known.patient[key])}  # {mark}"
        else:
            yield f"  {key}: {blank}  # {asked[key]}"
    for key, value in known.patient.items():
        if key not in _CLIENT:
            yield f"  {key}: {flow(value)}  # {mark}"


def _wound(wound: dict[str, Json], asked: list[Line], known: Carried) -> Iterator[str]:
    mark = data()["texts"]["carried"].format(note=data()["texts"]["record"])
    yield f"- id: {flow(wound.get('id', 'W1'))}"
    yield f"  status: {flow(wound.get('status', 'open'))}"
    written = {key: value for key, value in wound.items() if key not in ("id", "status")}
    for key, value in written.items():
        yield f"  {key}: {flow(value)}" + (f"  # {mark}" if key in known.wound else "")
    for line in asked:
        if line.concept.key not in written:
            yield from _line(line, "  ")


def _visit(purposes: Sequence[str], asked: dict[str, list[Line]], known: Carried) -> Iterator[str]:
    yield f"- id: {flow(known.visit)}"
    asked_of = data()["visit"]
    yield f"  at:   # {asked_of['at']}"
    yield f"  written:   # {asked_of['written']}"
    yield f"  by: {{id: , name: , designation: }}  # {asked_of['by']}"
    yield f"  status: draft  # {asked_of['status']}"
    yield f"  purpose: {flow(_shown(purposes))}"
    yield from _group([one for one in asked.get("visit", []) if one.concept.key != "purpose"], known, "  ")
    if asked.get("client"):
        yield "  client:"
        yield from _group(asked["client"], known, "    ")


def _group(asked: list[Line], known: Carried, indent: str) -> Iterator[str]:
    for line in asked:
        if line.concept.path in known.answers:
            value, note = known.answers[line.concept.path]
            mark = data()["texts"]["carried"].format(note=escaped(note))
            yield f"{indent}{line.concept.key}: {flow(value)}  # {mark}"
        elif line.concept.path == "care.packing" and known.packing:
            said = "; ".join(_went_in(item) for item in known.packing)
            yield f"{indent}# {data()['texts']['last_packing'].format(note=known.packed_in, said=escaped(said))}"
            yield from _line(line._replace(when=""), indent)
        else:
            yield from _line(line, indent)


def _went_in(item: dict[str, str]) -> str:
    """``packing strip, pieces_in 1, length 20 cm``: what is inside, without what came out then."""
    kept = {key: value for key, value in item.items() if key in ("material", "pieces_in", "length", "location")}
    return ", ".join(str(value) if key == "material" else f"{key} {value}" for key, value in kept.items())


def _line(line: Line, indent: str) -> Iterator[str]:
    concept = line.concept
    texts = data()["texts"]
    question = texts["words"].format(question=concept.question, words=_choices(concept)).strip()
    when = f"{texts['when'].format(when=line.when)}. " if line.when else ""
    start = f"{indent}{concept.key}: {_blank(line)}  # "
    # What most notes do not need is a comment itself: take the first # away to use it.
    if line.when and concept.role == "required" and concept.fields:
        start = f"{indent}# {concept.key}: {_blank(line)}  # "
    if len(start) > _COLUMNS - 30:
        yield f"{indent}# {_short(f'{when}{question}', _COLUMNS - len(indent) - 2)}"
        yield start + str(texts["above"])
    else:
        yield start + _short(f"{when}{question}", _COLUMNS - len(start))


def _blank(line: Line) -> str:
    concept = line.concept
    if line.fields:
        inner = ", ".join(f"{key}: {'[]' if concept.fields[key].shape == 'choices' else ''}" for key in line.fields)
        return f"[{{{inner}}}]" if concept.many else f"{{{inner}}}"
    return {"choices": "[]", "share": "{}"}.get(concept.shape, "")


def _choices(concept: Concept) -> str:
    if concept.asked is not None and (concept.fields or concept.shape in ("share", "quantity", "interval", "date")):
        return concept.asked.example.partition(": ")[2]
    if concept.answers is None:
        return ""
    words = [one.shown for one in concept.answers.words]
    return ("; " if any("," in one for one in words) else ", ").join(words)


def _short(text: str, room: int) -> str:
    """Cut at a word; `explain` has the rest."""
    if len(text) <= room:
        return text
    return f"{text[: max(room - 4, 12)].rsplit(' ', 1)[0].rstrip(',;')} {data()['texts']['more']}"
