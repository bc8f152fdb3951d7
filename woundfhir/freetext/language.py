"""The words of one language, compiled once: phrases as patterns, numbers in words, the words of the catalogue."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from functools import cached_property, lru_cache
from importlib.resources import files
from typing import Any

from woundfhir.catalogue import Word, catalogue, per_catalogue
from woundfhir.freetext.spelling import forms, plain_text, word_pattern

_LETTERS = re.compile(r"[a-z]+")
#: The languages that are read, the first one where a text names none.
LANGUAGES = ("en", "fr")


def phrase(text: str) -> str:
    """Return the pattern of a phrase: whole words with their endings, any blanks or hyphens between them.

    Examples
    --------
    >>> bool(re.search(phrase("peri wound"), "the peri-wound skin")), bool(re.search(phrase("l"), "lower"))
    (True, False)
    """
    inner = r"[\s-]+".join(word_pattern(word) for word in text.split())
    start = r"(?<!\w)" if text[0].isalnum() else ""
    end = r"(?!\w)" if text[-1].isalnum() else ""
    return start + inner + end


def alternatives(texts: Iterable[str]) -> str:
    """Return a pattern that any of the phrases fits, the longest first."""
    return _alternatives(frozenset(texts))


def one_blank(text: str) -> str:
    """Return a spelling with one blank between its words and no hyphen."""
    return re.sub(r"[\s-]+", " ", text)


@lru_cache(1000)
def _alternatives(texts: frozenset[str]) -> str:
    if not texts:
        return "(?!)"  # nothing fits
    return "(?:" + "|".join(phrase(text) for text in sorted(texts, key=lambda one: (-len(one), one))) + ")"


class Names:
    """What names the words of a list.

    Parameters
    ----------
    spelt
        Spelling -> the word that it means.

    Attributes
    ----------
    pattern
        Any of the spellings, the longest first.
    """

    def __init__(self, spelt: Mapping[str, str]) -> None:
        self.pattern = alternatives(spelt)
        self._words: dict[str, str] = {}
        for spelling, word in spelt.items():
            for form in forms(one_blank(spelling)):
                self._words.setdefault(form, word)

    def word(self, text: str) -> str:
        """Return the word that a text which fits the pattern means.

        Examples
        --------
        >>> Names({"calcium alginate": "alginate"}).word("calcium-alginate")
        'alginate'
        """
        return self._words[one_blank(text)]


class Language:
    """The words of a language, as patterns.

    Parameters
    ----------
    raw
        The data file of the language (``data/en.toml``), decoded, its words without accents.
    name
        The language.
    """

    def __init__(self, raw: Mapping[str, Any], name: str = "en") -> None:
        self.raw, self.name = raw, name
        self._names: dict[tuple[str, str, tuple[str, ...], str], Names] = {}

    def words(self, *names: str) -> str:
        """Return the alternatives of word lists of the table ``words``."""
        return alternatives(word for name in names for word in self.raw["words"][name])

    def listed(self, table: str, name: str) -> str:
        """Return the alternatives of a list in a table."""
        return alternatives(self.raw[table][name])

    @cached_property
    def around(self) -> tuple[str, ...]:
        """The patterns of a denial of two words, before and behind what it denies; none where a language has none."""
        raw = self.raw["negation"].get("around")
        if raw is None:
            return ()
        before, between, behind = map(alternatives, raw)
        return rf"{before}\s*(?:{between}\s*)*$", rf"\s*{behind}"

    @cached_property
    def holds(self) -> re.Pattern[str]:
        """The words that make the phrase of a hazard hold a denial itself."""
        return re.compile(self.listed("negation", "holds"))

    @cached_property
    def number(self) -> str:
        """The pattern of a number, in figures or in words."""
        names = "|".join(self.raw["numbers"])
        point = self.words("point")
        return rf"(?:\d+(?:\.\d+)?|(?<!\w)(?:{names})(?:\s+{point}\s+(?:{names}))?(?!\w))"

    @cached_property
    def _units(self) -> dict[str, list[str]]:
        """The spellings of units: those of the catalogue, and those of free text alone."""
        known = catalogue().units
        return {
            unit: [*{one.casefold(): None for one, code in known.items() if code == unit}, *more]
            for unit, more in self.raw["units"].items()
        }

    @cached_property
    def unit(self) -> str:
        """The pattern of a unit of length."""
        return alternatives([*self._units["cm"], *self._units["mm"]]).replace(r"(?<!\w)", "")

    @cached_property
    def volume(self) -> str:
        """The pattern of a unit of volume."""
        return alternatives(self._units["mL"]).replace(r"(?<!\w)", "")

    @cached_property
    def hours(self) -> str:
        """The pattern of an hour of the clock."""
        names = "|".join(key for key in self.raw["numbers"] if key != "zero")
        return rf"(?:1[0-2]|[1-9]|(?:{names}))(?![\d.]\d|\w)"

    def figure(self, text: str) -> str:
        """Return a number in figures.

        Examples
        --------
        >>> language().figure("one point five"), language().figure("4.10")
        ('1.5', '4.10')
        """
        numbers = self.raw["numbers"]
        parts = [part for part in text.split() if part not in self.raw["words"]["point"]]
        figures = [str(numbers.get(part, part)) for part in parts]
        return ".".join(figures)

    def unit_of(self, text: str) -> str:
        """Return the unit that a spelling means."""
        return next(unit for unit, spelt in self._units.items() if text in spelt)

    def names(self, answers: str, extra: str = "", never: Iterable[str] = (), suffix: str = "") -> Names:
        """Return what ``named`` does, compiled once; with a suffix, also each spelling with it behind."""
        key = (answers, extra, tuple(never), suffix)
        if key not in self._names:
            spelt = self.named(answers, extra, never)
            if suffix:
                spelt |= {f"{one} {suffix}": word for one, word in spelt.items() if suffix not in one}
            self._names[key] = Names(spelt)
        return self._names[key]

    def named(self, answers: str, extra: str = "", never: Iterable[str] = ()) -> dict[str, str]:
        """Return spelling -> word of an answer list: the catalogue's own words and synonyms, and those of a table."""
        out: dict[str, str] = {}
        for word in catalogue().answers[answers].words:
            for spelt in self._spellings(word):
                if len(spelt) > 2 and word.word != "none":  # "nil" names nothing
                    out.setdefault(plain_text(spelt), word.word)
        for word, spellings in self.raw.get(extra, {}).items():
            if isinstance(spellings, list) and catalogue().answers[answers].find(word):
                out.update(dict.fromkeys(spellings, word))
        for spelt in never:
            out.pop(spelt, None)
        return out

    def _spellings(self, word: Word) -> tuple[str, ...]:
        """The words of the catalogue for an answer, in this language."""
        return (word.word, *word.also) if self.name == "en" else word.forms

    @cached_property
    def vocabulary(self) -> frozenset[str]:
        """Every single word that means something here: what a misspelt word may have meant."""
        found: set[str] = set()
        for chain in self.raw["chained"].values():
            found.update(chain["cues"])
            for field in chain["fields"].values():
                found.update(field["words"])
        found.update(word for spellings in self.raw["tissue"].values() for word in spellings)
        found.update(self.named("wound_kind", "kinds"), self.named("body_site", "sites"))
        found.update(word for name in ("undermining", "tunnel") for word in self.raw["words"][name])
        hazards = [*self.raw["hazard_words"].values(), *self.raw["hazard_phrases"].values()]
        found.update(re.sub(r"\{\w+\}", "", text) for texts in hazards for text in texts)
        parts = {form for one in found for part in one.replace("...", " ").split() for form in forms(part)}
        return frozenset(part for part in parts if len(part) >= 5)

    @cached_property
    def comma(self) -> bool:
        """Whether a comma stands for a decimal point."""
        return bool(self.raw.get("decimal", {}).get("comma"))

    @cached_property
    def long_word(self) -> re.Pattern[str]:
        """A word long enough for a slip of the pen to be seen in it."""
        return re.compile(rf"[a-z]{{{self.raw['slips']['letters']},}}")

    @cached_property
    def near(self) -> int:
        """How near a word must be to a known one (0 to 100) to be taken for a slip of the pen."""
        return int(self.raw["slips"]["near"])

    @cached_property
    def by_letter(self) -> Mapping[str, list[str]]:
        """The same by the first letter, in order, so that of two words as near the same one is taken."""
        found: dict[str, list[str]] = {}
        for word in sorted(self.vocabulary):
            found.setdefault(word[0], []).append(word)
        return found

    @cached_property
    def known(self) -> frozenset[str]:
        """Every word of the data and of the catalogue, none of which is a slip of the pen; the other languages' too."""
        return self.own.union(*(language(one).own for one in LANGUAGES if one != self.name))

    @cached_property
    def own(self) -> frozenset[str]:
        """Every word of the data and of the catalogue in this language."""
        found = set(self.vocabulary)

        def take(value: Any) -> None:
            if isinstance(value, str):
                found.update(part for one in value.split() for form in forms(one) for part in _LETTERS.findall(form))
            elif isinstance(value, Mapping):
                for key, inner in value.items():
                    take(key)
                    take(inner)
            elif isinstance(value, list):
                for inner in value:
                    take(inner)

        take(self.raw)
        for answers in catalogue().answers.values():
            take([plain_text(spelt) for word in answers.words for spelt in self._spellings(word)])
        return frozenset(found)


@per_catalogue(4)
def language(name: str = "en") -> Language:
    """Return a language by its name; its data stands in ``data/NAME.toml``."""
    text = (files("woundfhir.freetext") / "data" / f"{name}.toml").read_text("utf-8")
    return Language(_without_accents(tomllib.loads(text)), name)


def _without_accents(value: Any) -> Any:
    """The data as texts are read, but for the names of answers, which stand on the right of "="."""
    if isinstance(value, Mapping):
        return {
            plain_text(key) if not key.isascii() else key: inner if isinstance(inner, str) else _without_accents(inner)
            for key, inner in value.items()
        }
    if isinstance(value, list):
        return [plain_text(one) if isinstance(one, str) else _without_accents(one) for one in value]
    return value
