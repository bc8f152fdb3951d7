"""What is named: the wound, its place, dressings, packing, solutions, setting and purpose."""

from __future__ import annotations

import re
from typing import NamedTuple

from woundfhir.freetext.language import Names, alternatives
from woundfhir.freetext.measured import counts, size_pattern, sizes
from woundfhir.freetext.model import Certainty
from woundfhir.freetext.note import Note


class _Named(NamedTuple):
    """A phrase of a list where it stands."""

    word: str
    start: int
    end: int


def _phrases(note: Note, names: Names) -> list[_Named]:
    """Return what of a list stands in the text, the longest phrase first where two lie over each other."""
    return [_Named(names.word(found.group()), *found.span()) for found in note.find(names.pattern)]


def read_care(note: Note) -> None:
    """Read packing, dressings, securement, compression and cleansing: before sizes, which may be a dressing's."""
    _packing(note)
    _dressings(note)
    _cleansing(note)
    _compression(note)


def read_wound(note: Note) -> None:
    """Read kind, site and side of the wound, exposed structures, setting and purpose."""
    raw = note.words.raw
    kinds = _phrases(note, note.words.names("wound_kind", "kinds", raw["kinds"]["never_kinds"]))
    kinds = [one for one in kinds if not note.denied(one.start, one.end)]
    several = len({one.word for one in kinds}) > 1
    sites = _sites(note, kinds)
    for one in kinds:
        certainty: Certainty = "ask" if several else "certain"
        note.read("wound.kind", one.word, one.start, one.end, certainty, "more than one kind is named" * several)
    _read_sites(note, sites)
    _exposed(note)
    for key, path in (("settings", "visit.setting"), ("purposes", "visit.purpose")):
        for answer, spellings in raw[key].items():
            for found in note.find(alternatives(spellings)):
                before = note.low[: found.start()].split()[-1:]
                if note.refused(found.start()):
                    continue
                if before and before[0] in ("with", "during", "before", "after", "at", "w", "next", "for", "each"):
                    continue
                note.read(path, answer, *found.span())


def _sites(note: Note, kinds: list[_Named]) -> list[tuple[_Named, str, bool]]:
    """Return sites, each with its side and whether it certainly is the wound's."""
    raw = note.words.raw["sites"]
    side_of = {one: word for word, every in note.words.raw["sides"].items() for one in every}
    sides = "|".join(re.escape(one) for one in sorted(side_of, key=lambda one: -len(one)))
    before = re.compile(rf"(?<!\w)({sides})\s*(?:side\s+)?(?:of\s+)?$")
    behind = re.compile(rf"\s+({_follows(note)})(?!\w)")
    place = re.compile(rf"{alternatives(raw['before'])}\s+(?:{alternatives(raw['articles'])}\s+)?$")
    stage = re.compile(r"(?:stage|stg|st)\s*\w{1,3}\s+$")
    after = re.compile(rf"\s*{alternatives(raw['after'])}")
    covered = [(one.start, one.end) for one in kinds]
    out = []
    for one in _phrases(note, note.words.names("body_site", "sites", raw["never_sites"])):
        inside = any(start <= one.start and one.end <= end for start, end in covered)
        side = before.search(note.low, max(0, one.start - 12), one.start) or behind.match(note.low, one.end)
        touching = any(end <= one.start <= end + 1 or one.end <= start <= one.end + 1 for start, end in covered)
        sure = bool(side or place.search(note.low, 0, one.start) or after.match(note.low, one.end) or touching)
        sure = sure or bool(stage.search(note.low, 0, one.start))
        if inside or (note.low[one.start : one.end] in raw["only_with_side"] and side is None):
            continue
        if note.low[one.start : one.end] in raw["only_with_side"]:  # "left hand rail"
            closed = re.compile(r"\s*(?:[,.;:)\n]|$|\d)").match(note.low, max(side.end() if side else 0, one.end))
            begins = place.search(note.low, 0, min(side.start(), one.start)) if side else None
            sure = sure and bool(closed or begins or touching or after.match(note.low, one.end))
        span = (min(side.start(), one.start), max(side.end(), one.end)) if side else (one.start, one.end)
        out.append((_Named(one.word, *span), side_of[side[1]] if side else "", sure))
    for one in kinds:  # "R leg ulcer": the side stands before the kind
        side = before.search(note.low, max(0, one.start - 12), one.start) or behind.match(note.low, one.end)
        if side is not None:
            out.append((_Named("", side.start(1), side.end(1)), side_of[side[1]], True))
    return out


def _follows(note: Note) -> str:
    """The sides that stand behind what they are said of: "talon gauche"."""
    return alternatives(note.words.raw.get("side_follows", {}).get("words", ()))


def _read_sites(note: Note, sites: list[tuple[_Named, str, bool]]) -> None:
    words = {one.word for one, _, sure in sites if sure and one.word}
    sides = {side for _, side, sure in sites if sure and side}
    for one, side, sure in sites:
        certainty: Certainty = "certain" if sure else "likely"
        why = "" if sure else "is this the place of the wound?"
        if one.word and note.free(one.start, one.end):
            several = len(words) > 1 or len(sides) > 1
            note.read(
                "wound.site",
                one.word,
                one.start,
                one.end,
                "ask" if several else certainty,
                "more than one place is named" if several else why,
            )
        if side:
            several = len(sides) > 1
            note.read(
                "wound.side",
                side,
                one.start,
                one.end,
                "ask" if several else certainty,
                "both sides are named" if several else why,
            )


def _exposed(note: Note) -> None:
    visible = note.words.words("visible")
    for word, spellings in note.words.raw["exposed"].items():
        name = alternatives(spellings)
        for found in note.find(rf"(?:{name}\s+(?:is\s+)?{visible}|{visible}\s+{name})"):
            if not note.denied(*found.span()) and not note.near_no(found.start()):
                note.read("assessment.exposed", word, *found.span())


# -- care ----------------------------------------------------------------------------------------------------------


def _packing(note: Note) -> None:
    words = note.words
    names = words.names("packing_material")
    for found in list(counts(note)):
        begin, _ = note.sentence(found.start())
        before = note.low[begin : found.start()]
        packed, out = _last(words.words("packed"), before), _last(words.words("taken_out"), before)
        rest = re.compile(rf"\s*(?:of\s+)?({names.pattern})").match(note.low, found.end())
        count, end = words.figure(found[1]), rest.end() if rest else found.end()
        if packed > out and len(before) - packed < 20:
            value = {"pieces_in": count}
            if rest:
                value = {"material": names.word(rest[1]), **value}
            note.read("care.packing", value, begin + packed, end)
        elif out >= 0 and len(before) - out < 12:
            note.read("care.packing", {"pieces_out": count}, begin + out, end)


def _last(pattern: str, text: str) -> int:
    """Where a pattern stands last in a text, -1 where it does not."""
    return max((found.start() for found in re.finditer(pattern, text)), default=-1)


_PUT_ON = re.compile(r"\s*(?:was|were|is)?\s*(?:applied|placed|reapplied)(?!\w)")
_TAKEN_OFF = re.compile(r"\s*(?:was|were)?\s*(?:removed|taken off)(?!\w)")


def _dressings(note: Note) -> None:
    words, raw = note.words, note.words.raw["dressings"]
    names = words.names("dressing", "dressings", raw["never"], "dressing")
    applied, covered = words.listed("dressings", "applied"), words.listed("dressings", "covered")
    secured = words.listed("dressings", "secured")
    _secured(note, secured)
    inside = False
    for one in _phrases(note, names):
        begin, _ = note.sentence(one.start)
        before = note.low[begin : one.start]
        places = {key: _last(pattern, before) for key, pattern in (("in", applied), ("over", covered))}
        verb = max(places, key=lambda key: places[key])
        near = (
            places[verb] >= 0
            and re.search(r"[,.]|\d", before[places[verb] :]) is None
            and len(before) - places[verb] < 32
        )
        put_on, taken = _PUT_ON.match(note.low, one.end), _TAKEN_OFF.match(note.low, one.end)
        value, end = _with_size(note, one)
        if taken is not None:
            note.read("care.removed.dressing", one.word, one.start, taken.end())
        elif near and verb == "over":
            first = inside or any(r.path.startswith(("care.packing", "care.primary")) for r in note.readings)
            certainty: Certainty = "certain" if first else "likely"
            why = "" if first else "or is it the only one?"
            note.read("care.secondary_dressing", value, begin + places[verb], end, certainty, why)
        elif near or put_on is not None:
            start = begin + places[verb] if near else one.start
            note.read("care.primary_dressing", value, start, max(end, put_on.end() if put_on else 0))
            inside = True
        elif end > one.end or _listed(note, one):
            # One in a list without a verb; a dressing's size is never the wound's.
            path = "care.secondary_dressing" if inside else "care.primary_dressing"
            note.read(path, value, one.start, end, "likely", "was it put on?")
            inside = True


def _with_size(note: Note, one: _Named) -> tuple[dict[str, str], int]:
    """Return a dressing with the size behind it, and where the words for both end."""
    size = re.compile(r"\s*" + size_pattern(note).replace(r"(?<![\w.,/])", "", 1)).match(note.low, one.end)
    value = {"dressing": one.word}
    if size is None:
        return value, one.end
    quantities, why = sizes(note, size)
    if quantities and not why:
        value["size"] = f"{' x '.join(q.split()[0] for q in quantities)} {quantities[0].split()[1]}"
    return value, size.end()


def _listed(note: Note, one: _Named) -> bool:
    """Whether a dressing is all that a part of the sentence names: "calcium alginate, foam"."""
    start, end = note.part(one.start)
    return (
        not note.low[start : one.start].strip() and not note.low[one.end : end].strip() and not note.near_no(one.start)
    )


def _secured(note: Note, verb: str) -> None:
    words = note.words
    names, after = words.names("securement"), words.listed("dressings", "secure_after")
    for found in note.find(rf"(?:{verb}\s+(?:a\s+)?({names.pattern})|({names.pattern})\s+{after})"):
        method = names.word(found[1] or found[2])
        note.read("care.securement", {"method": method}, *found.span())


def _cleansing(note: Note) -> None:
    words = note.words
    names, cleansed, irrigated = words.names("solution", "solutions"), words.words("cleansed"), words.words("irrigated")
    quantity = rf"({words.number})\s*{words.volume}"
    for found in note.find(rf"({cleansed}|{irrigated})\s+(?:wound\s+|well\s+)?(?:{words.words('tight')}\s+)?"):
        if note.near_no(found.start()):
            continue
        part = note.low[found.end() : note.part(found.end())[1]][:50]
        solution = re.search(names.pattern, part)
        volume = re.search(quantity, part)
        if solution is None and volume is None:
            continue
        ends = [found.end() + one.end() for one in (solution, volume) if one is not None]
        span = (found.start(), max(ends))
        if solution is not None:
            note.read("care.cleansing.solution", names.word(solution.group()), *span)
        if volume is not None:
            note.read("care.cleansing.volume", f"{words.figure(volume[1])} mL", *span)
        if re.fullmatch(irrigated, found[1]):
            note.read("care.cleansing.method", "irrigation", *span)


def _compression(note: Note) -> None:
    words = note.words
    never = ("none", "elastic", "wrap", "stocking")
    names = words.names("compression_system", never=never, suffix="bandage")
    applied = words.listed("compression", "applied")
    for one in _phrases(note, names):
        after = re.compile(rf"\s*(?:is|was|were)?\s*{applied}").match(note.low, one.end)
        begin, _ = note.part(one.start)
        before = re.search(rf"{applied}\s+(?:a\s+)?$", note.low[begin : one.start])
        if note.near_no(one.start) or note.denied(one.start, one.end):
            continue
        certainty: Certainty = "certain" if after or before else "likely"
        note.read(
            "care.compression.system",
            one.word,
            one.start,
            after.end() if after else one.end,
            certainty,
            "" if after or before else "is it on the limb?",
        )
