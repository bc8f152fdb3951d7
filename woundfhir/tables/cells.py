"""One cell read: what the record says of it, or why it cannot be read. A reader for each column of the mapping."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal

from woundfhir.catalogue import catalogue
from woundfhir.limits import ID_LENGTH
from woundfhir.record.leaf import NONE, is_plain
from woundfhir.record.shapes import shape_of
from woundfhir.tables import when
from woundfhir.tables.cell_words import (
    ERRORS,
    ESTIMATE,
    HOUR,
    MARK,
    NIL,
    NO,
    NOT_GIVEN,
    NOTHING,
    OWN_WORDS,
    SCORE,
    SEVERAL,
    SEX,
    SHARE,
    TIDIED,
    WORD,
    YES,
    Fact,
    Read,
    concept_of,
    expected_of,
    fits,
    is_code,
    one_of,
    refused,
)
from woundfhir.tables.figures import read_figure, split_size
from woundfhir.tables.layout import folded
from woundfhir.tables.mapping import ColumnMap, TableMap
from woundfhir.tables.sheet import Number, Odd, Stamp
from woundfhir.tables.targets import Target, target


class Reader:
    """Reads the cells of one column.

    Parameters
    ----------
    one
        What the mapping says of the column.
    mapping
        The mapping around it.
    unit
        The unit that the table gives the column.
    place
        The number of the column.

    Examples
    --------
    >>> lone = ColumnMap(name="Lg", to=["assessment.length"], unit="cm")
    >>> reader = Reader(lone, TableMap(table=1), None, 3)
    >>> [fact.text for fact in reader.read("4,2").facts], reader.read("big").fate
    (['4.2 cm'], 'not-understood')
    """

    def __init__(self, one: ColumnMap, mapping: TableMap, unit: str | None, place: int) -> None:
        found = [target(path) for path in one.to or ()]
        self.targets = [self._numbered(each, place) for each in found if each is not None]
        self.one = one
        self.unit = one.unit or unit
        self.place = place
        self.dates = one.dates or mapping.dates
        self.decimal = one.decimal or mapping.decimal
        zone = one.zone or mapping.zone
        self.zone = None if zone == "none" else zone
        self.short_years = mapping.short_years
        self.words = {folded(written): answer for written, answer in one.words.items()}
        self.system = None if one.system in (None, "none") else one.system
        self._known: dict[tuple[type, str, str | None], Read] = {}

    @staticmethod
    def _numbered(found: Target, place: int) -> Target:
        """Give each column of several identifiers a number of its own."""
        column = found.column
        if column[:2] == ("patient", "identifiers"):
            column = (*column[:2], str(place), *column[3:])
        return found._replace(column=column)

    def read(self, text: str, unit: str | None = None) -> Read:
        """Return what a cell says; ``unit`` is that of its row, in a table of one finding a row."""
        key = (type(text), text, unit)
        found = self._known.get(key)
        if found is None:
            found = self._read(text, unit)
            if len(self._known) < 4096:
                self._known[key] = found
        return found

    def _read(self, text: str, unit: str | None) -> Read:
        if isinstance(text, Odd):
            return refused(f"text, a number, a date or nothing; {text}")
        if ERRORS.fullmatch(text):
            return refused("a value, not a formula that has none or an error of the spreadsheet")
        if not is_plain(text):
            return refused("text without control characters")
        plain = folded(text)
        if plain in self.words:
            answer = self.words[plain]
            if not answer.strip():
                return Read((), "bookkeeping", "a word that the mapping leaves out")
            text, reworded = answer, True
            if answer.startswith("absent:"):
                facts = [self._absent(one, answer.removeprefix("absent:").strip()) for one in self.targets]
                return Read(tuple(facts), "reworded", WORD)
        else:
            reworded = False
            if plain in NOTHING:
                return Read((), "bookkeeping", MARK)
            if plain in NOT_GIVEN:
                return self._not_given(text)
        found = self._several(text) if len(self.targets) > 1 else self._one(self.targets[0], text, unit or self.unit)
        return found._replace(fate="reworded", why=WORD) if reworded and found.fate == "understood" else found

    def _not_given(self, text: str) -> Read:
        answered = [one for one in self.targets if one.concept is not None]
        if not answered:
            return Read((), "bookkeeping", MARK)
        return Read(tuple(self._absent(one, text) for one in answered), "understood", "why there is no answer")

    @staticmethod
    def _absent(one: Target, reason: str) -> Fact:
        return Fact(one, (*one.column, "absent"), reason)

    def _several(self, text: str) -> Read:
        """Read a size: as many numbers as there are places, or fewer."""
        parts = split_size(text)
        if len(parts) < 2 or len(parts) > len(self.targets):
            names = " x ".join(one.concept.label.lower() if one.concept else one.path for one in self.targets)
            return refused(f"numbers with x between them: {names}")
        reads = [
            self._one(one, Number(part) if isinstance(text, Number) else part, self.unit)
            for one, part in zip(self.targets, parts, strict=False)
        ]
        wrong = next((one for one in reads if one.fate == "not-understood"), None)
        if wrong is not None:
            return wrong
        facts = tuple(fact for one in reads for fact in one.facts)
        return Read(facts, max(one.fate for one in reads if one.fate), "the parts of one cell")

    def _one(self, one: Target, text: str, unit: str | None) -> Read:
        shape = _SHAPES.get(one.shape, Reader._text)
        return shape(self, one, text, unit)

    # -- the shapes ----------------------------------------------------------------------------

    def _text(self, one: Target, text: str, unit: str | None) -> Read:
        if one.column == ("patient", "sex"):
            sex = SEX.get(folded(text))
            return self._read_as(one, sex or text, sex is not None and sex != text)
        if one.column[-1] == "id" and one.head in ("wound", "visit") and len(text) > ID_LENGTH:
            return refused(f"an id of at most {ID_LENGTH} characters")
        read = self._read_as(one, text)
        if self.system is not None and one.column[:2] == ("patient", "identifiers"):
            system = Fact(one, (*one.column[:-1], "system"), self.system)
            return read._replace(facts=(*read.facts, system))
        return read

    def _date(self, one: Target, text: str, unit: str | None) -> Read:
        short = self.short_years and one.column != ("patient", "born")
        found = None if isinstance(text, Number) else when.read_time(text, self.dates, self.zone, short_years=short)
        if found is not None and isinstance(text, Stamp) and one.column == ("patient", "born"):
            found = found.removesuffix("T00:00:00")  # how data frames hold days
        if found is None:
            shown = when.SHOWN.get(self.dates or "", "yyyy-mm-dd (the mapping gives no order of day and month)")
            if isinstance(text, Number) or text.isdigit():
                return refused(f"a date: {shown}. A bare number is none: give the cell the format of a date")
            if when.SHORT_YEAR.fullmatch(text) and not short:
                return refused(f"a date with four digits of the year: {shown} (for visits short_years in the mapping)")
            return refused(f"a date: {shown}")
        return self._read_as(one, found, found != text)

    def _time(self, one: Target, text: str, unit: str | None) -> Read:
        stamp = isinstance(text, Stamp) and len(text) > 10
        found = when.read_clock(text[11:16] if stamp else text)
        return refused("a time of day: hh:mm") if found is None else self._read_as(one, found, found != text)

    def _word(self, one: Target, text: str, unit: str | None) -> Read:
        found = next((word for word in one.words if word == text.casefold()), None)
        return refused(f"one of {', '.join(one.words)}") if found is None else self._read_as(one, found, found != text)

    def _quantity(self, one: Target, text: str, unit: str | None) -> Read:
        concept = concept_of(one)
        if folded(text) in NIL:
            return Read((self._absent(one, text),), "understood", "why there is no answer")
        figure = None if isinstance(text, Stamp) else read_figure(text, self.decimal, unit)
        if figure is None:
            return refused(expected_of(concept, self.decimal))
        if figure.estimate:
            if figure.unit is not None and not fits(concept, figure.unit):
                return refused(expected_of(concept))
            return Read((self._fact(one, figure.text),), "reworded", ESTIMATE)
        fault = shape_of(concept).judge(concept, figure.text)
        if fault is None or (fault == "bare" and unit is None):
            return self._read_as(one, figure.text, figure.text != text and figure.text != f"{text} {figure.unit}")
        return refused(expected_of(concept, self.decimal))

    def _interval(self, one: Target, text: str, unit: str | None) -> Read:
        concept = concept_of(one)
        shape = shape_of(concept)
        bare = f"{text} {unit}" if unit and text.isdigit() else text
        written = shape.canonical(concept, bare, None, lambda path, value: None)
        if shape.judge(concept, str(written)) is None:
            return self._read_as(one, str(written), written != text)
        return Read((self._fact(one, text),), "reworded", OWN_WORDS)

    def _whole(self, one: Target, text: str, unit: str | None) -> Read:
        concept = concept_of(one)
        top = self.one.out_of or (int(Decimal(concept.high)) if concept.high else None)
        score = None if isinstance(text, Stamp) else SCORE.fullmatch(text)
        number = text
        if score is not None:
            if top is None or int(score[2]) != top:
                return refused(
                    f"a number out of {top}" if top else 'a whole number; for 3/10 write "out_of" in the mapping'
                )
            number = score[1]
        if not isinstance(text, Stamp) and shape_of(concept).judge(concept, number) is None:
            return self._read_as(one, str(int(number)), number != text)
        figure = None if isinstance(text, Stamp) else read_figure(text.split("/")[0].strip(), self.decimal, None)
        if figure is not None and figure.estimate and figure.unit is None:
            return Read((self._fact(one, text),), "reworded", ESTIMATE)
        return refused(expected_of(concept))

    def _flag(self, one: Target, text: str, unit: str | None) -> Read:
        plain = folded(text)
        if plain in YES or plain in NO:
            answer = "yes" if plain in YES else "no"
            return self._read_as(one, answer, answer != text)
        return refused('yes or no (Y, N, O, N); for other words write "words" in the mapping')

    def _clock(self, one: Target, text: str, unit: str | None) -> Read:
        found = HOUR.fullmatch(text)
        if found is not None and 1 <= int(found[1]) <= 12:
            return self._read_as(one, found[1], found[1] != text)
        return refused("an hour of the clock face, 1 to 12")

    def _choice(self, one: Target, text: str, unit: str | None) -> Read:
        concept = concept_of(one)
        answers = concept.answers
        if answers is None or answers.find(text) is not None:
            return self._read_as(one, text)
        if folded(text) in NIL and answers.find(NONE) is not None and folded(text) not in NO:
            return self._read_as(one, NONE, True)
        if is_code(text):
            return refused(one_of(answers))
        return Read((self._fact(one, text),), "reworded", OWN_WORDS)

    def _choices(self, one: Target, text: str, unit: str | None) -> Read:
        answers = concept_of(one).answers
        parts = [text]
        if self.one.separator is not None:
            parts = [part.strip() for part in text.split(self.one.separator) if part.strip()]
        elif answers is not None and answers.find(text) is None:
            split = [part for part in SEVERAL.split(text) if part]
            parts = split if all(answers.find(part) for part in split) else [text]
        facts, fate, why = [], "understood", TIDIED
        for number, part in enumerate(parts):
            read = self._choice(one, part, unit)
            if read.fate == "not-understood":
                return read
            if read.fate == "reworded":
                fate, why = read.fate, read.why
            facts += [fact._replace(column=(*fact.column, str(self.place * 100 + number))) for fact in read.facts]
        return Read(tuple(facts), fate, why)

    def _share(self, one: Target, text: str, unit: str | None) -> Read:
        concept = concept_of(one)
        word = len(one.column) > 2
        if word:
            figure = None if isinstance(text, Stamp) else read_figure(text, self.decimal, unit)
            if figure is None or (figure.unit and catalogue().units.get(figure.unit) != "%"):
                return refused("a share in %, 0 to 100")
            number = re.sub(r"[^\d.].*", "", figure.text)
            if not figure.estimate and number and Decimal(number) > 100:
                return refused("a share in %, 0 to 100")
            if figure.estimate:
                return Read((self._fact(one, figure.text),), "reworded", ESTIMATE)
            return self._read_as(one, figure.text, figure.text != text)
        found = [(each[0] or each[3], each[1] or each[2]) for each in SHARE.findall(text)]
        named = [(concept.answers.find(name.strip()) if concept.answers else None, share) for name, share in found]
        rest = re.sub(r"[\s,;+&/.]|and|et", "", SHARE.sub("", text))
        if (
            not named
            or rest
            or any(each is None for each, _ in named)
            or len({e.word for e, _ in named if e}) < len(named)
        ):
            return Read((self._fact(one, text),), "reworded", OWN_WORDS)
        facts = tuple(
            Fact(one, (*one.column, each.word), f"{share.replace(',', '.')} %") for each, share in named if each
        )
        return Read(facts, "understood", TIDIED)

    def _group(self, one: Target, text: str, unit: str | None) -> Read:
        if folded(text) in NIL or folded(text) in NO:
            return self._read_as(one, NONE, True)
        return self._read_as(one, text)

    # -- what comes of it ----------------------------------------------------------------------

    def _read_as(self, one: Target, text: str, reworded: bool = False) -> Read:
        return Read((self._fact(one, text),), "reworded" if reworded else "understood", TIDIED)

    @staticmethod
    def _fact(one: Target, text: str) -> Fact:
        return Fact(one, one.column, str(text))


_SHAPES: dict[str, Callable[[Reader, Target, str, str | None], Read]] = {
    "date": Reader._date,
    "time": Reader._time,
    "word": Reader._word,
    "quantity": Reader._quantity,
    "interval": Reader._interval,
    "score": Reader._whole,
    "count": Reader._whole,
    "flag": Reader._flag,
    "clock": Reader._clock,
    "choice": Reader._choice,
    "choices": Reader._choices,
    "share": Reader._share,
    "group": Reader._group,
    "step": Reader._group,
}
