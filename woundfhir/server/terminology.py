"""A terminology server, if a site has one: is a code current, what is it called, what is it narrower than.

HL7 FHIR R4, CodeSystem: ``$validate-code``, ``$lookup``, ``$subsumes``. Only codes are asked for, never anything of a
client. Nothing depends on the answers: where none comes, one line says so, and everything else is as it was.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from woundfhir.errors import InputError
from woundfhir.secret import token_from
from woundfhir.server.answers_kept import AnswersKept, Kept, folder
from woundfhir.server.connection import Connection, base_of

Json = Any
#: Names in the environment of its token, which is not that of ``send`` and ``fetch``.
TOKEN, TOKEN_FILE = "WOUNDFHIR_TERMINOLOGY_TOKEN", "WOUNDFHIR_TERMINOLOGY_TOKEN_FILE"
#: Seconds that it may take, and how often the same is asked.
_TIMEOUT, _TRIES = 10.0, 2
#: Answers after which it is asked nothing more: it does not know who is asking, it is busy, it is broken.
_GIVE_UP = frozenset((401, 403, 429))


@dataclass(frozen=True, slots=True)
class Concept:
    """What a server says of one code.

    Attributes
    ----------
    display
        Its name there; "" where it has none.
    current
        Whether it is in use; None where the server does not say.
    parents
        Codes that it is directly narrower than.
    source
        Who says so: the server's address, and the day where the answer was kept.
    """

    display: str
    current: bool | None
    parents: tuple[str, ...]
    source: str


@dataclass
class Terminology:
    """One terminology server.

    Parameters
    ----------
    server
        How it is reached.
    kept
        Its answers on disk.
    say
        Takes the one line that is written where it does not answer.
    """

    server: Connection
    kept: AnswersKept
    say: Callable[[str], None]
    down: bool = field(default=False, init=False)

    def close(self) -> None:
        self.server.close()

    def validate(self, system: str, code: str) -> tuple[bool, str] | None:
        """Return whether a code is one of its system's (``$validate-code``), and who says so; None: no answer."""
        found = self._ask("$validate-code", url=system, code=code)
        if found is None or found.said is None or not isinstance(found.said.get("result"), bool):
            return None
        return found.said["result"], self._source(found)

    def lookup(self, system: str, code: str) -> Concept | None:
        """Return what the server says of a code (``$lookup``); None where it does not know it, or does not answer."""
        found = self._ask("$lookup", system=system, code=code, property=("display", "inactive", "parent"))
        if found is None or found.said is None:
            return None
        properties = found.said.get("property")
        pairs = [one for one in properties if isinstance(one, list) and len(one) == 2] if properties else []
        inactive = next((value for name, value in pairs if name == "inactive" and isinstance(value, bool)), None)
        parents = tuple(dict.fromkeys(str(value) for name, value in pairs if name == "parent"))
        display = found.said.get("display")
        current = None if inactive is None else not inactive
        return Concept(display if isinstance(display, str) else "", current, parents, self._source(found))

    def subsumes(self, system: str, wide: str, narrow: str) -> tuple[bool, str] | None:
        """Return whether one code is the other or narrower (``$subsumes``), and who says so; None: no answer."""
        found = self._ask("$subsumes", system=system, codeA=wide, codeB=narrow)
        outcome = None if found is None or found.said is None else found.said.get("outcome")
        if found is None or outcome not in ("equivalent", "subsumes", "subsumed-by", "not-subsumed"):
            return None
        return outcome in ("equivalent", "subsumes"), self._source(found)

    def _source(self, found: Kept) -> str:
        return f"{self.kept.base}, answer of {found.day}" if found.kept else self.kept.base

    def _ask(self, operation: str, **asked: str | tuple[str, ...]) -> Kept | None:
        question = f"{operation}?{urlencode(asked, doseq=True)}"
        if (found := self.kept.find(question)) is not None:
            return found
        if self.down:
            return None
        try:
            answer = self.server.get(f"CodeSystem/{question}")
            if answer.status >= 500 or answer.status in _GIVE_UP:
                raise InputError("", "", "", found=f"it answered {answer.status}")
            body = answer.resource("the terminology server")
            if answer.status != 200 and body.get("resourceType") != "OperationOutcome":
                raise InputError("", "", "", found=f"it answered {answer.status}, and not as a FHIR server does")
            said = _parts(body) if answer.status == 200 else None
        except InputError as error:
            self.down = True
            why = f" ({error.found})" if error.found else ""
            self.say(
                f"The terminology server gave no usable answer{why}: some codes were not looked up there. Nothing else "
                "depends on it."
            )
            return None
        return self.kept.keep(question, said)


def _parts(found: Mapping[str, Json]) -> dict[str, Json]:
    """Return the parameters of an answer that are used: texts and truth values by name, properties as pairs.

    Raises
    ------
    InputError
        For anything but a Parameters.
    """
    parameters = found.get("parameter")
    if found.get("resourceType") != "Parameters" or not isinstance(parameters, list):
        raise InputError("", "", "", found="its answer is no Parameters")
    made: dict[str, Json] = {"property": []}
    for one in parameters:
        if not isinstance(one, dict):
            continue
        if one.get("name") == "property":
            inner = {part.get("name"): _value(part) for part in _listed(one.get("part"))}
            made["property"].append([inner.get("code"), inner.get("value")])
        elif one.get("name") in ("result", "display", "outcome"):
            made[one["name"]] = _value(one)
    return made


def _listed(parts: Json) -> Iterator[dict[str, Json]]:
    return (one for one in parts if isinstance(one, dict)) if isinstance(parts, list) else iter(())


def _value(part: Mapping[str, Json]) -> Json:
    """Return the value of a parameter, of a Coding its code; a truth value that came as text (some servers) as one."""
    value = next((value for key, value in part.items() if key.startswith("value")), None)
    if isinstance(value, dict):
        return value.get("code")
    return {"true": True, "false": False}.get(value, value) if isinstance(value, str) else value


def at(url: str, say: Callable[[str], None], where: Path | None = None) -> Terminology:
    """Return the terminology server at an address; nothing is asked yet.

    Parameters
    ----------
    url
        Its base.
    say
        Called with a line that says what is being waited for.
    where
        The folder of the answers that are kept.

    Raises
    ------
    InputError
        For an address that is none, or is not safe, and a token that is none.
    """
    base = base_of(url)
    token = token_from(TOKEN, TOKEN_FILE)
    server = Connection(base, wait=lambda seconds: None, timeout=_TIMEOUT, tries=_TRIES)
    if token is not None:
        server.authorization = lambda renew: f"Bearer {token}"
    return Terminology(server, AnswersKept(base, where or folder()), say)


__all__ = ["Concept", "Terminology", "at"]
