"""The words by which a text says that something is not so, in every language that has a file of them."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

LANGUAGES = ("en", "fr")


@dataclass(frozen=True, slots=True)
class Denials:
    """Patterns over words without accents.

    Parameters
    ----------
    denied, denied_behind
        Match words that begin with, or are followed by, a denial.
    of_a_wound
        Finds what may be denied of a wound that is there.
    past, risk, others
        Match words of the past, of a risk, and of another person.
    none_known
        Key of a list of the client -> the whole text that says that there is none.
    """

    denied: re.Pattern[str]
    denied_behind: re.Pattern[str]
    of_a_wound: re.Pattern[str]
    past: re.Pattern[str]
    risk: re.Pattern[str]
    others: re.Pattern[str]
    none_known: Mapping[str, re.Pattern[str]]


@cache
def denials() -> Denials:
    """Return the patterns of all languages together: a text seldom says in which it is written.

    Examples
    --------
    >>> [bool(denials().past.match(words)) for words in ("history of ulcer", "antecedent d'ulcere", "ulcer")]
    [True, True, False]
    """
    folder = files("woundfhir.intake")
    read = [tomllib.loads(folder.joinpath(f"words_{one}.toml").read_text("utf-8")) for one in LANGUAGES]

    def words(part: str, key: str) -> str:
        return "|".join(dict.fromkeys(word for one in read for word in one[part][key]))

    def either(before: str, anywhere: str) -> re.Pattern[str]:
        return re.compile(rf"({before})\b|.*\b({anywhere})\b", re.I)

    denied: dict[str, Any] = {key: words("denied", key) for key in read[0]["denied"]}
    past = rf"({words('past', 'before')})\b|.*[(,:]\s*({words('past', 'behind')})\s*\)?\.?$"
    return Denials(
        re.compile(rf"(?!({denied['unless']}))({denied['before']})\b", re.I),
        re.compile(
            rf".*(\s*[:=,(\u2013\u2014]\s*|\s+-+\s*|\s+({denied['verbs']})\s+)({denied['behind']})"
            rf"(\s+({denied['seen']}))?\s*\)?[.;]?|.*\b({denied['end']})\.?",
            re.I,
        ),
        re.compile(rf"\b({denied['findings']})\b", re.I),
        re.compile(rf"{past}|.*\b({words('past', 'anywhere')})\b", re.I),
        either(words("risk", "before"), words("risk", "anywhere")),
        either(f"({words('others', 'before')})('s)?", words("others", "anywhere")),
        {key: re.compile(rf"({words('none_known', key)})\.?", re.I) for key in read[0]["none_known"]},
    )
