"""A site's own words for what our answer lists call by another: read as those, so that every rule can look."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.catalogue import ENTRY_GROUPS, ENTRY_LISTS, Concept, catalogue
from woundfhir.catalogue.spelling import same_form
from woundfhir.errors import InputError
from woundfhir.record import History

Json = Any
#: Answer list -> how a word of the site is spelt (``same_form``) -> the word of the list.
Words = Mapping[str, Mapping[str, str]]


def in_our_words(history: History, words: Mapping[str, Mapping[str, str]], where: str) -> History:
    """Return a history in which a site's words are those of our lists.

    Parameters
    ----------
    history
        The record; it is not changed.
    words
        Path of a data element -> word of the site -> word of its answer list.
    where
        The file, for messages.

    Raises
    ------
    InputError
        For a data element without a list, and a word that its list does not know.

    Examples
    --------
    >>> raw = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1", "kind": "hole in the leg"}]}
    >>> in_our_words(History.of(raw), {"wound.kind": {"Hole in the leg": "leg ulcer"}}, "site.toml").wounds[0]["kind"]
    'leg ulcer'
    """
    if not words:
        return history
    spelt: dict[str, dict[str, str]] = {}
    for path, table in words.items():
        key, found = _checked(path, table, where)
        spelt.setdefault(key, {}).update(found)
    groups = catalogue().groups
    wounds = [{**wound, **_group(groups["wound"], wound, spelt)} for wound in history.wounds]
    visits = []
    for visit in history.visits:
        made = {**visit, **_group(groups["visit"], visit, spelt)}
        if "client" in visit:
            made["client"] = {**visit["client"], **_group(groups["client"], visit["client"], spelt)}
        if "wounds" in visit:
            made["wounds"] = [_entry(entry, spelt) for entry in visit["wounds"]]
        visits.append(made)
    return History({**history.data, "wounds": wounds, "visits": visits}, history.source)


def _checked(path: str, table: Mapping[str, str], where: str) -> tuple[str, dict[str, str]]:
    """Return the answer list of a concept, and the words of the table; the same list may serve several concepts."""
    try:
        answers = catalogue().concept(path).answers
    except (KeyError, ValueError):
        answers = None
    if answers is None:
        expected = "data elements with an answer list, such as care.primary_dressing.dressing"
        raise InputError(f"{where}, words", expected, "See `woundfhir explain`")
    see = f"See `woundfhir explain {path}`"
    for own, ours in table.items():
        if answers.find(ours) is None:
            raise InputError(f"{where}, words.{path}", "a word of its list behind each =", see)
        if answers.find(own) is not None:
            raise InputError(f"{where}, words.{path}", "words that its list does not know before each =", see)
    return answers.key, {same_form(own): ours for own, ours in table.items()}


def _entry(entry: Mapping[str, Json], words: Words) -> dict[str, Json]:
    groups, out = catalogue().groups, dict(entry)
    for key in ENTRY_GROUPS:
        if key in entry:
            out[key] = {**entry[key], **_group(groups[key], entry[key], words)}
    for key, group in ENTRY_LISTS.items():
        if key in entry:
            out[key] = [{**one, **_group(groups[group], one, words)} for one in entry[key]]
    return out


def _group(concepts: Mapping[str, Concept], answers: Mapping[str, Json], words: Words) -> dict[str, Json]:
    return {key: _in_words_of_ours(concepts[key], value, words) for key, value in answers.items() if key in concepts}


def _in_words_of_ours(concept: Concept, value: Json, words: Words) -> Json:
    """Return an answer with the words of the site in it as those of the concept's list."""
    known = words.get(concept.answers.key, {}) if concept.answers is not None else {}
    if isinstance(value, str):
        return known.get(same_form(value), value)
    if isinstance(value, list):
        return [_in_words_of_ours(concept, one, words) for one in value]
    if not isinstance(value, dict):
        return value
    if concept.fields:
        return {**value, **_group(concept.fields, value, words)}
    return {known.get(same_form(word), word): amount for word, amount in value.items()}
