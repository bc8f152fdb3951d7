"""Small questions that several rules ask; no rule stands here.

Numbers on which guidelines differ come from the policy that every rule is handed, never from this file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from decimal import Decimal
from functools import cache

from woundfhir.catalogue.illness import mentions, names
from woundfhir.chart.asking import Asked, Item, is_absent
from woundfhir.chart.views import EntryView, RecordView, VisitView, WoundView
from woundfhir.measures.limb import ankle_brachial_index, toe_brachial_index
from woundfhir.measures.size import area_rectangle
from woundfhir.record.bounds import Amount
from woundfhir.record.quantity import parse
from woundfhir.record.units import MeasureError

#: Two readings of a paper ruler may differ by this much, in cm: its finest mark.
RULER = Decimal("0.1")


def gaps(item: Asked, *fields: str) -> list[str]:
    """Return the fields in which nothing is written; a reason for no answer counts as written."""
    return [name for name in fields if not item.written(name)]


def exudate_level(entry: EntryView) -> int | None:
    """Return 0 (none) to 4 (large and above) for the amount written, of several ("moderate to large") the largest.

    None where the words are not in the list.
    """
    tags = entry.tags("assessment.exudate_amount")
    return max((int(tag[6:]) for tag in tags if tag.startswith("level:")), default=None)


def exudes(entry: EntryView, least: int) -> bool:
    """Whether at least this level of exudate is written (see ``exudate_level``)."""
    level = exudate_level(entry)
    return level is not None and level >= least


def laid(entry: EntryView, *tags: str) -> list[Item]:
    """Return what lies in or on the wound (primary dressing, packing) and has one of the tags."""
    wanted = frozenset(tags)
    return [item for item, main in _lies(entry) if wanted & item.tags(main)]


def honey_since(entry: EntryView) -> VisitView:
    """Return the first visit of this episode with honey on the wound: who was asked then need not be asked again."""
    earlier = entry.wound.entries[entry.episode_start : entry.nth]
    return next((one.visit for one in earlier if laid(one, "honey")), entry.visit)


def honey_used(record: RecordView) -> bool:
    """Whether honey was put on any wound."""
    return any(laid(entry, "honey") for entry in all_entries(record))


def _lies(entry: EntryView) -> Iterator[tuple[Item, str]]:
    for item in entry.items("care.primary_dressing"):
        yield item, "dressing"
    for item in entry.items("care.packing"):
        yield item, "material"


def covers(entry: EntryView) -> list[Item]:
    """Return the secondary dressings."""
    return entry.items("care.secondary_dressing")


#: What is charted of a compression that is on.
_PUT_ON = ("layers", "target_pressure", "stretch", "circulation_checked", "applied_by")


def compressed(entry: EntryView) -> Item | None:
    """Return the compression that was put on at this visit, or None."""
    for item in entry.items("care.compression"):
        # A system that nobody names is on where anything else about it is charted.
        nothing = item.absent("system") and not any(item.has(key) for key in _PUT_ON)
        if not item.none("system") and not nothing:
            return item
    return None


def last_change(entry: EntryView) -> EntryView | None:
    """Return the wound's newest earlier entry at which the dressing was changed."""
    return entry.latest(_changed)


def _changed(entry: EntryView) -> bool:
    return entry.holds("dressing change")


def area(entry: EntryView) -> Decimal | None:
    """Return length times width, else the area as written, in cm2; None where neither is measured."""
    sides = area_of_sides(entry)
    return entry.measure("assessment.area", "cm2") if sides is None else sides


def area_of_sides(entry: EntryView) -> Decimal | None:
    """Return length times width in cm2; 0 where one of them is 0, None where one is not measured."""
    length, width = entry.measure("assessment.length", "cm"), entry.measure("assessment.width", "cm")
    if length is None or width is None:
        return None
    return area_rectangle(length, width) if min(length, width) > 0 else Decimal()


def size(entry: EntryView) -> Decimal:
    """Return the area of an entry that is measured (see ``area``)."""
    return area(entry) or Decimal()


def measured(entry: EntryView) -> bool:
    """Whether this note has an area, or a length and width."""
    return area(entry) is not None


def sized(entry: EntryView) -> bool:
    """Whether the wound was measured at this visit: length and width, or an area."""
    return (entry.has("assessment.length") and entry.has("assessment.width")) or entry.has("assessment.area")


def opened(entry: EntryView) -> VisitView:
    """Return the visit at which the wound was first charted in this episode."""
    first = entry.wound.entries[entry.episode_start] if entry.episode_start < entry.nth else entry
    return first.visit


def first_with(entry: EntryView, test: Callable[[EntryView], object]) -> VisitView:
    """Return the first visit of this episode, up to this one, whose entry passes a test; this one where none does."""
    entries = entry.wound.entries
    earlier = (entries[place] for place in range(entry.episode_start, entry.nth))
    return next((one.visit for one in earlier if test(one)), entry.visit)


def since(entry: EntryView) -> Iterator[EntryView]:
    """Yield this entry and the earlier ones of its episode that count, newest first."""
    yield entry
    yield from reversed(entry.wound.entries[entry.episode_start : entry.nth])


def here_or_before(entry: EntryView, test: Callable[[EntryView], bool]) -> bool:
    """Whether this entry or an earlier one of its episode that counts passes a test (see ``EntryView.latest``)."""
    return test(entry) or entry.in_episode(test) is not None


def lately(entry: EntryView, test: Callable[[EntryView], bool], days: int) -> bool:
    """Whether an earlier entry of the episode passes a test, at most so many days before or on a day not known."""
    last = entry.in_episode(test)
    gap = None if last is None else gap_days(last, entry)
    return last is not None and (gap is None or gap <= days)


def tissues(entry: EntryView) -> Iterator[tuple[str, frozenset[str], Decimal | None]]:
    """Yield word, tags and share in per cent of each tissue of the bed; None for a share that cannot be read."""
    value = entry.answer("assessment.tissue")
    if type(value) is not dict or is_absent(value):
        return
    for written, known in entry.named("assessment.tissue"):
        share = parse(value[written])
        word, tags = (written, frozenset[str]()) if known is None else (known.word, known.tags)
        yield word, tags, None if share is None or share.comparator else share.value


def seen_tissues(entry: EntryView) -> Iterator[tuple[str, frozenset[str]]]:
    """Yield word and tags of each tissue of the bed whose share is not zero."""
    yield from ((word, tags) for word, tags, share in tissues(entry) if share is None or share > 0)


def dead_tissue(entry: EntryView) -> Decimal | None:
    """Return the share of slough and dead tissue in per cent; None where the bed is not charted."""
    bed = list(tissues(entry))
    found = (share for _, tags, share in bed if "devitalised" in tags and share is not None)
    return sum(found, Decimal()) if bed else None


def pieces(items: Iterable[Item], field: str) -> int | None:
    """Return the sum of a count over items; None where none of them has a readable one."""
    counts = [found for item in items if (found := item.number(field)) is not None]
    return int(sum(counts)) if counts else None


def packed_in(entry: EntryView) -> int | None:
    """Return how many pieces of packing were put in at this visit; None where the count is not written."""
    return pieces(entry.items("care.packing"), "pieces_in")


def taken_out(entry: EntryView) -> int | None:
    """Return how many pieces of packing were taken out; a count under ``removed`` holds where packing is named."""
    found = pieces(entry.items("care.packing"), "pieces_out")
    if found is None:
        removed = entry.items("care.removed")
        found = pieces((item for item in removed if "packing" in item.tags("dressing")), "pieces")
    return found


def filled(entry: EntryView) -> bool:
    """Whether packing was put in at this visit (an item that only counts what came out is none)."""
    return any(item.has("material") or put_in(item) for item in entry.items("care.packing"))


def put_in(item: Item, more_than: int = 0) -> bool:
    """Whether more than so many pieces of packing certainly went in."""
    pieces_in = item.amount("pieces_in")
    return pieces_in is not None and pieces_in.above(Decimal(more_than))


def index_of(item: Item) -> Amount | None:
    """Return the ankle index: as written, else worked out from the pressures."""
    written, counted = item.amount("index"), ankle_index(item)
    return Amount(counted) if written is None and counted is not None else written


def ankle_index(item: Item) -> Decimal | None:
    """Return the ankle index that the pressures give; None where an ankle or an arm is missing."""
    keys = ("dorsalis_pedis", "posterior_tibial", "brachial_left", "brachial_right")
    try:
        return ankle_brachial_index(*(item.measure(key, "mm[Hg]") for key in keys))
    except MeasureError:
        return None


def toe_index_of(item: Item) -> Amount | None:
    """Return the toe index: as written, else worked out from the pressures."""
    written, counted = item.amount("toe_index"), toe_index(item)
    return Amount(counted) if written is None and counted is not None else written


def toe_index(item: Item) -> Decimal | None:
    """Return the toe index that the pressures give; None where the toe or an arm is missing."""
    toe, *arms = (item.measure(key, "mm[Hg]") for key in ("toe_pressure", "brachial_left", "brachial_right"))
    try:
        return None if toe is None else toe_brachial_index(toe, *arms)
    except MeasureError:
        return None


def _charts_diabetes(visit: VisitView) -> bool:
    return visit.flag("client.diabetes") is not None


def diabetic(entry: EntryView) -> bool:
    """Whether the client has diabetes by the record."""
    charted = entry.visit.newest(_charts_diabetes)
    if charted is not None:
        return bool(charted.flag("client.diabetes"))
    return has_illness(entry, "diabetes") or entry.holds("diabetic foot")


def has_illness(entry: EntryView, illness: str) -> bool:
    """Whether the client's conditions name an illness, or the newest health history that mentions it.

    Words of a later note about other things do not take it back.
    """
    if entry.patient.has_condition(illness):
        return True
    found = entry.visit.newest(_mentions(illness))
    return found is not None and names(illness, in_words(found, _HISTORY))


_HISTORY = "client.history"


@cache
def _mentions(illness: str) -> Callable[[VisitView], bool]:
    return lambda visit: mentions(illness, in_words(visit, _HISTORY))


def in_words(item: Asked, path: str) -> str:
    """Return an answer as written; nothing where there is none or a reason stands in its place."""
    value = item.answer(path)
    return value if isinstance(value, str) else ""


def all_entries(record: RecordView) -> Iterator[EntryView]:
    """Yield every judged entry of a wound that is not in error."""
    for visit in record.judged:
        for entry in visit.entries:
            if not entry.wound.in_error:
                yield entry


def gap_days(earlier: EntryView, later: EntryView) -> int | None:
    """Return the days between two entries; None where a day is not known."""
    if earlier.day is None or later.day is None:
        return None
    return (later.day - earlier.day).days


def apart(earlier: EntryView, later: EntryView, days: int) -> bool:
    """Whether at least so many days certainly lie between two entries."""
    found = gap_days(earlier, later)
    return found is not None and found >= days


def on_the_heel(wound: WoundView) -> bool:
    """Whether the wound lies on the heel, by its site or by the name of its kind ("heel ulcer")."""
    return "heel" in wound.tags("wound.site") | wound.tags("wound.kind")
