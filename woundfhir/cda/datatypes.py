"""The data types of CDA (HL7 v3 data types, R1) as those of FHIR R4."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import cache
from importlib.resources import files
from typing import Any

from woundfhir.cda.tree import SDTC, V3, XSI_TYPE, Element, Tree, kid, kids
from woundfhir.fhir.elements import extension
from woundfhir.fhir.terms import terms
from woundfhir.fhir.time_in_digits import time_in_digits
from woundfhir.r4.nullflavor import ABSENT, NULL_FLAVOR, REASONS
from woundfhir.r4.origin import Leaf

Json = Any
UCUM = "http://unitsofmeasure.org"
ASSERTION = "ASSERTION"
_LATERALITY = "272741003"  # SNOMED CT, by the C-CDA wound observation (interface facts: HL7/CDA-ccda@364e89a)
_NUMBER = re.compile(r"[+-]?\d{1,40}(\.\d{1,40})?")
_OID = re.compile(r"[0-2](\.(0|[1-9]\d*))+")
_UUID = re.compile(r"[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}")


@cache
def oids() -> dict[str, str]:
    """Return the URI of each OID that FHIR has one for."""
    text = files("woundfhir.cda").joinpath("oids.tsv").read_text("utf-8")
    rows = [line.split("\t") for line in text.splitlines() if not line.startswith("#")][1:]
    return {oid: uri for oid, uri, _ in rows}


def uri(oid: str) -> str:
    """Return an OID, a UUID or a name of CDA as the URI that FHIR writes.

    Examples
    --------
    >>> uri("2.16.840.1.113883.6.96"), uri("1.2.3"), uri("x")
    ('http://snomed.info/sct', 'urn:oid:1.2.3', 'x')
    """
    if oid in oids():
        return oids()[oid]
    return f"urn:oid:{oid}" if _OID.fullmatch(oid) else f"urn:uuid:{oid.lower()}" if _UUID.fullmatch(oid) else oid


class Types:
    """Reads the data types of one document."""

    def __init__(self, tree: Tree) -> None:
        self.tree = tree

    # -- identifiers ---------------------------------------------------------------------------

    def identifiers(self, holder: Element | None, name: str = "id") -> list[Json]:
        """Return the ids (II) of an element."""
        return [made for one in kids(holder, name) if (made := self._identifier(one))]

    def _identifier(self, one: Element) -> Json:
        root, value = self.tree.attribute(one, "root"), self.tree.attribute(one, "extension")
        if self.tree.null(one) or (root is None and value is None):
            return None
        if root is None:
            return {"value": value}
        if value is None:
            return {"system": "urn:ietf:rfc:3986", "value": Leaf(uri(root.value), root.at)}
        return {"system": Leaf(uri(root.value), root.at), "value": value}

    # -- codes ---------------------------------------------------------------------------------

    def concept(self, one: Element | None, *, words: bool = True) -> Json:
        """Return a code (CD, CE, CV) with its translations and the words that it was taken from."""
        if one is None:
            return None
        codings = [made for inner in (one, *kids(one, "translation")) if (made := self._coding(inner))]
        text = self._original(one) if words else None
        if text is None and not codings:
            text = self.tree.attribute(one, "displayName")
        if not codings and text is None and (null := self.tree.attribute(one, "nullFlavor")):
            codings = [{"system": Leaf(NULL_FLAVOR, null.at), "code": null}]
        return {"coding": codings, "text": text} if codings or text else None

    def _coding(self, one: Element) -> Json:
        code, system = self.tree.attribute(one, "code"), self.tree.attribute(one, "codeSystem")
        if code is None or self.tree.null(one):
            return None
        made = {"system": Leaf(uri(system.value), system.at) if system else None, "code": code}
        return {**made, "display": self.tree.attribute(one, "displayName")}

    def _original(self, one: Element) -> Leaf | None:
        found = kid(one, "originalText")
        return self.linked(found) if found is not None else None

    def linked(self, found: Element | None) -> Leaf | None:
        """Return the words of an element, or of the narrative that it points at."""
        ref = self.tree.attribute(kid(found, "reference"), "value")
        if ref is None:
            return self.tree.text(found)
        target = self.tree.anchors.get(ref.value.removeprefix("#"))
        said = self.tree.text(target)
        if target is None or said is None:
            self.tree.source.report(ref, "not-understood", "points at narrative that is not there")
            return None
        return Leaf(said.value, (*ref.at, *said.at))

    def site(self, one: Element | None) -> Json:
        """Return a place on the body with its side, from the qualifier for laterality."""
        made = self.concept(one)
        if made is None:
            return None
        for found in kids(one, "qualifier"):
            name, value = kid(found, "name"), kid(found, "value")
            if name is not None and (name.get("code") or "").strip() == _LATERALITY and (side := self.concept(value)):
                url = self.tree.attribute(name, "code")
                assert url is not None
                made["extension"] = [{"url": Leaf(terms().ext("body-side"), url.at), "valueCodeableConcept": side}]
        return made

    # -- times ---------------------------------------------------------------------------------

    def time(self, key: str, one: Element | None) -> dict[str, Json]:
        """Return the members that say a point in time (TS)."""
        return self.said_time(key, self.tree.attribute(one, "value"))

    def said_time(self, key: str, value: Leaf | None, *, day: bool = False) -> dict[str, Json]:
        """Return the members that say a time in digits."""
        return time_in_digits(self.tree.source, key, value, day=day)

    def period(self, one: Element | None) -> Json:
        """Return an interval of time (IVL_TS), or None."""
        if one is None:
            return None
        return {**self.time("start", kid(one, "low")), **self.time("end", kid(one, "high"))} or None

    def when(self, one: Element | None, point: str, span: str) -> dict[str, Json]:
        """Return a time of care: a point, or a period where it has ends."""
        if one is None:
            return {}
        if one.get("value"):
            return self.time(point, one)
        found = self.period(one)
        if not found and (centre := kid(one, "center")) is not None:
            return self.time(point, centre)
        return {span: found} if found else {}

    # -- amounts and other values --------------------------------------------------------------

    def quantity(self, one: Element | None) -> Json:
        """Return an amount (PQ, INT, REAL)."""
        value = self.number(self.tree.attribute(one, "value"))
        if value is None or one is None:
            return None
        unit = self.tree.attribute(one, "unit")
        if unit is None:
            return {"value": value}
        known = terms().catalogue.units.get(unit.value) == unit.value
        coded = {"system": Leaf(UCUM, unit.at), "code": unit} if known else {}
        return {"value": value, "unit": unit, **coded}

    def number(self, value: Leaf | None) -> Leaf | None:
        """Return a number; what is no number is reported, and not read."""
        if value is None:
            return None
        if not _NUMBER.fullmatch(value.value):
            self.tree.source.report(value, "not-understood", "expected a number")
            return None
        return Leaf(Decimal(value.value), value.at)

    def value(self, one: Element | None) -> dict[str, Json]:
        """Return ``value[x]`` for the value of an observation, by its type."""
        if one is None:
            return {}
        kind = (one.get(XSI_TYPE) or "").rpartition(":")[2]
        if (null := self.tree.attribute(one, "nullFlavor")) and kind not in ("CD", "CE", "CV", "CO"):
            known = REASONS.get(null.value)
            said = (ABSENT, known) if known else (NULL_FLAVOR, null.value)
            return {
                "dataAbsentReason": {"coding": [{"system": Leaf(said[0], null.at), "code": Leaf(said[1], null.at)}]}
            }
        if kind in ("CD", "CE", "CV", "CO", "CS"):
            return _member("valueCodeableConcept", self.concept(one))
        if kind == "INT":
            found = self.number(self.tree.attribute(one, "value"))
            whole = found is not None and found.value == int(found.value) and abs(found.value) < 2**31
            return {"valueInteger": Leaf(int(found.value), found.at)} if found is not None and whole else {}
        if kind in ("PQ", "REAL", "MO"):
            return _member("valueQuantity", self.quantity(one))
        if kind == "IVL_PQ":
            return self._range(one)
        if kind == "BL":
            found = self.tree.attribute(one, "value")
            return _member("valueBoolean", found and Leaf(found.value == "true", found.at))
        if kind == "TS":
            return self.time("valueDateTime", one)
        if kind == "IVL_TS":
            return self.when(one, "valueDateTime", "valuePeriod")
        return _member("valueString", self.linked(one)) if kind in ("ST", "ED") else {}

    def _range(self, one: Element) -> dict[str, Json]:
        """An interval of amounts; with one end it is a bound (inclusive unless it says otherwise)."""
        low, high = kid(one, "low"), kid(one, "high")
        ends = {"low": self.quantity(low), "high": self.quantity(high)}
        if ends["low"] and ends["high"]:
            return {"valueRange": ends}
        for name, end, sign in (("low", low, ">"), ("high", high, "<")):
            if ends[name] and end is not None:
                closed = (end.get("inclusive") or "true") != "false"
                at = (
                    *ends[name]["value"].at,
                    *((self.tree.at[end] + ("/@inclusive",),) if end.get("inclusive") else ()),
                )
                return {"valueQuantity": {**ends[name], "comparator": Leaf(sign + "=" * closed, at)}}
        return {}

    # -- people --------------------------------------------------------------------------------

    def names(self, holder: Element | None) -> list[Json]:
        """Return the names (PN) of a person."""
        out = []
        for one in kids(holder, "name"):
            if self.tree.null(one):
                continue
            parts = {
                "family": self._joined(kids(one, "family")),
                "given": [found for inner in kids(one, "given") if (found := self.tree.text(inner))],
                "prefix": [found for inner in kids(one, "prefix") if (found := self.tree.text(inner))],
                "suffix": [found for inner in kids(one, "suffix") if (found := self.tree.text(inner))],
            }
            made = parts if parts["family"] or parts["given"] else {"text": self.tree.text(one)}
            if use := self._use(one, {"L": "official", "OR": "official", "P": "nickname", "M": "maiden", "C": "usual"}):
                made["use"] = use
            out.append(made)
        return [one for one in out if any(one.values())]

    def _joined(self, parts: list[Element]) -> Leaf | None:
        found = [said for one in parts if (said := self.tree.text(one))]
        return (
            Leaf(" ".join(one.value for one in found), tuple(at for one in found for at in one.at)) if found else None
        )

    def _use(self, one: Element, known: dict[str, str]) -> Leaf | None:
        said = self.tree.attribute(one, "use")
        words = [known[word] for word in said.value.split() if word in known] if said else []
        return Leaf(words[0], said.at) if words and said else None

    def addresses(self, holder: Element | None) -> list[Json]:
        """Return the postal addresses (AD)."""
        out = []
        for one in kids(holder, "addr"):
            lines = [found for inner in kids(one, "streetAddressLine") if (found := self.tree.text(inner))]
            made = {
                "use": self._use(one, {"HP": "home", "H": "home", "WP": "work", "TMP": "temp"}),
                "line": lines,
                **{
                    key: self.tree.text(kid(one, name))
                    for key, name in (("city", "city"), ("state", "state"), ("postalCode", "postalCode"))
                },
                "country": self.tree.text(kid(one, "country")),
            }
            if not any(value for key, value in made.items() if key != "use"):
                made["text"] = self.tree.text(one)
            if any(value for key, value in made.items() if key != "use"):
                out.append(made)
        return out

    def telecoms(self, holder: Element | None) -> list[Json]:
        """Return telephone numbers and addresses of mail (TEL)."""
        out = []
        for one in kids(holder, "telecom"):
            value = self.tree.attribute(one, "value")
            if value is None:
                continue
            scheme, _, rest = value.value.rpartition(":")
            kind = {"tel": "phone", "fax": "fax", "mailto": "email", "": "phone"}.get(scheme.casefold(), "url")
            said = rest if kind != "url" else value.value
            use = self._use(one, {"HP": "home", "H": "home", "WP": "work", "MC": "mobile"})
            out.append({"system": Leaf(kind, value.at), "value": Leaf(said, value.at), "use": use})
        return out


def _member(name: str, value: Json) -> dict[str, Json]:
    return {} if value is None else {name: value}


__all__ = ["ASSERTION", "NULL_FLAVOR", "SDTC", "V3", "Types", "extension", "oids", "uri"]
