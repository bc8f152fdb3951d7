"""The entries of a CDA document as resources: which act is made into what, and the findings.

The templates are those of C-CDA (HL7/CDA-ccda@364e89a); an entry of another template is read by its class.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from lxml import etree

from woundfhir.catalogue import catalogue
from woundfhir.cda import statuses
from woundfhir.cda.acts import COMMENT, Context
from woundfhir.cda.care import Care
from woundfhir.cda.conditions import ALLERGY, ALLERGY_STATUS, PRESSURE_ULCER, PROBLEM, STATUS, WOUND, Conditions
from woundfhir.cda.datatypes import ASSERTION
from woundfhir.cda.tree import Element, kid, kids, templates
from woundfhir.maps import in_force
from woundfhir.r4.origin import Leaf, apart

Json = Any
COUNT, INDICATION = "76", "19"


class Entries(Conditions, Care):
    """Reads the entries of one document."""

    def read(self, context: Context) -> None:
        """Read all entries; what points at a wound comes after the wounds."""
        for section in kids(kid(self.tree.root, "component", "structuredBody"), "component"):
            self._section(kid(section, "section"), context)
        for element, around in self._later:
            self._care(element, around)

    def _section(self, section: Element | None, context: Context) -> None:
        if section is None:
            return
        context = self._around(section, context)
        if (why := self._no_fact(section)) is not None:
            self.tree.aside(section, *why)
            return
        entries = kids(section, "entry")
        for act in (act for entry in entries for act in entry):
            self._act(act, context)
        if not entries and not kids(section, "component") and self.tree.text(kid(section, "text")):
            self.source.inferred.append(f"{''.join(self.tree.at[section])}: words alone, with nothing coded: not read")
        for inner in kids(section, "component"):
            self._section(kid(inner, "section"), context)

    def _act(self, act: Element, context: Context) -> None:
        if not isinstance(act.tag, str) or (
            kid(act, "templateId") is None and act.get("classCode") is None and not len(act)
        ):
            return
        if (why := self._no_fact(act)) is not None:
            self.tree.aside(act, *why)
            return
        context, name, known = self._around(act, context), etree.QName(act).localname, templates(act)
        if name == "observation":
            self._observation(act, context, known)
        elif name == "organizer":
            self._organizer(act, context)
        elif name in ("procedure", "supply"):
            self._later.append((act, context))
        elif name == "act" and known & {"3", "30"}:
            self._inner(act, replace(context, concern=act))
        elif name == "act" and "12" in known:
            self._later.append((act, context))
        elif name == "act" and not known & {COMMENT}:
            self._inner(act, context)

    # -- findings ------------------------------------------------------------------------------

    def _observation(self, act: Element, context: Context, known: set[str]) -> None:
        if known & {STATUS, ALLERGY_STATUS, INDICATION}:
            return
        if ALLERGY in known:
            self._allergy(act, context)
        elif known & {WOUND, PRESSURE_ULCER, PROBLEM} or self._is_problem(act, context):
            self._condition(act, context, bool(known & {WOUND, PRESSURE_ULCER}))
        elif (act.get("negationInd") or "").strip() == "true":
            self.tree.aside(act, "negated", "negationInd: says that it was not so")
        else:
            self._finding(act, context, known)

    def _is_problem(self, act: Element, context: Context) -> bool:
        concern = context.concern
        return concern is not None and "3" in templates(concern) and kid(act, "value") is not None

    def _finding(self, act: Element, context: Context, known: set[str]) -> None:
        made = {
            **self._head("Observation", act, context, statuses.OBSERVATION),
            **self._when(act, "effective"),
            **self.types.value(kid(act, "value")),
            "code": self._question(act),
            "bodySite": self.types.site(kid(act, "targetSiteCode")),
            "method": self.types.concept(kid(act, "methodCode")),
            "interpretation": [self.types.concept(one) for one in kids(act, "interpretationCode")],
            "performer": [context.author] if context.author else [],
            "focus": [context.wound] if context.wound else [],
            "note": self._notes(act),
        }
        for extra in kids(act, "value")[1:]:
            self.tree.aside(extra, "not-understood", "a second value of one observation")
        if COUNT in known:
            made["component"] = [
                {"code": self.types.concept(kid(one, "code")), **self.types.value(kid(one, "value"))}
                for link in kids(act, "entryRelationship")
                if (one := kid(link, "observation")) is not None and self._no_fact(one) is None
            ]
        self._add(made, act)
        if COUNT not in known:
            self._inner(act, context)

    def _question(self, act: Element) -> Json:
        """The code of a finding; an assertion asks the one question that its value answers, if there is one."""
        code, value = self.types.concept(kid(act, "code")), kid(act, "value")
        if value is None or (kid(act, "code") is None or (kid(act, "code").get("code") or "").strip() != ASSERTION):  # type: ignore[union-attr]
            return code
        answered = self.types.concept(value) or {}
        plain, trace = apart(answered)
        for number, coding in enumerate(plain.get("coding", ())):
            if (asked := question(coding.get("system"), coding.get("code"))) is not None:
                at = trace["coding", number, "code"]
                added = {"system": Leaf(asked[0], at), "code": Leaf(asked[1], at)}
                return {**code, "coding": [*code["coding"], added]}
        return code

    def _organizer(self, act: Element, context: Context) -> None:
        code = self.types.concept(kid(act, "code"))
        if code is None:
            self._inner(act, context)
            return
        before = len(self.source.resources)
        self._inner(act, context)
        members = [one for one in self.source.resources[before:] if one["resourceType"] == "Observation"]
        if members:
            self._add({
                **self._head("Observation", act, context, statuses.OBSERVATION),
                **self.types.when(kid(act, "effectiveTime"), "effectiveDateTime", "effectivePeriod"),
                "code": code,
                "performer": [context.author] if context.author else [],
                "focus": [context.wound] if context.wound else [],
                "hasMember": [{"reference": f"Observation/{one['id']}"} for one in members],
            }, act)  # fmt: skip


def question(system: str | None, code: str | None) -> tuple[str, str] | None:
    """Return the code of the one finding of a wound that a coded value answers; None where none, or several, do.

    Examples
    --------
    >>> question("http://snomed.info/sct", "447547000")[1]
    '72288-4'
    """
    if system is None or code is None:
        return None
    means = [one.target for one in in_force().meaning(system, code) if one.read]
    lists = {target.name.partition("/")[0] for target in means if target is not None and target.kind == "answer"}
    asked = [one for one in catalogue().concepts() if one.group == "assessment" and one.of is None and one.answers]
    found = {one.codings[0].key for one in asked if one.answers is not None and one.answers.key in lists}
    # What several lists know is the answer of the one whose own code it is.
    own = {
        one.codings[0].key
        for one in asked
        if one.answers is not None and any((system, code) == each.key for w in one.answers.words for each in w.codings)
    }
    return next((next(iter(some)) for some in (found, own) if len(some) == 1), None)
