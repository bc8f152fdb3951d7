"""What every entry of a CDA document shares: what it inherits, whether it is a fact, its head, time and notes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from woundfhir.cda import statuses
from woundfhir.cda.datatypes import Types
from woundfhir.cda.header import Header, Ref
from woundfhir.cda.tree import Element, Tree, kid, kids, templates
from woundfhir.r4.origin import Leaf, Source, apart

Json = Any
COMMENT = "64"
_AT_FAULT = "a status that is not known"


@dataclass(frozen=True, slots=True)
class Context:
    """What an entry inherits from what stands around it."""

    client: Ref | None
    encounter: Ref | None
    author: Ref | None
    wound: Ref | None = None
    concern: Element | None = None


class Acts:
    """Makes resources of acts, and holds what they share."""

    def __init__(self, tree: Tree, source: Source, header: Header) -> None:
        self.tree, self.source, self.header = tree, source, header
        self.types = Types(tree)
        #: Ids of acts -> the wound or problem that was made of them, for what points at them.
        self.conditions: dict[str, Ref] = {}
        self._later: list[tuple[Element, Context]] = []

    def _around(self, element: Element, context: Context) -> Context:
        who = self.header.author(kid(element, "performer"), "assignedEntity") or self.header.author(
            kid(element, "author"), "assignedAuthor"
        )
        return replace(context, author=who) if who else context

    def _no_fact(self, element: Element) -> tuple[str, str] | None:
        """Why nothing in an element is a fact about the client, or None."""
        mood = (element.get("moodCode") or "EVN").strip()
        if kid(element, "subject") is not None:
            return "not-understood", "about somebody else: it names a subject of its own"
        if self.tree.null(element):
            return "not-understood", "nullFlavor: it says only that nothing is said"
        if mood in statuses.PLANNED:
            return "kept", f"moodCode {mood}: planned or wished, and no fact"
        return None if mood == "EVN" else ("not-understood", "moodCode: a code that is not known")

    def _inner(self, act: Element, context: Context) -> None:
        for name in ("entryRelationship", "component"):
            for link in kids(act, name):
                for inner in link:
                    self._act(inner, context)

    def _act(self, act: Element, context: Context) -> None:
        raise NotImplementedError

    def _known(self, code: Leaf | None, known: dict[str, str]) -> Leaf | None:
        """What a status says; one that is not known is reported."""
        if code is not None and code.value not in known:
            self.tree.source.report(code, "not-understood", _AT_FAULT)
            return None
        return Leaf(known[code.value], code.at) if code else None

    def _head(self, kind: str, act: Element, context: Context, known: dict[str, str] | None) -> dict[str, Json]:
        made: dict[str, Json] = {"resourceType": kind, "id": self.header.name(kind, act)}
        made["identifier"] = self.types.identifiers(act)
        if known is not None:
            said = self.tree.attribute(kid(act, "statusCode"), "code")
            made["status"] = "unknown" if said is None else Leaf(known.get(said.value, "unknown"), said.at)
            if said is not None and said.value not in known:
                made["status"] = Leaf("entered-in-error" if kind == "SupplyDelivery" else "unknown", said.at)
                self.tree.source.report(said, "not-understood", _AT_FAULT)
            if made["status"] == "unknown" and kind == "SupplyDelivery":
                del made["status"]
        made["subject"], made["encounter"] = context.client, context.encounter
        return made

    def _when(self, act: Element, name: str) -> dict[str, Json]:
        """The time of care. One that is written and cannot be read is not that of the document's visit."""
        written = kid(act, "effectiveTime")
        found = self.types.when(written, f"{name}DateTime", f"{name}Period")
        unread = written is not None and not found and not self.tree.null(written)
        return {"encounter": None} if unread else found

    def _notes(self, act: Element) -> list[Json]:
        out = []
        for link in kids(act, "entryRelationship"):
            one = kid(link, "act")
            if one is not None and COMMENT in templates(one) and (words := self.types.linked(kid(one, "text"))):
                out.append({"text": words})
        return out

    def _add(self, made: dict[str, Json], act: Element) -> Ref:
        """Add a resource; where another with the same id is something else, it gets a name of its own."""
        plain, _ = apart(made)
        known = next(
            (
                one
                for one in self.source.resources
                if one["resourceType"] == plain["resourceType"] and one["id"] == plain["id"]
            ),
            None,
        )
        if known is not None and not _one(known, plain):
            made["id"] = self.header.name(str(made["resourceType"]), act, alone=True)
            notice = "several entries have one id and say different things: they are kept apart"
            if notice not in self.source.notices:
                self.source.notices.append(notice)
        ref = self.source.add(made)
        self.source.spans[self.tree.at[act]] = ref["reference"]
        return ref


def _one(known: dict[str, Json], other: dict[str, Json]) -> bool:
    """Whether two entries with one id are one thing: a wound at one place, else the same in all that they say."""

    def agree(key: str) -> bool:
        return key not in known or key not in other or known[key] == other[key]

    if known["resourceType"] == "Condition":
        same_place = "bodySite" in known and known.get("bodySite") == other.get("bodySite")
        return agree("bodySite") and agree("verificationStatus") and (same_place or agree("code"))
    return all(agree(key) for key in other)
