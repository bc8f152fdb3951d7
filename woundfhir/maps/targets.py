"""What a map's file may name as a target, checked against the catalogue."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from difflib import get_close_matches

from woundfhir.catalogue import PATHS, catalogue, per_catalogue
from woundfhir.errors import InputError
from woundfhir.maps.model import Target

_KINDS = ("concept", "answer", "code")
_EXPECTED = "a target such as concept:assessment.length, answer:wound_kind/pressure injury or code:dressing_change"


def named(kind: str, name: str, where: str) -> Target:
    """Return the target of a kind and a name.

    Raises
    ------
    InputError
        Where the catalogue has no such entry; names the nearest.

    Examples
    --------
    >>> named("answer", "wound_kind/pressure-injury", "site.tsv, line 2").name
    'wound_kind/pressure injury'
    """
    known = catalogue()
    options: list[str]
    if kind == "concept":
        if _has_concept(name):
            return Target("concept", name)
        options = [concept.path for concept in known.concepts(fields=True)]
    elif kind == "answer":
        listed, _, word = name.partition("/")
        answers = known.answers.get(listed)
        if answers is not None and (found := answers.find(word)) is not None:
            return Target("answer", found.key)
        options = [f"{listed}/{one.word}" for one in answers.words] if answers else list(known.answers)
    elif kind == "code":
        options = list(known.codes)
        if name in options:
            return Target("code", name)
    else:
        raise InputError(where, _EXPECTED, "See `woundfhir catalogue` for the names")
    close = get_close_matches(name, options, 3)
    fix = f"Did you mean {' or '.join(f'{kind}:{one}' for one in close)}?" if close else "See `woundfhir catalogue`"
    raise InputError(where, _EXPECTED, fix, found=f"the catalogue has no {kind} of this name: the map leads to nothing")


def _has_concept(path: str) -> bool:
    try:
        return catalogue().concept(path).path == path
    except KeyError:
        return False


def of_text(text: str, where: str) -> Target | None:
    """Return the target that ``kind:name`` names; None for what is a code of some system."""
    kind, _, name = text.partition(":")
    return named(kind, name, where) if kind in _KINDS else None


def of_code(system: str, code: str, where: str) -> list[Target]:
    """Return what one of the catalogue's own codes, or paths, stands for: a concept, or an answer of each list with it.

    Raises
    ------
    InputError
        Where the catalogue does not have the code, and where it has it for two concepts.
    """
    if system == PATHS:
        kind = "answer" if "/" in code else "concept" if "." in code else "code"
        return [named(kind, code, where)]
    found = list(_meanings().get((system, code), ()))
    concepts = [one for one in found if one.kind != "answer"]
    if not found:
        wrong = "the target is no code that the catalogue has: the map leads to nothing"
        raise InputError(where, _EXPECTED, "Name a concept or an answer of `woundfhir catalogue`", found=wrong)
    if len(concepts) > 1:
        close = " or ".join(one.id for one in concepts[:4])
        raise InputError(where, "one target", f"Name one of them: {close}", found="its code stands for several")
    return found


@per_catalogue()
def _meanings() -> Mapping[tuple[str, str], dict[Target, None]]:
    """Every code of the catalogue (system, code) -> what it stands for, each once: concepts, codes, then answers."""
    out: dict[tuple[str, str], dict[Target, None]] = {}
    for key, target in _coded():
        out.setdefault(key, {})[target] = None
    return out


def _coded() -> Iterator[tuple[tuple[str, str], Target]]:
    known = catalogue()
    for concept in known.concepts(fields=True):
        main = concept.of is not None and known.groups[concept.group][concept.of].main == concept.key
        if concept.codings and not main:
            yield concept.codings[0].key, Target("concept", concept.path)
    yield from ((coding.key, Target("code", name)) for name, coding in known.codes.items() if name != "none")
    for answers in known.answers.values():
        yield from ((key, Target("answer", word.key)) for key, word in answers.by_code.items())
