"""ORU^R01 as FHIR resources: clients, visits and findings, with what replaces what."""

from __future__ import annotations

from collections import Counter
from typing import Any

from woundfhir.errors import InputError
from woundfhir.fhir.terms import terms
from woundfhir.fhir.time_in_digits import time_in_digits
from woundfhir.maps import in_force
from woundfhir.r4.nullflavor import ABSENT
from woundfhir.r4.origin import Leaf, Position, Source, apart, reason
from woundfhir.v2.datatypes import concept, is_number, quantity
from woundfhir.v2.message import Segment, messages
from woundfhir.v2.people import People

Json = Any
Ref = dict[str, str]
#: OBX-11 (table 0085) -> Observation.status, as HL7's mapping has it; R and S are results that are not final.
STATUS = {
    "F": "final", "C": "corrected", "A": "amended", "P": "preliminary", "R": "preliminary", "S": "preliminary",
    "I": "registered", "D": "entered-in-error", "W": "entered-in-error", "X": "cancelled", "U": "final",
    "N": "final", "B": "preliminary", "V": "preliminary",
}  # fmt: skip
#: What takes the place of an earlier result with the same order, code and sub-id.
_REPLACES = frozenset("CADWX")


def read(content: bytes) -> Source:
    """Return what a file of HL7 v2 messages says: one message, several, or a batch.

    Raises
    ------
    InputError
        For broken messages, and where none of them is a result (ORU^R01) of a real client.

    Examples
    --------
    >>> made = read(b"MSH|^~\\\\&|A|B|||20260302||ORU^R01|1|P|2.5\\rPID|1||17^^^H^MR||Doe^Ann||19480312|F\\r")
    >>> made.resources[0]["name"], made.resources[0]["gender"]
    ([{'family': 'Doe', 'given': ['Ann']}], 'female')
    """
    source = Source()
    reading = _Reading(source)
    for segments in messages(content, source):
        reading.message(segments)
    if not reading.read:
        fix = "Results of processing P (MSH-11) are read; other messages carry no findings"
        raise InputError("HL7 v2", "a message ORU^R01 about a client", fix)
    return source


class _Reading:
    def __init__(self, source: Source) -> None:
        self.source = source
        self.read = False
        #: Order, code and sub-id of a client's result -> its name and place.
        self.results: dict[str, tuple[str, Position]] = {}
        self.people = People(source)

    def message(self, segments: list[Segment]) -> None:
        """Read one message; what is no result of a real client is set aside whole."""
        head = segments[0]
        kind, event, mode = head.get(9, 1), head.get(9, 2), head.get(11, 1)
        why = None
        if kind is None or kind.value != "ORU" or (event is not None and event.value != "R01"):
            why = "a message of another kind than ORU^R01"
        elif mode is not None and mode.value != "P":
            why = "MSH-11: a message for testing or training"
        elif not any(one.name == "PID" for one in segments):
            why = "names no client: there is no PID"
        if why is not None:
            self._aside(segments, "not-understood", why)
            return
        self.read = True
        sender = head.get(4) or head.get(3)
        self.people.sender, self.people.message = sender.value if sender else "", "".join(head.at[:1])
        self.people.client = self.people.visit = None
        order: list[list[Segment]] = []
        for one in segments[1:]:
            if one.name == "PID":
                self._orders(order)
                order = []
                self.people.client, self.people.visit = self.people.read_client(one), None
            elif one.name == "PV1":
                self.people.visit = self.people.read_visit(one)
            elif one.name == "OBR":
                order.append([one])
            elif one.name in ("OBX", "NTE") and order:
                order[-1].append(one)
            elif one.name == "OBX":
                self._aside([one], "not-understood", "a result without its order (OBR)")
        self._orders(order)

    def _aside(self, segments: list[Segment], kind: str, why: str) -> None:
        for one in segments:
            self.source.aside(one.at, kind, reason(kind, why))

    # -- orders and results --------------------------------------------------------------------

    def _orders(self, orders: list[list[Segment]]) -> None:
        times = Counter(str(order[0].get(7)) for order in orders if any(map(_of_wounds, order[1:])))
        for number, order in enumerate(orders):
            obr, notes = order[0], dict[Position, list[Leaf]]()
            results: list[Segment] = []
            for one in order[1:]:
                if one.name == "OBX":
                    results.append(one)
                elif (words := one.get(3)) is not None and results:
                    notes.setdefault(results[-1].at, []).append(words)
            groups = _grouped(results)
            of_wounds = [name for name, some in groups.items() if any(map(_of_wounds, some))]
            for name, some in groups.items():
                alone = len(of_wounds) < 2 and times[str(obr.get(7))] < 2
                about, named = self._wound(obr, some, "" if alone else f"{number}|{name}")
                for one in some:
                    if one is not named:
                        self._result(obr, one, about if _of_wounds(one) else {}, notes.get(one.at, []))

    def _wound(self, obr: Segment, some: list[Segment], name: str) -> tuple[dict[str, Json], Segment | None]:
        """Which wound the findings of one group are about: a site, the wound that one of them names, or the group."""
        site = next((found for one in some if (found := concept(one, 20))), None)
        kind = next((one for one in some if _names_kind(one)), None)
        order = obr.get(3) or obr.get(2)
        key = self.people.id("wound", self.people.sender, order.value if order else self.people.message, name)
        if kind is not None and STATUS.get((kind.get(11) or Leaf("F", ())).value) in ("final", "corrected", "amended"):
            wound = terms().code_key("wound_category")
            ref = self.source.add({
                "resourceType": "Condition", "id": key,
                "category": [{"coding": [{"system": wound[0], "code": wound[1]}]}],
                "code": concept(kind, 5), "bodySite": [site], "subject": self.people.client,
            })  # fmt: skip
            return {"focus": [ref]}, kind
        if site is not None:
            return {"bodySite": site}, None
        return ({"focus": [{"reference": f"Condition/{key}"}]} if name else {}), None

    def _result(self, obr: Segment, obx: Segment, about: dict[str, Json], notes: list[Leaf]) -> None:
        code, said = concept(obx, 3), obx.get(11)
        state = said.value.upper() if said else ""
        if said is not None and state not in STATUS:
            if state == "O":
                self._aside([obx], "kept", "OBX-11: an order, and no result")
            else:
                self._aside([obx], "not-understood", "OBX-11: a status that is not known")
            return
        order, sub = obr.get(3) or obr.get(2), obx.get(4)
        coded = obx.get(3)
        identity = "|".join((self._of_client(), order.value if order else "", coded.value if coded else "",
                             sub.value if sub else ""))  # fmt: skip
        if state in _REPLACES and order is not None and identity in self.results:
            self._withdraw(*self.results.pop(identity))
        status = Leaf(STATUS[state], said.at) if said else "unknown"
        when = time_in_digits(self.source, "effectiveDateTime", obx.get(14) or obr.get(7))
        unread = not when and (obx.get(14) or obr.get(7)) is not None
        performer = self.people.read_performer(obx)
        for number, value in enumerate(self._values(obx, state)):
            name = self.people.id("Observation", self.people.message, *obx.at, str(number))
            made = {
                "resourceType": "Observation", "id": name, "status": status, "code": code or {"text": "not named"},
                "subject": self.people.client, "encounter": None if unread else self.people.visit,
                **when, **value, **about,
                "performer": [performer] if performer else [], "method": concept(obx, 17),
                "note": [{"text": one} for one in notes],
            }  # fmt: skip
            self.source.spans[obx.at] = self.source.add(made)["reference"]
            self.results[identity] = (f"Observation/{name}", obx.at)

    def _of_client(self) -> str:
        client = self.people.client
        known = next((one for one in self.source.resources
                      if client and client["reference"].endswith(f"/{one['id']}")), {})  # fmt: skip
        return str([one for one in known.get("identifier", ()) if "system" in one] or client)

    def _withdraw(self, name: str, at: Position) -> None:
        """Take an earlier result back, that a later one corrects or deletes."""
        self.source.resources[:] = [one for one in self.source.resources if f"Observation/{one['id']}" != name]
        self.source.traces.pop(name, None)
        self.source.spans.pop(at, None)
        self.source.aside(at, "withdrawn", "withdrawn: a later result corrects or deletes it")

    def _values(self, obx: Segment, state: str) -> list[dict[str, Json]]:
        """Return ``value[x]`` of a result, by its type: one for each repetition of a code."""
        kind, value = (obx.get(2) or Leaf("", ())).value.upper(), obx.get(5)
        if state == "N":
            said = obx.get(11)
            coding = {"system": ABSENT, "code": Leaf("not-asked", said.at if said else ())}
            return [{"dataAbsentReason": {"coding": [coding]}}]
        if obx.deleted(5):
            self._aside([obx], "withdrawn", "its value is deleted")
            return []
        if kind in ("CWE", "CE", "CNE", "CF", "IS"):
            found = [concept(obx, 5, n) for n in range(obx.repetitions(5))]
            return [{"valueCodeableConcept": one} for one in found if one] or [{}]
        if kind == "NM":
            amount = quantity(self.source, obx, value)
            return [{"valueQuantity": amount}] if amount else [{}]
        if kind == "SN":
            sign = obx.get(5, 1)
            simple = obx.get(5, 3) is None and (sign is None or sign.value in ("<", ">", "<=", ">=", "="))
            sign = sign if sign and sign.value != "=" else None
            amount = quantity(self.source, obx, obx.get(5, 2), sign) if simple else None
            return [{"valueQuantity": amount}] if amount else [{}]
        if kind in ("DT", "DTM", "TS"):
            return [time_in_digits(self.source, "valueDateTime", value)]
        if kind in ("ST", "TX", "FT", ""):
            return [self._words(obx)]
        return [{}]

    def _words(self, obx: Segment) -> dict[str, Json]:
        """Words; a bare number with a unit beside it is an amount, however its type is called."""
        lines = [found for n in range(obx.repetitions(5)) if (found := obx.get(5, 1, 1, n))]
        unit = obx.get(6)
        if unit is not None and len(lines) == 1 and is_number(lines[0].value):
            return {"valueQuantity": quantity(self.source, obx, lines[0])}
        if unit is not None:
            self.source.report(unit, "not-understood", "a unit beside words")
        text = "\n".join(one.value for one in lines)
        return {"valueString": Leaf(text, tuple(at for one in lines for at in one.at))} if text else {}


def _grouped(results: list[Segment]) -> dict[str, list[Segment]]:
    """Part the results of an order by their sub-id, where that groups them.

    Some systems number every result on its own: then no number holds several, no code stands twice, and it is one.
    """
    groups: dict[str, list[Segment]] = {}
    for one in results:
        sub = one.get(4)
        groups.setdefault(sub.value.split(".")[0] if sub else "", []).append(one)
    codes = Counter(one.get(3) and one.get(3).value for one in results)  # type: ignore[union-attr]
    if all(len(some) == 1 for some in groups.values()) and all(number == 1 for number in codes.values()):
        return {"": results} if results else {}
    return groups


def _names_kind(obx: Segment) -> bool:
    """Whether the value of a result is a kind of wound."""
    coded = (obx.get(2) or Leaf("", ())).value in ("CWE", "CE", "CNE")
    return coded and any(one.startswith("answer:wound_kind/") for one in _means(obx, 5))


def _of_wounds(obx: Segment) -> bool:
    """Whether a result is a finding of a wound, by its code, or names its kind."""
    return obx.name == "OBX" and (
        any(one.startswith(("concept:assessment.", "concept:care.")) for one in _means(obx, 3)) or _names_kind(obx)
    )


def _means(obx: Segment, field: int) -> list[str]:
    plain, _ = apart(concept(obx, field) or {})
    codings = [one for one in plain.get("coding", ()) if "system" in one]
    found = [each.target for one in codings for each in in_force().meaning(one["system"], one["code"])]
    return [target.id for target in found if target is not None]
