"""Pairs of clients and how the evidence is graded, each with its reason (common practice, no source).

A grade is ``a`` (agree), ``s`` (silent), ``c`` (contradict) or ``ac`` (both), for identifier, birth date, name, sex.
"""

from __future__ import annotations

from typing import Any, NamedTuple

Json = Any


class Pair(NamedTuple):
    """Two clients, the four grades, whether they are joined without asking, and why."""

    why: str
    one: dict[str, Json]
    other: dict[str, Json]
    grades: str
    same: bool


CARD, CLINIC = "urn:example:card", "urn:example:clinic"


def who(
    *numbers: tuple[str | None, str | None], name: Json = None, born: str | None = None, sex: str | None = None
) -> Json:
    identifiers = [
        {key: value for key, value in (("system", s), ("value", v)) if value is not None} for s, v in numbers
    ]
    found = {"identifiers": identifiers, "name": name, "born": born, "sex": sex}
    return {key: value for key, value in found.items() if value}


def full(family: str, *given: str) -> Json:
    return {"family": family, "given": list(given)} if given else {"family": family}


N = (CARD, "4417-820-113")
ANN = full("Doe", "Ann")

PAIRS = [
    # -- identifiers
    Pair("one number of one system, and nothing else is known", who(N), who(N), "a s s s", True),
    Pair("all four agree", who(N, name=ANN, born="1948-03-12", sex="female"),
         who(N, name=ANN, born="1948-03-12", sex="female"), "a a a a", True),
    Pair("another number of the same system", who(N), who((CARD, "9")), "c s s s", False),
    Pair("one number in two systems is two numbers", who(N), who((CLINIC, N[1])), "s s s s", False),
    Pair("one system agrees, another contradicts", who(N, (CLINIC, "1")), who(N, (CLINIC, "2")), "ac s s s", False),
    Pair("a second number on one side only says nothing against", who(N, (CARD, "9")), who(N), "a s s s", True),
    Pair("a second number of one system on each side", who(N, (CARD, "9")), who(N, (CARD, "8")), "ac s s s", False),
    Pair("a further system on one side says nothing", who(N, (CLINIC, "1")), who(N), "a s s s", True),
    Pair("a system in other letters is perhaps another", who((CARD.upper(), N[1])), who(N), "s s s s", False),
    Pair("and can still contradict", who(N, (CLINIC, "1")), who(N, (CLINIC.upper(), "2")), "ac s s s", False),
    Pair("a slash at the end of a system is no other system", who(("https://a.example/id/", "1")),
         who(("https://a.example/id", "1")), "a s s s", True),
    Pair("blanks around a number are no other number", who((CARD, " 9 ")), who((CARD, "9")), "a s s s", True),
    Pair("hyphens left out: perhaps the same number, so a person looks", who((CARD, "44-17")), who((CARD, "4417")),
         "s s s s", False),
    Pair("a number in other letters: perhaps the same", who((CARD, "ab1")), who((CARD, "AB1")), "s s s s", False),
    Pair("a zero in front: perhaps the same number", who((CARD, "0417")), who((CARD, "417")), "s s s s", False),
    Pair("a number without a system is anybody's", who((None, "7"), born="1948"), who((None, "7"), born="1948"),
         "s a s s", False),
    Pair("a system on one side only", who((None, N[1])), who(N), "s s s s", False),
    Pair("'unknown' is no system", who(("unknown", "7")), who(("unknown", "7")), "s s s s", False),
    Pair("'unknown' is no number", who((CARD, "Unknown")), who((CARD, "unknown")), "s s s s", False),
    Pair("'N/A' is no number", who((CARD, "N/A")), who((CARD, "n.a.")), "s s s s", False),
    Pair("zeros are no number", who((CARD, "0000")), who((CARD, "0000")), "s s s s", False),
    Pair("two zeros are none either", who((CARD, "00")), who((CARD, "00")), "s s s s", False),
    Pair("nines with hyphens are no number", who((CARD, "999-99-9999")), who((CARD, "999-99-9999")), "s s s s", False),
    Pair("a dash is no number", who((CARD, "-")), who((CARD, "-")), "s s s s", False),
    Pair("'refused' is no number", who((CARD, "refused")), who((CARD, "Refused")), "s s s s", False),
    Pair("'inconnu' is no number", who((CARD, "inconnu")), who((CARD, "inconnu")), "s s s s", False),
    Pair("a placeholder contradicts nothing", who(N, (CLINIC, "n/a")), who(N, (CLINIC, "5")), "a s s s", True),
    Pair("a system without a number is none", who((CARD, None)), who((CARD, None)), "s s s s", False),
    # -- birth dates
    Pair("a year and a day of it", who(N, born="1948"), who(N, born="1948-03-12"), "a a s s", True),
    Pair("a month and a day of it", who(N, born="1948-03"), who(N, born="1948-03-12"), "a a s s", True),
    Pair("a month and a day of another", who(N, born="1948-03"), who(N, born="1948-04-12"), "a c s s", False),
    Pair("two years", who(N, born="1948"), who(N, born="1949"), "a c s s", False),
    Pair("day and month the wrong way round: a typing error, or a twin in the card's number", who(N, born="1948-03-12"),
         who(N, born="1948-12-03"), "a c s s", False),
    Pair("one day apart", who(N, born="1948-03-12"), who(N, born="1948-03-13"), "a c s s", False),
    Pair("a date in words says nothing", who(N, born="in spring"), who(N, born="1948"), "a s s s", True),
    Pair("unknown birth says nothing", who(N, born="unknown"), who(N, born="1948"), "a s s s", True),
    # -- names
    Pair("case", who(N, name=full("DOE", "ANN")), who(N, name=ANN), "a s a s", True),
    Pair("accents", who(N, name=full("Côté", "Zoé")), who(N, name=full("Cote", "Zoe")), "a s a s", True),
    Pair("an accent as its own character", who(N, name=full("Cote\u0301")), who(N, name=full("Coté")), "a s a s", True),
    Pair("an initial", who(N, name=full("Doe", "A.")), who(N, name=ANN), "a s a s", True),
    Pair("a middle name on one side", who(N, name=full("Doe", "Ann", "Marie")), who(N, name=ANN), "a s a s", True),
    Pair("two middle names", who(N, name=full("Doe", "Ann", "Marie")), who(N, name=full("Doe", "Ann", "Rose")),
         "a s c s", False),
    Pair("one text, and the parts of it", who(N, name={"text": "Ann Doe"}), who(N, name=ANN), "a s a s", True),
    Pair("family name first, with a comma", who(N, name={"text": "Doe, Ann"}), who(N, name=ANN), "a s a s", True),
    Pair("a married name cannot be told from another woman's", who(N, name=full("Roe", "Ann")), who(N, name=ANN),
         "a s c s", False),
    Pair("a double name after marriage: a person looks", who(N, name=full("Doe-Roe", "Ann")), who(N, name=ANN),
         "a s c s", False),
    Pair("family and given name exchanged", who(N, name=full("Ann", "Doe")), who(N, name=ANN), "a s c s", False),
    Pair("a nickname: a person looks", who(N, name=full("Doe", "Annie")), who(N, name=ANN), "a s c s", False),
    Pair("'unknown' is no name", who(N, name=full("Unknown")), who(N, name=ANN), "a s s s", True),
    Pair("a family name only", who(N, name=full("Doe")), who(N, name=ANN), "a s a s", True),
    # -- sex
    Pair("a letter and the word", who(N, sex="F"), who(N, sex="female"), "a s s a", True),
    Pair("the French word", who(N, sex="femme"), who(N, sex="female"), "a s s a", True),
    Pair("two sexes", who(N, sex="male"), who(N, sex="female"), "a s s c", False),
    Pair("unknown says nothing", who(N, sex="unknown"), who(N, sex="female"), "a s s s", True),
    Pair("U says nothing", who(N, sex="U"), who(N, sex="female"), "a s s s", True),
    # -- without a number
    Pair("same name and birth, no number: two people of one name are born on one day", who(name=ANN, born="1948-03-12"),
         who(name=ANN, born="1948-03-12"), "s a a s", False),
    Pair("same name, other birth date", who(name=ANN, born="1948-03-12"), who(name=ANN, born="1950-01-01"), "s c a s",
         False),
    Pair("same name, other birth date, one number", who(N, name=ANN, born="1948-03-12"),
         who(N, name=ANN, born="1950-01-01"), "a c a s", False),
    Pair("nothing is known of either", {}, {}, "s s s s", False),
    Pair("nothing is known of one", who(N, name=ANN), {}, "s s s s", False),
    # -- twins
    Pair("twins with numbers of their own", who((CARD, "1"), name=full("Doe", "Ann"), born="1948-03-12", sex="female"),
         who((CARD, "2"), name=full("Doe", "Eve"), born="1948-03-12", sex="female"), "c a c a", False),
    Pair("twins under one family's number", who(N, name=full("Doe", "Ann"), born="1948-03-12", sex="female"),
         who(N, name=full("Doe", "Eve"), born="1948-03-12", sex="female"), "a a c a", False),
    Pair("twins under one number, given names not written", who(N, name=full("Doe"), born="1948-03-12", sex="female"),
         who(N, name=full("Doe"), born="1948-03-12", sex="male"), "a a a c", False),
]  # fmt: skip
