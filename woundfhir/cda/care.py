"""Care and supplies: the procedure activity, non-medicinal supply and product instance templates of C-CDA."""

from __future__ import annotations

from typing import Any

from lxml import etree

from woundfhir.cda import statuses
from woundfhir.cda.acts import Acts, Context
from woundfhir.cda.tree import Element, key_of, kid, kids
from woundfhir.fhir.terms import terms
from woundfhir.r4.origin import Leaf

Json = Any


class Care(Acts):
    """Makes Procedures and SupplyDeliveries."""

    def _care(self, act: Element, context: Context) -> None:
        if etree.QName(act).localname == "supply":
            self._supply(act, context)
            return
        denied = self.tree.attribute(act, "negationInd")
        made = {
            **self._head("Procedure", act, context, statuses.PROCEDURE),
            **self._when(act, "performed"),
            "code": self.types.concept(kid(act, "code")),
            "bodySite": [self.types.site(one) for one in kids(act, "targetSiteCode")],
            "performer": [{"actor": context.author}] if context.author else [],
            "usedCode": [found for one in kids(act, "participant") if (found := self._product(one)) is not None],
            "note": self._notes(act),
        }
        if denied is not None and denied.value == "true":
            made["status"] = Leaf("not-done", denied.at)
        reasons = self._reasons(act, context)
        made["reasonReference"] = [one for one in reasons if "reference" in one]
        made["reasonCode"] = [one for one in reasons if "reference" not in one]
        self._add(made, act)
        self._inner(act, context)

    def _reasons(self, act: Element, context: Context) -> list[Json]:
        """The wound around it, or the entries that it names as its reason; a reason in words is no wound."""
        out: list[Json] = [context.wound] if context.wound else []
        for link in kids(act, "entryRelationship"):
            for one in link:
                ids = [self.conditions[key_of(named)] for named in kids(one, "id") if key_of(named) in self.conditions]
                if ids and ids[0] not in out:
                    out.append(ids[0])
                elif not ids and link.get("typeCode") == "RSON" and (said := self.types.concept(kid(one, "value"))):
                    out.append(said)
        return out

    def _product(self, participant: Element) -> Json:
        """What is used: the device, or the manufactured product, that a participant plays."""
        role = kid(participant, "participantRole")
        for name in ("playingDevice", "playingEntity"):
            code = self.types.concept(kid(role, name, "code"))
            if code is not None:
                return code
            if words := self.tree.text(kid(role, name, "name")) or self.tree.text(
                kid(role, name, "manufacturerModelName")
            ):
                return {"text": words}
        return None

    def _supply(self, act: Element, context: Context) -> None:
        if (act.get("negationInd") or "").strip() == "true":
            self.tree.aside(act, "negated", "negationInd: says that it was not so")
            return
        head = self._head("SupplyDelivery", act, context, statuses.SUPPLY)
        head["patient"] = head.pop("subject", None)
        head.pop("encounter", None)
        item = next((found for one in kids(act, "participant") if (found := self._product(one)) is not None), None)
        quantity = self.types.quantity(kid(act, "quantity"))
        wounds = [one for one in self._reasons(act, context) if "reference" in one]
        url = terms().ext("supply-wound")
        made = {
            **head,
            **self._when(act, "occurrence"),
            "suppliedItem": {"quantity": quantity, "itemCodeableConcept": item or self.types.concept(kid(act, "code"))},
            "supplier": context.author,
            "extension": [{"url": url, "valueReference": wounds[0]}] if len(wounds) == 1 else [],
        }
        self._add(made, act)
        self._inner(act, context)
