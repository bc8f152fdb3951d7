"""What one column of a table may mean: a guess from its header, held against its cells."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from woundfhir.tables.cell_words import OWN_WORDS, wound_number
from woundfhir.tables.cells import Reader
from woundfhir.tables.layout import Laid, folded
from woundfhir.tables.mapping import ColumnMap, TableMap
from woundfhir.tables.sheet import Line, Number, Stamp
from woundfhir.tables.targets import target
from woundfhir.tables.vocabulary import Meaning, elsewhere, meaning, numbered
from woundfhir.tables.when import SHORT_YEAR, read_day

#: At most so many words of a column are listed for a person to decide, each of at most so many characters.
_WORDS, _LENGTH = 12, 30
_TICKS = {"x": "yes", "✓": "yes", "✔": "yes", "1": "yes", "0": "no"}
#: What says that there is some of it, where a list asks only how much or of what kind.
_THERE = ("y", "yes", "x", "✓", "✔", "1", "o", "oui", "pos", "+")
_PRESENT = "present"
_NUMERIC = re.compile(r"\s*(\d{1,2})\s*[-/.]\s*(\d{1,2})\s*[-/.]\s*(?:\d{2}|\d{4})\b.*", re.DOTALL)


@dataclass(slots=True)
class Guess:
    """What is proposed for one column, or for one finding of a long table.

    Attributes
    ----------
    position
        Of the column, from 0; of a finding that of the column of values.
    name
        Its header; empty where the number must name it.
    paths
        Where it goes; none for a column that is kept aside.
    rests_on
        What the guess rests on.
    keys
        More keys of its table in TOML, as written.
    notes
        What a person must decide, or may want to know: comments.
    """

    position: int
    name: str
    paths: tuple[str, ...] = ()
    rests_on: str = ""
    keys: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    @property
    def shapes(self) -> set[str]:
        """The shapes of the places that it goes to."""
        return {one.shape for path in self.paths if (one := target(path)) is not None}


def cells_of(lines: Sequence[Line], position: int) -> list[str]:
    """Return the cells of a column that are not blank."""
    return [text for line in lines if (text := line.cell(position))]


def guesses(laid: Laid, lines: Sequence[Line]) -> list[Guess]:
    """Return a guess for each column; of two for one place the better one is proposed."""
    counts = Counter(folded(header) for header in laid.header)
    several = _wounds(laid.header)
    out = []
    for position, header in enumerate(laid.header):
        unique = bool(header) and counts[folded(header)] == 1
        one = Guess(position, header if unique else "")
        found = _meaning(header)
        if position in several and (inner := _meaning(several[position][0])) is not None:
            found = inner
            one.keys["wound"] = str(several[position][1])
        if found is not None:
            one.paths, one.rests_on = found
        out.append(one)
    if any("patient.name.given" in one.paths for one in out):  # then "Nom" beside "Prénom" is the family name
        for one in out:
            one.paths = ("patient.name.family",) if one.paths == ("patient.name",) else one.paths
    _each_place_once(out)
    return out


def _meaning(header: str) -> Meaning | None:
    """Look at the whole of a header, then at the last of its rows: that says which of several places is meant."""
    whole = meaning(header)
    last = meaning(header.rsplit(" / ", 1)[-1]) if " / " in header else None
    if whole is None or (last is not None and len(whole.paths) > 1 and set(last.paths) < set(whole.paths)):
        return last
    return whole


def _wounds(header: Sequence[str]) -> dict[int, tuple[str, int]]:
    """Return the columns that are about one of several wounds side by side: the rest of their name, and its number."""
    found = {position: each for position, name in enumerate(header) if (each := numbered(name)) is not None}
    about = {
        position: each
        for position, each in found.items()
        if (one := _meaning(each[0])) is not None
        and (first := target(one.paths[0])) is not None
        and first.head in ("wound", "entry")
    }
    return about if len({number for _, number in about.values()}) > 1 else {}


def _each_place_once(found: list[Guess]) -> None:
    taken: dict[tuple[str, str], Guess] = {}
    for one in sorted(found, key=lambda each: each.rests_on != "the header"):
        for path in one.paths:
            place = target(path)
            if place is None or place.shape == "choices" or "+" in place.column:
                continue
            before = taken.setdefault((place.path, one.keys.get("wound", "")), one)
            if before is not one:
                one.notes.append(f"could be {path} too, as column {before.position + 1}: decide which")
                one.paths, one.rests_on = (), ""
                break


def day_order(found: Sequence[Guess], lines: Sequence[Line], hints: dict[int, str]) -> tuple[str, str]:
    """Return the order of day and month, and what it rests on; ``decide`` where the cells do not settle it.

    Examples
    --------
    >>> one = Guess(0, "Date", ("visit.at",))
    >>> day_order([one], [Line(2, ["03/04/2026"]), Line(3, ["25/04/2026"])], {})
    ('day first', '1 of 2 dates has a day above 12 in the first place')
    """
    first = second = total = 0
    for one in found:
        if "date" not in one.shapes:
            continue
        hint = hints.get(one.position, "")
        if re.match(r"[dj]", hint):
            return "day first", "the row below the header"
        if re.match(r"m", hint):
            return "month first", "the row below the header"
        for text in cells_of(lines, one.position):
            parts = None if isinstance(text, Stamp) else _NUMERIC.fullmatch(text)
            if parts is not None:
                total += 1
                first += int(parts[1]) > 12
                second += int(parts[2]) > 12
    if not total:
        return "", "no date is written in numbers that could be read in two ways"
    if first and not second:
        return "day first", f"{first} of {total} dates {_have(first)} a day above 12 in the first place"
    if second and not first:
        return "month first", f"{second} of {total} dates {_have(second)} a day above 12 in the second place"
    why = "both orders are there" if first else "no day is above 12"
    dates = "1 date is" if total == 1 else f"{total} dates are"
    return "decide", f"{dates} written in numbers, and {why}: dd/mm or mm/dd?"


def _have(number: int) -> str:
    return "has" if number == 1 else "have"


def check(one: Guess, laid: Laid, lines: Sequence[Line], mapping: TableMap, texts: Sequence[str] | None = None) -> None:
    """Hold a guess against the cells: give it up where they do not fit, and say what must be decided."""
    cells = cells_of(lines, one.position) if texts is None else list(texts)
    if not one.paths:
        one.notes += _looks_like(cells)
        return
    unit = laid.units.get(one.position) if texts is None else None
    reader = Reader(ColumnMap(number=one.position + 1, to=list(one.paths)), mapping, unit, one.position + 1)
    distinct = Counter(cells)
    _words(one, reader, distinct)
    reader = Reader(_as_map(one), mapping, unit, one.position + 1)
    bad = sum(number for text, number in distinct.items() if reader.read(text).fate == "not-understood")
    sure = "date" in one.shapes and any(SHORT_YEAR.fullmatch(text) for text in cells)  # a birth date's century is asked
    if cells and 2 * bad > len(cells) and not sure and not _undecided(one):
        one.notes.append(f"its header is like {' and '.join(one.paths)}, its cells are not ({bad} of {len(cells)})")
        why = next(read.why for text in distinct if (read := reader.read(text)).fate == "not-understood")
        one.notes.append(f"expected {why}")
        one.paths, one.rests_on, one.keys = (), "", {}
        return
    if len(one.paths) == 3 and max((len(reader.read(text).facts) for text in distinct), default=3) == 2:
        one.notes.append(f'no cell has a third number. If one can come: "{one.paths[2]}" behind these two')
        one.paths = one.paths[:2]
    if cells:
        one.rests_on += f", and {len(cells) - bad} of {len(cells)} cells fit"
    place = reader.targets[0]
    if place.shape == "quantity" and unit is None and place.concept is not None and place.concept.unit:
        bare = any(fact.text[-1:].isdigit() for text in distinct for fact in reader.read(text).facts)
        if bare and texts is None:
            one.notes.append(f'decide: the table gives no unit. unit = "{place.concept.unit}"?')
    if place.column == ("wound", "id"):
        _alike(one, distinct)
    if place.column[:2] == ("patient", "identifiers"):
        one.keys["system"] = '"decide"  # the address (URI) of what gives the number, or "none"'


def _alike(one: Guess, distinct: Counter[str]) -> None:
    """Ask about wounds whose numbers differ in the words and signs around them alone."""
    ways: dict[str, dict[str, str]] = {}
    for text in distinct:
        ways.setdefault(wound_number(text), {}).setdefault(folded(text), text)
    for some in ways.values():
        if len(some) > 1:
            shown = ", ".join(quoted(text[:_LENGTH]) for text in list(some.values())[:_WORDS])
            one.notes.append(f"decide: is this one wound of a client, written in several ways? Under words: {shown}")


def _undecided(one: Guess) -> bool:
    return any(note.startswith("decide: what these words") for note in one.notes)


def _as_map(one: Guess) -> ColumnMap:
    words = dict(re.findall(r'"([^"]*)" = "([^"]*)"', one.keys.get("words", "")))
    return ColumnMap(number=one.position + 1, to=list(one.paths), words=words)


def _words(one: Guess, reader: Reader, distinct: Counter[str]) -> None:
    """Propose what words of the column mean, and list those that nobody knows."""
    place = reader.targets[0]
    if place.shape not in ("flag", "choice", "choices"):
        return
    answers = place.concept.answers if place.concept is not None else None
    listed = elsewhere(answers.key) if answers is not None else {}
    known: dict[str, str] = {}
    unknown = []
    for text in distinct:
        read = reader.read(text)
        if read.fate != "not-understood" and read.why != OWN_WORDS:
            continue
        answer = _TICKS.get(folded(text)) if place.shape == "flag" else listed.get(folded(text))
        if answer is None and answers is not None and folded(text) in _THERE and answers.find(_PRESENT) is not None:
            answer = _PRESENT
        if answer is not None:
            known.setdefault(text, answer)
        elif len(text) <= _LENGTH and not isinstance(text, Stamp):
            unknown.append(text)
    if known:
        one.keys["words"] = "{" + ", ".join(f'{quoted(text)} = "{answer}"' for text, answer in known.items()) + "}"
    if unknown:
        shown = ", ".join(quoted(text) for text in unknown[:_WORDS]) + (" ..." if len(unknown) > _WORDS else "")
        one.notes.append(f"decide: what these words mean, under words: {shown}")


def _looks_like(cells: Sequence[str]) -> list[str]:
    if not cells:
        return ["no cell is filled"]
    days = sum(isinstance(text, Stamp) or read_day(text, "day first") is not None for text in cells)
    numbers = sum(isinstance(text, Number) or re.fullmatch(r"\d+(?:[.,]\d+)?", text) is not None for text in cells)
    kind = "dates" if 2 * days > len(cells) else "numbers" if 2 * numbers > len(cells) else "words"
    return [f"1 cell with {kind}" if len(cells) == 1 else f"{len(cells)} cells with {kind}"]


def quoted(text: str) -> str:
    """Return a text as TOML writes it.

    Examples
    --------
    >>> print(quoted('5" x'))
    "5\\" x"
    """
    inner = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(char if char.isprintable() else f"\\u{ord(char):04X}" for char in inner) + '"'
