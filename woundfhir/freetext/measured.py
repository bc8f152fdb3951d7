"""What is measured and counted: sizes, undermining, tunnels, shares of tissue, pain, pressure index, intervals."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal

from woundfhir.freetext.cavities import read_tunnels, read_undermining
from woundfhir.freetext.language import alternatives
from woundfhir.freetext.model import Certainty
from woundfhir.freetext.note import Note

_DAY = r"(\d{4}-\d\d-\d\d)"


def read_measured(note: Note) -> None:
    """Read everything that is a number with its meaning."""
    for reader in (
        read_undermining,
        read_tunnels,
        _tissue,
        _size,
        _labelled,
        _pain,
        _pain_at,
        _temperature,
        _negative_pressure,
        _index,
        _every,
        _next_change,
    ):
        reader(note)


def size_pattern(note: Note) -> str:
    """Two or three numbers with ``x`` between them, each with or without its unit."""
    words = note.words
    one = rf"({words.number}|\d+,\d+)\s*({words.unit})?"
    by = rf"\s*(?:[x×*]|{words.words('by')})\s*"
    return rf"(?<![\w.,/]){one}{by}{one}(?:{by}{one})?(?![\w/]|\.\d)"


def sizes(note: Note, found: re.Match[str]) -> tuple[list[str], str]:
    """Return the numbers with their unit, and what speaks against them."""
    numbers = [found[index] for index in (1, 3, 5) if found[index]]
    units = {note.words.unit_of(found[index]) for index in (2, 4, 6) if found[index]}
    last = found[2 * len(numbers)]
    if len(units) != 1 or last is None:
        return [], "no unit is written" if not units else "the units are not clear"
    unit = units.pop()
    why = "a comma stands in the number" if any("," in one for one in numbers) else ""
    return [f"{note.words.figure(one.replace(',', '.'))} {unit}" for one in numbers], why


def _size(note: Note) -> None:
    every = []
    for found in note.find(size_pattern(note)):
        quantities, why = sizes(note, found)
        if quantities and note.free(*found.span()):
            every.append((found, quantities, why))
    counted = [one for one in every if note.doubt(*one[0].span())[0] == "certain"]
    different = len({tuple(map(_plain, quantities)) for _, quantities, _ in counted}) > 1
    for found, quantities, why in every:
        certainty: Certainty = "ask" if different else "likely" if why else "certain"
        because = "the text gives more than one size" if different else why
        for key, quantity in zip(("length", "width", "depth"), quantities, strict=False):
            note.read(f"assessment.{key}", quantity, *found.span(), certainty, because)


def _plain(quantity: str) -> Decimal:
    return Decimal(quantity.split()[0])


def _labelled(note: Note) -> None:
    """Read "length 4 cm" or "4 cm long", whichever the text has more of."""
    words = note.words
    quantity = rf"({words.number})\s*({words.unit})"
    ways: list[list[tuple[str, re.Match[str]]]] = []
    # "4.2 cm (L) x 3 cm (W)"; the side in "2 cm (L) heel" is no length
    behind = r"(?<![\d.,/-]){quantity}\s*(?:(?:in\s+)?{label}|\({label}\)(?=\s*(?:[^\sa-z]|[x×]|by(?!\w)|$)))"
    for pattern in (r"{label}\s*(?:is|of|:|=|-)?\s*{quantity}", behind):
        way: list[tuple[str, re.Match[str]]] = []
        for key in ("length", "width", "depth"):
            filled = pattern.replace("{label}", words.words(key)).replace("{quantity}", quantity)
            way += [(key, one) for one in note.find(filled)]
        ways.append(way)
    taken = {one.path for one in note.readings if one.certainty == "certain"}
    best = max(ways, key=len)
    spans = [one.span() for _, one in best]
    other_way = ways[1] if best is ways[0] else ways[0]
    apart = [(key, one) for key, one in other_way if all(one.end() <= a or b <= one.start() for a, b in spans)]
    best = best + [(key, one) for key, one in apart if all(key != name for name, _ in best)]
    for key, one in best:
        different = len({other.group() for name, other in best if name == key}) > 1
        if note.free(*one.span()) and f"assessment.{key}" not in taken:
            value = f"{words.figure(one[1])} {words.unit_of(one[2])}"
            certainty: Certainty = "ask" if different else "certain"
            note.read(f"assessment.{key}", value, *one.span(), certainty, "more than one is given" * different)


def _tissue(note: Note) -> None:
    words = note.words
    spelt = {one: word for word, every in words.raw["tissue"].items() for one in every}
    names = "|".join(re.escape(one) for one in sorted(spelt, key=lambda one: -len(one)))
    share = rf"({words.number})\s*{words.words('per_cent')}"
    look = rf"(?:{alternatives(words.raw['adjectives']['words'])}\s+){{0,2}}"
    word_first, share_first = (
        rf"(?<!\w)({names})(?!\w)\s*(?:tissue)?\s*[:=-]?\s*",
        rf"\s*(?:{words.words('of')}\s*)?{look}({names})(?!\w)",
    )
    found: list[tuple[str, str, int, int]] = []
    end_of_last = 0
    for one in note.find(share):
        before = re.search(word_first + "$", note.low[end_of_last : one.start()])
        after = re.compile(share_first).match(note.low, one.end())
        number = words.figure(one[1])
        if before is not None:
            found.append((spelt[before[1]], number, end_of_last + before.start(), one.end()))
            end_of_last = one.end()
        elif after is not None:
            found.append((spelt[after[1]], number, one.start(), after.end()))
            end_of_last = after.end()
    total = sum(Decimal(number) for _, number, _, _ in found)
    twice = len({word for word, _, _, _ in found}) < len(found)
    for word, number, start, end in found:
        certainty: Certainty = "ask" if twice or total > 100 else "certain"
        why = "the shares do not make one whole" if certainty == "ask" else ""
        note.read("assessment.tissue", {word: f"{number} %"}, start, end, certainty, why)


def _pain(note: Note) -> None:
    words = note.words
    at_rest, at_change = words.words("at_rest"), words.words("at_change")
    for found in note.find(rf"(?<![\d/.])({words.number})\s*{words.words('out_of')}\s*(?:10|ten)(?!\w|/)"):
        begin, finish = note.sentence(found.start())
        named = list(re.finditer(words.words("pain"), note.low[begin : found.start()]))
        score = Decimal(words.figure(found[1]))
        if not named or score > 10:
            continue
        part_start, part_end = note.part(found.start())
        start = max(begin + named[-1].start(), part_start)
        near = note.low[start : min(part_end, finish, found.end() + 40)]
        rest, change = re.search(at_rest, near), re.search(at_change, near)
        path = "assessment.pain_at_change" if change and not rest else "assessment.pain_at_rest"
        certainty: Certainty = "certain" if bool(rest) != bool(change) else "likely"
        end = start + max(one.end() for one in (rest, change) if one) if rest or change else found.end()
        why = "" if certainty == "certain" else "at rest, or at the change?"
        note.read(path, words.figure(found[1]), start, max(end, found.end()), certainty, why)


def _pain_at(note: Note) -> None:
    """Read "pain at rest 2, during change 4": the scale is not named, the moment is."""
    words = note.words
    for key in ("at_rest", "at_change"):
        for found in note.find(
            rf"{words.words(key)}\s*(?:is|was|:|=)?\s*(\d{{1,2}})(?![\w/.%]|\s*(?:{words.unit}|[x×]))"
        ):
            begin, _ = note.sentence(found.start())
            if Decimal(found[1]) <= 10 and re.search(words.words("pain"), note.low[begin : found.end()]):
                note.read(f"assessment.pain_{key}", found[1], *found.span())


def _temperature(note: Note) -> None:
    """Read the body's temperature: "temp 36.9"; an impossible number is not read."""
    raw = note.words.raw["figures"]["fever"]["words"]
    for found in note.find(
        rf"{alternatives([*raw, 'fever', 'febrile'])}\s*(?:is|was|of|:|=)?\s*(\d\d(?:\.\d)?)(?!\w|[.,]\d|\s*[%/])"
    ):
        if Decimal(34) <= Decimal(found[1]) <= Decimal(43):
            note.read("client.temperature", f"{found[1]} Cel", *found.span())
    for found in note.find(
        rf"{alternatives([*raw, 'fever'])}\s*(?:is|was|of|:|=)?\s*(\d{{2,3}}(?:\.\d)?)\s*°?\s?f(?!\w)"
    ):
        if Decimal(93) <= Decimal(found[1]) <= Decimal(110):
            note.read("client.temperature", f"{found[1]} [degF]", *found.span())


def _negative_pressure(note: Note) -> None:
    for found in note.find(
        r"(?<!\w)(?:npwt|negative pressure)[^.;\n\d-]{0,25}(-?\d{2,3})\s*mm\s*hg(?:\s*,?\s*(continuous|intermittent))?"
    ):
        note.read("care.negative_pressure.pressure", f"{found[1]} mmHg", *found.span())
        if found[2]:
            note.read("care.negative_pressure.mode", found[2], *found.span())


def _index(note: Note) -> None:
    for field in ("index", "toe_index"):
        _both_sides(note, note.words.words(field), field)
        _one_side(note, note.words.words(field), field)


def _sides(note: Note) -> tuple[dict[str, str], str]:
    """Return the spellings of left and right, and their pattern."""
    side = {spelt: word for word, every in note.words.raw["sides"].items() for spelt in every if word != "both"}
    spelt = "|".join(re.escape(one) for one in sorted(side, key=lambda one: -len(one)))
    return side, rf"(?<!\w)(?:{spelt})(?!\w)"


def _both_sides(note: Note, name: str, field: str) -> None:
    """The indices of both limbs after one name: "ABI L 0.82 R 0.95", "ABI 0.45 L, 1.0 R"."""
    (side, of), number = _sides(note), r"\d(?:\.\d+)?(?![\d.,]*\d)"
    before, behind = rf"({of})\s*[:=]?\s*({number})", rf"({number})\s*(?:on\s+)?({of})"
    joined, dated = r"[\s,;/&]*(?:and\s+)?", rf"(?:\s*,?\s*{note.words.words('dated')}\s*{_DAY})?"
    for first, second, order in ((before, before, 1), (behind, behind, -1)):
        for found in note.find(rf"{name}\W{{0,3}}{first}{joined}{second}{dated}"):
            pairs = [found.groups()[:2][::order], found.groups()[2:4][::order]]
            if len({side[one] for one, _ in pairs}) == 2 and all(Decimal(value) <= 2 for _, value in pairs):
                date = {"date": found[5]} if found[5] else {}
                for one, value in pairs:
                    note.read("assessment.limb_pressure", {"side": side[one], field: value, **date}, *found.span())


def _one_side(note: Note, name: str, field: str) -> None:
    side, of = _sides(note)
    pattern = (
        rf"(?:({of})\s+)?{name}([^.;\n\d]{{0,12}}?)(\d(?:\.\d+)?)(?![\d.]|,\d)"
        rf"(?:\s*(?:on\s+)?(?:the\s+)?({of})(?!\W{{0,3}}\d)(?!\s+(?:\w+\s+)?(?:toe|hallux)))?"
        rf"(?:\s*(?:leg)?\s*,?\s*{note.words.words('dated')}\s*{_DAY})?"
    )
    for found in note.find(pattern):
        if Decimal(found[3]) > 2:
            continue
        value = {field: found[3]}
        # A side between the name and the number is that number's, and the next one its own.
        between = re.search(of, found[2])
        said = {side[one] for one in (found[1], between and between[0], found[4]) if one}
        if len(said) == 1:
            value = {"side": next(iter(said)), **value}
        if found[5]:
            value["date"] = found[5]
        two = len(said) > 1
        why = "of which side is it said?" if two else ""
        note.read("assessment.limb_pressure", value, *found.span(), "ask" if two else "certain", why)


def _every(note: Note) -> None:
    words = note.words
    unit = {"d": "d", "day": "d", "days": "d", "wk": "wk", "wks": "wk", "week": "wk", "weeks": "wk"}
    spelt = "|".join(sorted(unit, key=lambda one: -len(one)))
    every = words.words("every").replace(r"(?!\w)", "")
    for found in note.find(rf"{every}\s*({words.number})?\s*({spelt})(?!\w)"):
        begin, finish = note.sentence(found.start())
        if re.search(words.words("change"), note.low[begin:finish]):
            note.read("plan.change_every", f"{words.figure(found[1] or '1')} {unit[found[2]]}", *found.span())
    for found in note.find(rf"{words.words('change')}\s+(?:dressing\s+)?daily(?!\w)"):
        note.read("plan.change_every", "1 d", *found.span())
    for found in note.find(r"(?<!\w)(daily|weekly)\s+(?:dressing|dsg|drsg)\s+changes?(?!\w)"):
        note.read("plan.change_every", "1 d" if found[1] == "daily" else "1 wk", *found.span())


def _next_change(note: Note) -> None:
    for found in note.find(rf"{note.words.words('next_change')}[^.;\n\d]{{0,15}}{_DAY}"):
        note.read("plan.next_change", found[1], *found.span())


def counts(note: Note) -> Iterator[re.Match[str]]:
    """Yield each count of pieces: "2 strips", "1 piece of"."""
    words = note.words
    yield from note.find(rf"(?<![\w.])({words.number})\s*{words.words('piece')}(?!\w)")
