"""The words by which a text names a wound, or says that something is not so, in every language that has a file."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

LANGUAGES = ("en", "fr")


@dataclass(frozen=True, slots=True)
class Words:
    """Patterns over words without accents.

    Parameters
    ----------
    denied, denied_behind
        Match words that begin with, or are followed by, a denial.
    of_a_wound
        Finds what may be denied of a wound that is there.
    past, risk, others
        Match words of the past, of a risk, and of another person.
    healed
        Finds words that say that a wound is healed, and those that keep them from it, a few words before.
    none_known
        Key of a list of the client -> the whole text that says that there is none.
    wound, elsewhere, matter
        Find the name of a wound; what else, in one clause, is called so; and what, anywhere, makes it no wound.
    clause
        Finds where one clause of a diagnosis ends and another begins.
    itself
        Matches a word that means what was named before.
    """

    denied: re.Pattern[str]
    denied_behind: re.Pattern[str]
    of_a_wound: re.Pattern[str]
    past: re.Pattern[str]
    risk: re.Pattern[str]
    others: re.Pattern[str]
    healed: re.Pattern[str]
    none_known: Mapping[str, re.Pattern[str]]
    wound: re.Pattern[str]
    elsewhere: re.Pattern[str]
    matter: re.Pattern[str]
    clause: re.Pattern[str]
    itself: re.Pattern[str]


@cache
def words() -> Words:
    """Return the patterns of all languages together: a text seldom says in which it is written.

    Examples
    --------
    >>> [bool(words().past.match(text)) for text in ("history of ulcer", "antecedent d'ulcere", "ulcer")]
    [True, True, False]
    """
    folder = files("woundfhir.intake")
    paths = [folder.joinpath(f"words_{one}.toml") for one in LANGUAGES]
    read = [tomllib.loads(path.read_text("utf-8")) for path in paths if path.is_file()]

    def listed(part: str, key: str) -> str:
        return "|".join(dict.fromkeys(word for one in read for word in one[part][key]) or ["(?!)"])

    def either(before: str, anywhere: str) -> re.Pattern[str]:
        return re.compile(rf"({before})\b|.*\b({anywhere})\b", re.I)

    denied: dict[str, Any] = {key: listed("denied", key) for key in read[0]["denied"]}
    past = rf"({listed('past', 'before')})\b|.*[(,:]\s*({listed('past', 'behind')})\s*\)?\.?$"
    return Words(
        re.compile(rf"(?!({denied['unless']}))({denied['before']})\b", re.I),
        re.compile(
            rf".*(\s*[:=,(\u2013\u2014]\s*|\s+-+\s*|\s+({denied['verbs']})\s+)({denied['behind']})"
            rf"(\s+({denied['seen']}))?\s*\)?[.;]?|.*\b({denied['end']})\.?",
            re.I,
        ),
        re.compile(rf"\b({denied['findings']})\b", re.I),
        re.compile(rf"{past}|.*\b({listed('past', 'anywhere')})\b", re.I),
        either(listed("risk", "before"), listed("risk", "anywhere")),
        either(f"({listed('others', 'before')})('s)?", listed("others", "anywhere")),
        re.compile(
            rf"(?P<unless>(?<!\w)({listed('healed', 'unless')})[\s-]+([\w-]+\s+){{0,2}})?"
            rf"\b({listed('healed', 'named')})\b",
            re.I,
        ),
        {key: re.compile(rf"({listed('none_known', key)})\.?", re.I) for key in read[0]["none_known"]},
        *_of_wounds({key: listed("wound", key) for key in read[0]["wound"]}),
    )


def _of_wounds(listed: Mapping[str, str]) -> Iterator[re.Pattern[str]]:
    """Yield the patterns of what is a wound, in the order of ``Words``."""
    yield re.compile(rf"\b({listed['named']}|{listed['parts']})\b", re.I)
    yield re.compile(rf"\b({listed['elsewhere']})\b|\b({listed['of']}) ({listed['finding']})", re.I)
    # A word of denial before the wound, with no more than a few words between. What is denied behind it ("laceration
    # without foreign body") leaves the wound.
    denied = rf"\b({listed['denial']})\b(?!\s*({listed['heals']})\b)\s*([\w/-]+\s+){{0,4}}?({listed['named']})\b"
    yield re.compile(rf"\b({listed['matter']})\b|{denied}", re.I)
    yield re.compile(rf"\b(?:{listed['clause']})\b|[;(]|\s-+\s", re.I)
    yield re.compile(rf"\s*({listed['itself']})\b|\W*$", re.I)
