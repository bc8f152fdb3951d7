"""What a cell can say, in what words people write it, and the message for one that cannot be read."""

from __future__ import annotations

import re
from typing import NamedTuple

from woundfhir.catalogue import AnswerList, Concept, catalogue
from woundfhir.record.clients import plain_number
from woundfhir.record.shapes import shape_of
from woundfhir.record.table_clients import Column
from woundfhir.tables.layout import folded
from woundfhir.tables.targets import Target

#: Words of a cell (common practice in English and French, no source), as ``folded`` gives them.
NOTHING = frozenset(("-", "--", "---", "–", "—", ".", "/", "?", "blank", "vide"))
NOT_GIVEN = frozenset(("n/a", "na", "n.a.", "n/d", "nd", "s/o", "so", "sans objet", "non applicable", "not applicable"))
NIL = frozenset(("nil", "none", "aucun", "aucune", "neant", "ø", "no", "non", "absent", "absente"))
YES = frozenset(("y", "yes", "o", "oui", "true", "vrai"))
NO = frozenset(("n", "no", "non", "false", "faux"))
SEX = {"f": "female", "female": "female", "femme": "female", "feminin": "female", "woman": "female"}
SEX |= {"m": "male", "h": "male", "male": "male", "homme": "male", "masculin": "male", "man": "male"}
ERRORS = re.compile(r"#(?:N/?A|REF!|DIV/0!|VALUE!|NAME\?|NUM!|NULL!|FORMULA|VALEUR!|NOM\?|NOMBRE!|#+)|#{3,}", re.I)
SCORE = re.compile(r"(\d+)\s*(?:/|sur|out of)\s*(\d+)", re.I)
HOUR = re.compile(r"0?(\d{1,2})\s*(?:h(?:00)?|:00(?::00)?|o'?\s*clock|heures?)?", re.I)
SEVERAL = re.compile(r"\s*(?:[;,+/&\n]|\band\b|\bet\b)\s*", re.I)
SHARE = re.compile(
    r"(?:([^\W\d][^\d%:=;,]*?)\s*[:=]?\s*(\d+(?:[.,]\d+)?)\s*%|(\d+(?:[.,]\d+)?)\s*%\s*([^\W\d][^\d%;,]*))", re.I
)
#: What stands before the number of a wound (common practice, no source), as ``folded`` gives it.
_CALLED = re.compile(r"^(?:(?:wound|plaie|wd|wnd|w|p|no|n°|number|numero|#)[\s.:#-]*)+(?=[a-z]?\d|[a-z]$)")
_WOUND = re.compile(r"wound|plaie|wd|wnd|no|n°|number|numero|#")
#: Numbers as words and Roman numerals, as ``folded`` gives them -> digits (common words, no source needed).
_SPELLED = {
    word: str(number)
    for number, words in enumerate(
        (
            ("one", "first", "1st", "un", "une", "premier", "premiere", "1er", "1re", "i"),
            ("two", "second", "2nd", "deux", "deuxieme", "2e", "ii"),
            ("three", "third", "3rd", "trois", "troisieme", "3e", "iii"),
            ("four", "fourth", "4th", "quatre", "quatrieme", "4e", "iv"),
            ("five", "fifth", "5th", "cinq", "cinquieme", "5e", "v"),
            ("six", "sixth", "6th", "sixieme", "6e", "vi"),
        ),
        1,
    )
    for word in words
}
#: Why a cell is understood in other words than its own.
OWN_WORDS = "no word of its list: in the words of the cell"
ESTIMATE = "an estimate or a range: in the words of the cell"
MARK = "a mark where nothing is written"
WORD = "a word of the mapping's list"
TIDIED = "said in the form of the record"


class Fact(NamedTuple):
    """What a cell says: a place in the record and the text that stands there."""

    target: Target
    column: Column
    text: str


class Read(NamedTuple):
    """What became of one cell.

    Attributes
    ----------
    facts
        What it says.
    fate
        ``understood``, ``reworded``, ``bookkeeping``, or ``not-understood``.
    why
        The reason; of what is not understood, what was expected.
    """

    facts: tuple[Fact, ...]
    fate: str
    why: str


def wound_number(text: str) -> str:
    """Return the number of a wound without the words and signs around it.

    Examples
    --------
    >>> [wound_number(text) for text in ("1", "#1", "Wound 1", "W1", "W-01", "1.0", "Plaie nº 1", "left heel", "1a")]
    ['1', '1', '1', '1', '1', '1', '1', 'leftheel', '1a']
    >>> [wound_number(text) for text in ("one", "Wound One", "1st", "plaie II", "first wound", "one of two")]
    ['1', '1', '1', '2', '1', 'oneoftwo']
    """
    words = [word for word in folded(text).split() if not _WOUND.fullmatch(word)]
    if len(words) == 1 and words[0] in _SPELLED:
        return _SPELLED[words[0]]
    return plain_number(_CALLED.sub("", folded(text)))


def refused(expected: str) -> Read:
    return Read((), "not-understood", expected)


def concept_of(one: Target) -> Concept:
    if one.concept is None:
        raise TypeError("a key of the frame has no such shape")
    return one.concept


def fits(concept: Concept, unit: str) -> bool:
    known = shape_of(concept).units(concept)
    return not known or catalogue().units.get(unit) in known


def is_code(text: str) -> bool:
    """Whether a word is too short, or too bare of letters, to be anybody's own word for what was seen."""
    letters = sum(char.isalpha() for char in text)
    return letters < 3 or folded(text) in (YES | NO | {"true", "false"})


def one_of(answers: AnswerList) -> str:
    listed = ", ".join(word.word for word in answers.words[:6]) + (" ..." if len(answers.words) > 6 else "")
    return f'one of {listed}; for a code of your own write "words" in the mapping'


def expected_of(concept: Concept, decimal: str | None = None) -> str:
    low, high = shape_of(concept).limits(concept)
    what = "a whole number" if concept.shape in ("score", "count") else "a number"
    unit = shape_of(concept).unit(concept) if concept.shape == "quantity" else None
    said = f"{what}{f' in {unit}' if unit else ''}"
    if low is not None and high is not None:
        said += f", {low} to {high}"
    mark = {None: ' (1,250 could be two numbers: write "decimal" in the mapping)', "comma": " with a decimal comma"}
    return said + (mark.get(decimal, "") if concept.shape == "quantity" and decimal != "point" else "")
