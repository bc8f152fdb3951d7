"""The form written: one wound at one visit as a QuestionnaireResponse; ``form_reading.py`` is the way back.

The Questionnaire itself is generated from the same catalogue (``profiles/Questionnaire-wound-visit.json``). Every
answer stands in ``value[x]`` of an item that can be seen, and none in an extension of ours: what another program shows
and saves again still says what the nurse answered.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from woundfhir.catalogue import ENTRY_GROUPS, Concept
from woundfhir.errors import InputError
from woundfhir.fhir import form_items as items
from woundfhir.fhir.elements import write_date
from woundfhir.fhir.form_known import is_form, names_form, place
from woundfhir.fhir.form_reading import read_response
from woundfhir.fhir.resources.people import write_author
from woundfhir.fhir.shapes.base import unit_option
from woundfhir.fhir.shapes.words import write_option
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import Terms, terms
from woundfhir.fhir.write_context import VisitContext, WriteContext
from woundfhir.record import History

__all__ = ["is_form", "names_form", "place", "read_response", "write_response"]

Json = Any
Item = dict[str, Json]
_STATUS = {
    "draft": "in-progress",
    "final": "completed",
    "amended": "amended",
    "entered in error": "entered-in-error",
    None: "completed",
}


def write_response(history: History, visit_id: str, wound_id: str) -> dict[str, Json]:
    """Return one wound at one visit as a QuestionnaireResponse.

    Parameters
    ----------
    history
        One client's record.
    visit_id, wound_id
        Ids of the visit and of a wound seen at it.

    Raises
    ------
    InputError
        When the record does not hold that wound at that visit.
    """
    visit = next((v for v in history.visits if v["id"] == visit_id), None)
    entry = next((e for e in (visit or {}).get("wounds", ()) if e["wound"] == wound_id), None)
    wound = history.wound(wound_id)
    if visit is None or entry is None or wound is None:
        raise InputError("the record", "this wound at this visit", "See the ids in the record")
    compiled = terms()
    out = WriteContext(history, compiled)
    context = VisitContext(out, visit, write_author(out, visit.get("by")), wound_id)
    made: dict[str, Json] = {
        "resourceType": "QuestionnaireResponse",
        "id": out.id("QuestionnaireResponse", context.place),
    }
    made["identifier"] = {"system": out.system, "value": context.place}
    made["questionnaire"] = f"{compiled.catalogue.bases[-1]}/Questionnaire/{items.NAME}"
    made["status"] = _STATUS[visit.get("status")]
    made["subject"] = out.patient
    made["encounter"] = context.encounter
    made.update(write_date("authored", visit.get("at"), compiled.written_as))
    if context.author:
        made["author"] = context.author
    made["item"] = list(_Writer(compiled, wound, visit, entry).all())
    return made


class _Writer:
    """The items of one response, in the order of the Questionnaire."""

    def __init__(
        self, compiled: Terms, wound: Mapping[str, Json], visit: Mapping[str, Json], entry: Mapping[str, Json]
    ) -> None:
        self.compiled, self.wound, self.visit, self.entry = compiled, wound, visit, entry
        #: Whether the part that is written needs the items that say why, or in other words.
        self.more = False

    def all(self) -> Iterator[Item]:
        """Yield the parts."""
        parts = {
            "visit": self.visit,
            "wound": self.wound,
            "client": self.visit.get("client", {}),
            **{group: self.entry.get(group, {}) for group in ENTRY_GROUPS},
        }
        for group in items.SECTIONS:
            if group != "supply":
                yield from self._part(group, parts[group])
            elif supplies := self.entry.get("supplies", ()):
                yield _item(items.SUPPLIES, [self._yes()])
                for supply in supplies:
                    yield from self._part(group, supply)
        if "note" in self.entry:
            yield _in_words(items.ENTRY_NOTE, self.entry["note"])

    def _part(self, group: str, answers: Mapping[str, Json]) -> Iterator[Item]:
        self.more = False
        inner = [
            *self._framed(group, items.BEFORE, answers),
            *self._questions(self.compiled.groups[group], answers),
            *self._framed(group, items.BEHIND, answers),
        ]
        if self.more:
            inner.insert(0, _item(group + items.MORE, [{"valueBoolean": True}]))
        if inner:
            yield {"linkId": group, "item": inner}

    def _framed(self, group: str, keys: Mapping[str, tuple[str, ...]], answers: Mapping[str, Json]) -> Iterator[Item]:
        for key in keys.get(group, ()):
            link = items.framed(group, key)
            if key in answers and (group, key) == ("wound", "status"):
                yield _item(link, [{"valueCoding": {**items.STATUS[answers[key]].fhir(), "display": answers[key]}}])
            elif key in answers:
                yield _in_words(link, answers[key])
        if group == "visit" and keys is items.BEFORE and (by := answers.get("by")):
            inner = [_in_words(f"{items.BY}.{key}", by[key]) for key in items.AUTHOR if key in by]
            yield {"linkId": items.BY, "item": inner}

    def _questions(self, known: Mapping[str, Term], answers: Mapping[str, Json]) -> Iterator[Item]:
        for condition, concepts in items.laid_out(term.concept for term in known.values()):
            asked = [known[one.key] for one in concepts if one.key in answers]
            if asked and items.is_set(asked[0].concept):
                yield from self._set(asked[0], answers[asked[0].concept.key])
                continue
            made = [item for term in asked for item in self._leaf(term, answers[term.concept.key])]
            own = [item for item in made if ":" not in item["linkId"]]
            beside = [item for item in made if ":" in item["linkId"]]
            if own and condition is not None:
                own = [{"linkId": items.wrapper(concepts[0].group, condition), "item": own}]
            yield from (*beside, *own) if items.reasons_first(concepts) else (*own, *beside)

    def _leaf(self, term: Term, answer: Json) -> list[Item]:
        path = term.concept.path
        if isinstance(answer, dict):
            return [self._why(path, answer["absent"])]
        several = answer if isinstance(answer, list) else [answer]
        values = [self._value(term, one) for one in several] if self._shown(term.concept) else []
        typed = [value for value in values if value is not None]
        return self._typed(path, several, typed, term.concept)

    def _typed(self, path: str, said: list[str], typed: list[Json], concept: Concept) -> list[Item]:
        """Return the question's own item, and the words where its type cannot say all of it, or not in these words."""
        made = [_item(path, typed)] if len(typed) == len(said) else []
        if made and all(in_these_words(value) for value in typed):
            return made
        self.more = True
        words = _item(path + items.WORDS, [{"valueString": one} for one in said])
        return [words] if items.required(concept) else [*made, words]

    def _value(self, term: Term, answer: str) -> Json:
        return term.shape.write_item(term.concept, term.codec, self.compiled.catalogue, answer)

    def _why(self, path: str, reason: str) -> Item:
        self.more = True
        return _item(path + items.WHY, [write_option(self.compiled.reasons.answers, reason) or {"valueString": reason}])

    def _set(self, term: Term, answer: Json) -> Iterator[Item]:
        """Yield a group, once for each of its sets of answers, behind whether there is any of it."""
        path, shares = term.concept.path, term.spread == "shares"
        if isinstance(answer, str):
            if answer == "none" and not shares:
                yield _item(path + items.ANY, [{"valueCoding": {**self._none(), "display": answer}}])
            else:
                self.more = True
                yield _item(path + items.WORDS, [{"valueString": answer}])
        elif "absent" in answer:
            yield self._not_any(path, answer["absent"])
        else:
            yield _item(path + items.ANY, [self._yes()])
            if shares:
                for word, amount in answer.items():
                    inner = [_item(f"{path}.word", [self._value(term, word)])]
                    yield {"linkId": path, "item": [*inner, *self._share(f"{path}.share", amount)]}
                return
            for one in answer if isinstance(answer, list) else [answer]:
                inner = list(self._questions(term.fields, one))
                if "note" in one and "note" not in term.fields:
                    inner.append(_in_words(path + items.NOTE, one["note"]))
                yield {"linkId": path, "item": inner}

    def _share(self, path: str, amount: Json) -> list[Item]:
        if isinstance(amount, dict):
            return [self._why(path, amount["absent"])]
        value = self._value(self.compiled.share_part, amount)
        return self._typed(path, [amount], [value] if value else [], self.compiled.share_part.concept)

    def _not_any(self, path: str, reason: str) -> Item:
        option = write_option(self.compiled.reasons.answers, reason)
        if option and option["valueCoding"]["code"] == items.NOT_LOOKED:
            return _item(path + items.ANY, [option])
        return self._why(path, reason)

    def _yes(self) -> Json:
        return write_option(self.compiled.catalogue.answers["yes_no"], "yes")

    def _none(self) -> Json:
        return self.compiled.coding("none").fhir()

    # -- which questions are shown -----------------------------------------------------------------

    def _shown(self, concept: Concept) -> bool:
        """Whether the answers of this response show a question: an answer to one that is hidden stands in words."""
        name = items.condition(concept)
        if name is None:
            return True
        if name in items.KINDS:
            return bool(self._answered([items.kind_of_wound(self.compiled).path], items.kinds(self.compiled, name)))
        found = self._answered(items.ANSWERED[name])
        none = self._none()
        return any(value.get("valueCoding", {}).get("code") != none["code"] for value in found) or (
            bool(found) and name not in items.NOT_NONE
        )

    def _answered(self, paths: Iterable[str], codings: Json = None) -> list[Json]:
        """Return the typed answers to some questions, of these codes where they are given."""
        found = []
        for path in paths:
            group, _, key = path.partition(".")
            answers = self.wound if group == "wound" else self.entry.get(group, {})
            said = answers.get(key)
            if said is None or isinstance(said, dict):
                continue
            term = self.compiled.groups[group][key]
            found += [self._value(term, one) for one in (said if isinstance(said, list) else [said])]
        keys = None if codings is None else {coding.key for coding in codings}
        return [value for value in found if value is not None and (keys is None or _key(value) in keys)]


def in_these_words(value: Mapping[str, Json]) -> bool:
    """Whether a typed answer has its unit in the words in which the form offers it."""
    amount = value.get("valueQuantity", {})
    offered = unit_option(amount["code"])["display"] if "code" in amount else None
    return bool(amount.get("unit") == offered)


def _key(value: Mapping[str, Json]) -> tuple[Json, Json]:
    coding = value.get("valueCoding", {})
    return coding.get("system"), coding.get("code")


def _item(link: str, answers: list[Json]) -> Item:
    return {"linkId": link, "answer": answers}


def _in_words(link: str, text: str) -> Item:
    return _item(link, [{"valueString": text}])
