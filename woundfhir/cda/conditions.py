"""Wounds, problems and allergies: the wound observation, pressure ulcer, problem and allergy templates of C-CDA."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from woundfhir.cda import statuses
from woundfhir.cda.acts import Acts, Context
from woundfhir.cda.datatypes import NULL_FLAVOR
from woundfhir.cda.tree import Element, key_of, kid, kids, templates
from woundfhir.fhir.terms import terms
from woundfhir.r4.origin import Leaf, Position, apart

Json = Any
WOUND, PRESSURE_ULCER, PROBLEM, ALLERGY = "114", "70", "4", "7"
STATUS, ALLERGY_STATUS = "6", "28"
_SYSTEMS = "http://terminology.hl7.org/CodeSystem/"
#: Kind of resource -> the system of its clinical status, and that of its verification status (R4).
_CLINICAL = {
    "Condition": f"{_SYSTEMS}condition-clinical",
    "AllergyIntolerance": f"{_SYSTEMS}allergyintolerance-clinical",
}
_VERIFICATION = {
    "Condition": f"{_SYSTEMS}condition-ver-status",
    "AllergyIntolerance": f"{_SYSTEMS}allergyintolerance-verification",
}


class Conditions(Acts):
    """Makes Conditions and AllergyIntolerances."""

    def _condition(self, act: Element, context: Context, wound: bool) -> None:
        value = kid(act, "value")
        denied = self.tree.attribute(act, "negationInd")
        negated = denied is not None and denied.value == "true"
        code = self.types.concept(value)
        if wound and value is not None and self.tree.null(value) and code and "text" not in _plain(code):
            code = code if _plain(code).get("coding", [{}])[0].get("system") != NULL_FLAVOR else None
        made = {
            **self._head("Condition", act, context, None),
            **self._clinical("Condition", act, context, STATUS),
            "code": code,
            "bodySite": [self.types.site(one) for one in kids(act, "targetSiteCode")],
            "recorder": context.author,
            "note": self._notes(act),
        }
        if wound:
            at = self.tree.attribute(kid(act, "templateId"), "root")
            assert at is not None
            made["category"] = [_coded(terms().code_key("wound_category"), at.at)]
        if negated and denied is not None:
            if value is not None and (value.get("code") or "").strip() in statuses.NO_PROBLEM:
                made["code"] = _none_known("no_known_conditions", denied, self.tree.attribute(value, "code"))
            else:
                made["verificationStatus"] = _coded((_VERIFICATION["Condition"], "refuted"), denied.at)
        ref = self._add(made, act)
        for one in kids(act, "id"):
            self.conditions.setdefault(key_of(one), ref)
        self._inner(act, replace(context, wound=ref if wound or context.wound is None else context.wound, concern=None))

    def _clinical(self, kind: str, act: Element, context: Context, status_template: str) -> dict[str, Json]:
        """When it began and ended, and whether it is still there: its own status, its end, else its concern's."""
        times = kid(act, "effectiveTime")
        began = self.types.time("onsetDateTime", kid(times, "low") if kid(times, "low") is not None else times)
        ended = self.types.time("abatementDateTime", kid(times, "high"))
        said: Leaf | None = None
        for link in kids(act, "entryRelationship"):
            one = kid(link, "observation")
            if one is not None and status_template in templates(one):
                code = self.tree.attribute(kid(one, "value"), "code")
                said = self._known(code, statuses.PROBLEM)
        high, state = kid(times, "high"), self.tree.attribute(kid(context.concern, "statusCode"), "code")
        tracked = self._known(state, statuses.CONCERN)
        if said is None and high is not None:
            at = self.tree.attribute(high, "value") or self.tree.attribute(high, "nullFlavor")
            said = Leaf("resolved", at.at) if at and at.value not in ("NA", "NI") else None
        said = said or tracked
        own = self.tree.attribute(kid(act, "statusCode"), "code")
        out: dict[str, Json] = {**began, **ended}
        if own is not None and own.value in ("nullified", "aborted", "cancelled"):
            return {**out, "verificationStatus": _coded((_VERIFICATION[kind], "entered-in-error"), own.at)}
        if said is not None:
            out["clinicalStatus"] = _coded((_CLINICAL[kind], said.value), said.at)
        return out

    # -- allergies -----------------------------------------------------------------------------

    def _allergy(self, act: Element, context: Context) -> None:
        entity = kid(act, "participant", "participantRole", "playingEntity")
        substance = self.types.concept(kid(entity, "code"))
        if substance is None and (name := self.tree.text(kid(entity, "name"))):
            substance = {"text": name}
        value, denied = kid(act, "value"), self.tree.attribute(act, "negationInd")
        times = self._clinical("AllergyIntolerance", act, context, ALLERGY_STATUS)
        head = self._head("AllergyIntolerance", act, context, None)
        head["patient"] = head.pop("subject", None)
        made = {
            **head,
            **{key: item for key, item in times.items() if not key.startswith(("abatement", "_abatement"))},
            "code": substance,
            "recorder": context.author,
            "reaction": self._reactions(act),
            "note": self._notes(act),
        }
        if denied is not None and denied.value == "true":
            named = substance is not None and kid(entity, "code") is not None and kid(entity, "code").get("code")  # type: ignore[union-attr]
            if not named and value is not None and (value.get("code") or "").strip() in statuses.NO_ALLERGY:
                made["code"] = _none_known("no_known_allergies", denied, self.tree.attribute(value, "code"))
            else:
                made["verificationStatus"] = _coded((_VERIFICATION["AllergyIntolerance"], "refuted"), denied.at)
        elif substance is None:
            self.tree.aside(act, "not-understood", "an allergy to nothing that is named")
            return
        self._add(made, act)

    def _reactions(self, act: Element) -> list[Json]:
        out = []
        for link in kids(act, "entryRelationship"):
            one = kid(link, "observation")
            if (
                one is not None
                and "9" in templates(one)
                and self._no_fact(one) is None
                and one.get("negationInd") != "true"
            ) and (found := self.types.concept(kid(one, "value"))) is not None:
                out.append({"manifestation": [found]})
        return out


def _plain(concept: Json) -> dict[str, Json]:
    plain: dict[str, Json] = apart(concept)[0]
    return plain


def _none_known(name: str, denied: Leaf, code: Leaf | None) -> Json:
    return _coded(terms().code_key(name), (*denied.at, *(code.at if code else ())))


def _coded(key: tuple[str, str], at: tuple[Position, ...]) -> Json:
    """A CodeableConcept of one code, which stands where the source says it."""
    system, code = key
    return {"coding": [{"system": Leaf(system, at), "code": Leaf(code, at)}]}
