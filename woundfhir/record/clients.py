"""Whether two clients are one: what speaks for it and what against it, graded by one function for every way in.

Tables, FHIR subjects, ``merge`` and ``receive`` all ask here. Two clients are taken for one only when an identifier
of one system agrees and nothing contradicts; anything else is for a person to decide.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any, Literal

from woundfhir.catalogue import BASE, catalogue
from woundfhir.errors import InputError
from woundfhir.record import dates

Json = Any
Grade = Literal["agree", "silent", "contradict"]

#: System of an identifier that is a sender's reference to the client (``Patient/111``): it names the client within
#: what that sender wrote, and is no evidence outside it.
REFERENCE = f"{BASE}/reference"
#: What to do where one client is needed and there are several.
CHOOSE = "Choose one with --patient: its number here (1, 2, ...) or its identifier; in Python, with read_many"
#: What to do where a person knows that two of several clients are one.
ONE_PERSON = (
    "If they are of one person, take in one after the other with `woundfhir receive FILE --into FOLDER` (with "
    "--same-client where nothing shows that they are), and use FOLDER"
)
#: Words that stand where an identifier, a name or a date is missing, in every language.
_PLACEHOLDERS = frozenset(
    word
    for listed in tomllib.loads(files("woundfhir.record").joinpath("placeholders.toml").read_text("utf-8")).values()
    for word in listed
)


@dataclass(frozen=True, slots=True)
class Evidence:
    """What speaks for two clients being one, what says nothing, and what speaks against it. Never a value.

    Parameters
    ----------
    agree, silent, contradict
        Of ``identifier``, ``birth date``, ``name`` and ``sex``, in this order. ``identifier`` may agree and
        contradict at once, where one system has two numbers.
    """

    agree: tuple[str, ...] = ()
    silent: tuple[str, ...] = ()
    contradict: tuple[str, ...] = ()

    @property
    def same(self) -> bool:
        """Whether the two may be joined without asking: an identifier agrees, and nothing contradicts."""
        return "identifier" in self.agree and not self.contradict

    @property
    def words(self) -> str:
        """The evidence in one line, for a person who decides."""
        parts = [
            f"{title}: {', '.join(found)}"
            for title, found in (("agree", self.agree), ("contradict", self.contradict), ("silent", self.silent))
            if found
        ]
        return "; ".join(parts)


def evidence(one: Mapping[str, Json], other: Mapping[str, Json]) -> Evidence:
    """Grade what two ``patient`` parts of records say about being one client.

    Parameters
    ----------
    one, other
        ``identifiers``, ``born``, ``name`` and ``sex`` as in the record; each may be missing.

    Returns
    -------
    Evidence
        The same whichever side comes first.

    Examples
    --------
    >>> card = {"system": "urn:example:card", "value": "1234-567-890"}
    >>> here = {"identifiers": [card], "born": "1948-03", "name": {"family": "Doe", "given": ["Ann"]}}
    >>> evidence(here, {"identifiers": [card], "born": "1948-03-12"}).same
    True
    >>> found = evidence(here, {"identifiers": [card], "born": "1950"})
    >>> found.same, found.words
    (False, 'agree: identifier; contradict: birth date; silent: name, sex')
    >>> evidence({"identifiers": [{"value": "7"}]}, {"identifiers": [{"value": "7"}]}).same  # no system
    False
    """
    grades: dict[str, list[str]] = {"agree": [], "silent": [], "contradict": []}
    for grade in _identifiers(one, other) or ["silent"]:
        grades[grade].append("identifier")
    grades[_birth(one.get("born"), other.get("born"))].append("birth date")
    grades[_name(one.get("name"), other.get("name"))].append("name")
    grades[_sex(one.get("sex"), other.get("sex"))].append("sex")
    return Evidence(tuple(grades["agree"]), tuple(grades["silent"]), tuple(grades["contradict"]))


def refuse_two(one: Mapping[str, Json], other: Mapping[str, Json], where: str) -> None:
    """Refuse two ``patient`` parts that cannot be taken for one client without asking.

    Raises
    ------
    InputError
        With what speaks for and against their being one client, by kind and without a value.

    Examples
    --------
    >>> refuse_two({"born": "1948"}, {"born": "1950"}, "the client")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    woundfhir.errors.InputError: the client: these may be two clients (contradict: birth date; ...
    """
    found = evidence(one, other)
    if not found.same:
        expected = (
            "the same client on both sides: an identifier with a system that agrees, and nothing that contradicts"
        )
        fix = "Two clients are never joined. Where a person has made sure that they are one, say so with --same-client"
        raise InputError(where, expected, fix, found=f"these may be two clients ({found.words})")


def is_placeholder(text: object) -> bool:
    """Whether a value only stands where one is missing: words such as "N/A", or one character again and again.

    Examples
    --------
    >>> [is_placeholder(text) for text in ("", "N/A", "0000", "999-99-9999", "unknown", "C-0417", "7")]
    [True, True, True, True, True, False, False]
    """
    if not isinstance(text, str):
        return text is None
    bare = re.sub(r"[\W_]+", "", text.casefold())
    same = len(set(bare)) < 2 and (len(bare) > 2 or bare[:1] in ("0", "x"))
    return not bare or bare in _PLACEHOLDERS or same


def identifiers(patient: Mapping[str, Json]) -> dict[str, set[str]]:
    """Return system -> values of the identifiers that name a client: with a system, and no placeholder."""
    found: dict[str, set[str]] = {}
    for item in patient.get("identifiers") or ():
        system, value = item.get("system"), item.get("value")
        if is_placeholder(system) or is_placeholder(value) or system == REFERENCE:
            continue
        found.setdefault(str(system).strip().rstrip("/"), set()).add(str(value).strip())
    return found


def _identifiers(one: Mapping[str, Json], other: Mapping[str, Json]) -> list[Grade]:
    mine, theirs = identifiers(one), identifiers(other)
    found: set[Grade] = set()
    if any(mine[system] & theirs[system] for system in mine.keys() & theirs.keys()):
        found.add("agree")
    # A system in other letters is no system in common, and still one that can contradict.
    here, there = _alike(mine), _alike(theirs)
    for system in here.keys() & there.keys():
        rest, others = here[system] - there[system], there[system] - here[system]
        # Such a pair neither agrees nor contradicts.
        if rest and others and {plain_number(one) for one in rest}.isdisjoint(plain_number(one) for one in others):
            found.add("contradict")
    return sorted(found)


def _alike(by_system: Mapping[str, set[str]]) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for system, values in by_system.items():
        found.setdefault(system.casefold(), set()).update(values)
    return found


def plain_number(text: str) -> str:
    """Return a number as numbers are compared: what spreadsheets and hands write in many ways is taken away.

    That is the case, blanks and hyphens, zeros in front of figures, and the ``.0`` that a program writes behind them
    (common practice, no source).

    Examples
    --------
    >>> plain_number("A-17 b"), plain_number("00123"), plain_number("123.0"), plain_number("A-0017"), plain_number("0")
    ('a17b', '123', '123', 'a0017', '0')
    """
    plain = unicodedata.normalize("NFKC", text.casefold()).strip()
    plain = plain[:-2] if re.fullmatch(r"\d+[.,]0", plain) else plain
    bare = "".join(char for char in plain if char.isalnum())
    return (bare.lstrip("0") or "0") if bare.isdecimal() else bare


def _birth(one: object, other: object) -> Grade:
    """Two dates are compared as far as both are written: a year agrees with every day of it."""
    if not isinstance(one, str) or not isinstance(other, str) or not (dates.moment(one) and dates.moment(other)):
        return "silent"
    length = min(len(one[:10]), len(other[:10]))
    return "agree" if one[:length] == other[:length] else "contradict"


def _sex(one: object, other: object) -> Grade:
    words = [
        text.strip().casefold() if isinstance(text, str) and not is_placeholder(text) else "" for text in (one, other)
    ]
    listed = catalogue().answers["sex"]
    mine, theirs = (found.word if (found := listed.find(word)) else word for word in words)
    if "unknown" in (mine, theirs):
        return "silent"
    return "silent" if not mine or not theirs else "agree" if mine == theirs else "contradict"


# -- names -----------------------------------------------------------------------------------------


def _name(one: Json, other: Json) -> Grade:
    mine, theirs = _parts(one), _parts(other)
    if mine is None or theirs is None:
        return "silent"
    if mine[0] and theirs[0]:
        if mine[0] != theirs[0]:
            return "contradict"
        if not mine[1] or not theirs[1]:
            return "agree"
        return "agree" if _fit(mine[1], theirs[1]) else "contradict"
    all_mine, all_theirs = {*mine[0], *mine[1]}, {*theirs[0], *theirs[1]}
    return "agree" if all_mine <= all_theirs or all_theirs <= all_mine else "contradict"


def _parts(name: Json) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    """Return the words of the family name and of the given names; a name in one text has given names only."""
    if not isinstance(name, Mapping):
        return None
    given = name.get("given") or ()
    family = _words(name.get("family"))
    others = tuple(word for part in ([given] if isinstance(given, str) else given) for word in _words(part))
    if not family and not others:
        others = _words(name.get("text"))
    return (family, others) if family or others else None


def _words(text: object) -> tuple[str, ...]:
    if not isinstance(text, str) or is_placeholder(text):
        return ()
    plain = unicodedata.normalize("NFKD", text.casefold())
    return tuple(re.findall(r"\w+", "".join(c for c in plain if not unicodedata.combining(c))))


def _fit(one: tuple[str, ...], other: tuple[str, ...]) -> bool:
    """Whether the given names that both sides have fit, one by one: equal, or one the initial of the other."""
    return all(
        mine == theirs or (min(len(mine), len(theirs)) == 1 and mine[0] == theirs[0])
        for mine, theirs in zip(one, other, strict=False)
    )
