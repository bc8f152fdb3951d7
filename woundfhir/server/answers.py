"""What a server answers: whether it is FHIR at all, and in words what it refuses; never a value of a client."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from woundfhir.errors import InputError
from woundfhir.r4 import jsonio

Json = Any


class Refusal(InputError):
    """A server's answer that is no success.

    Attributes
    ----------
    status
        Of HTTP; 0 where no whole answer came.
    """

    def __init__(self, where: str, expected: str, fix: str, *, found: str = "", status: int = 0) -> None:
        super().__init__(where, expected, fix, found=found)
        self.status = status


@dataclass(slots=True)
class Answer:
    """What a server answered: status, headers in lower case, body."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    def json(self, where: str) -> dict[str, Json]:
        """Return the body as one JSON object; refuse a page, or half of one."""
        kind = self.headers.get("content-type", "").split(";")[0].strip().lower()
        if "json" not in kind:
            found = f"it answered {self.status} with {kind or 'no type of content'}, which is no FHIR"
            fix = "Check the address: it must be the base of the FHIR server, such as https://example.org/fhir"
            raise Refusal(where, "FHIR JSON", fix, found=found, status=self.status)
        try:
            return jsonio.decode_checked(self.body)
        except InputError as error:
            raise error.at(f"{where}, its answer") from None

    def resource(self, where: str) -> dict[str, Json]:
        """Return the body as one FHIR resource, whose lists and objects stand where R4 has them."""
        found = self.json(where)
        kind = found.get("resourceType")
        if not isinstance(kind, str) or not _stands(found, _SHAPES.get(kind, {})):
            wrong = f"its answer ({self.status}) is JSON, and not in the form of a FHIR resource"
            fix = "Check the address, or ask who keeps the server; nothing of this answer was used"
            raise Refusal(where, "a resource of FHIR R4", fix, found=wrong, status=self.status)
        return found


#: Where the answers of servers that are used hold lists, objects and texts (R4, http); what else they hold is free.
_NAMED: dict[str, Json] = {"operation": [{}], "interaction": [{}]}
_SHAPES: dict[str, Json] = {
    "Bundle": {
        "entry": [{"resource": {"resourceType": ""}, "response": {"outcome": {}}, "fullUrl": ""}],
        "link": [{"relation": "", "url": ""}],
    },
    "CapabilityStatement": {"rest": [{**_NAMED, "resource": [{**_NAMED, "searchParam": [{}]}]}], "software": {}},
    "OperationOutcome": {"issue": [{"details": {}, "expression": [""], "location": [""], "diagnostics": ""}]},
}


def _stands(value: Json, shape: Json) -> bool:
    """Whether a value has the shape: a list of such, an object with such keys where it has them, a text."""
    if isinstance(shape, list):
        return isinstance(value, list) and all(_stands(one, shape[0]) for one in value)
    if isinstance(shape, dict):
        return isinstance(value, dict) and all(
            value.get(key) is None or _stands(value[key], inner) for key, inner in shape.items()
        )
    return isinstance(value, str)


# -- what a server refuses -------------------------------------------------------------------------

_MEANS = {
    400: "it could not read what was sent",
    401: "it does not know who is asking",
    403: "it does not allow this",
    404: "it knows no such thing",
    405: "it does not take this",
    409: "what is there has changed meanwhile, or is still referred to",
    410: "what is asked for was deleted",
    412: "what is there has changed meanwhile, or several things fit",
    413: "this is too much at once",
    422: "it does not accept the content",
    429: "it is busy",
}
_FIXES = {
    401: "Check the token or the key (see --help)",
    403: "Ask who keeps the server for the scopes that are needed",
    413: "Send smaller parts with --chunk",
    429: "Send again later: what is stored is not stored twice",
}
_QUOTED = re.compile(r"\"[^\"]*\"|'[^']*'|\u201c[^\u201d]*\u201d")
_TOKEN = re.compile(r"\S*(?:[|?@/=]|\d{3})\S*")


def refused(answer: Answer, where: str = "the server") -> Refusal:
    """Return the error for an answer that is no success: the status in words, and what the server says of it."""
    said = "; ".join(outcome(answer))
    means = _MEANS.get(answer.status, "it failed" if answer.status >= 500 else "it refuses")
    found = f"it answered {answer.status} ({means})" + (f": {said}" if said else "")
    fix = _FIXES.get(answer.status, "Look at the server's own log, mend the cause, and send again")
    return Refusal(where, "success", fix, found=found, status=answer.status)


def outcome(answer: Answer) -> list[str]:
    """Return the issues of an OperationOutcome in words, nothing where the answer holds none."""
    if "json" not in answer.headers.get("content-type", ""):
        return []
    try:
        found = jsonio.decode_checked(answer.body)
    except InputError:
        return []
    return issues(found)


def issues(found: Mapping[str, Json]) -> list[str]:
    """Return the issues of an OperationOutcome in words: severity, code, place, and the server's text.

    The text is freed of whatever may be a value of a client: what is quoted, what holds a long number or an address.

    Examples
    --------
    >>> said = {"severity": "error", "code": "value", "diagnostics": "Invalid date '1948-13' at line 3, card 417-22"}
    >>> issues({"resourceType": "OperationOutcome", "issue": [said]})
    ['error, value: Invalid date … at line 3, card …']
    """
    if found.get("resourceType") != "OperationOutcome" or not _stands(found, _SHAPES["OperationOutcome"]):
        return []
    made = []
    for issue in found.get("issue") or ():
        if not isinstance(issue, dict) or issue.get("severity") in ("information", "success"):
            continue
        places = issue.get("expression") or issue.get("location") or ()
        text = issue.get("diagnostics") or (issue.get("details") or {}).get("text") or ""
        head = ", ".join(str(part) for part in (issue.get("severity"), issue.get("code"), *places[:2]) if part)
        made.append(f"{head}: {masked(str(text))}" if text else head)
    return made[:3]


def masked(text: str) -> str:
    """Return a server's text without what may be a value of a client."""
    return _TOKEN.sub("…", _QUOTED.sub("…", text))[:200]
