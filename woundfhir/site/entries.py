"""From what a site's file says to entries of the catalogue, each held against what the catalogue has already."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from woundfhir.catalogue import Additions, Catalogue, Concept, SiteFacts, catalogue, frame
from woundfhir.catalogue.model import LAST
from woundfhir.chart.conditions import CONDITIONS
from woundfhir.errors import InputError
from woundfhir.r4.check_digits import is_loinc, is_snomed
from woundfhir.record.shapes import SHAPES
from woundfhir.site.model import CodeEntry, ConceptEntry, FieldEntry, ListEntry, SiteFile, WordEntry
from woundfhir.site_file import at_line, near

Loc = tuple[Any, ...]
Raw = dict[str, Any]
#: Group -> the resource that carries what it has no Observation for.
_RESOURCES = {"wound": "condition", "visit": "encounter", "supply": "supply", "photo": "photo"}
#: A path becomes an id of FHIR, which has no more characters.
_LONGEST = 64
_PARTS = frozenset(("group", "step"))
_FORMS = {"loinc": (is_loinc, "LOINC"), "sct": (is_snomed, "SNOMED CT")}


class Entries:
    """The entries of one file.

    Parameters
    ----------
    file
        What it says.
    site
        Whose it is.
    text, where
        Its text and its name, for messages.
    """

    def __init__(self, file: SiteFile, site: SiteFacts, text: str, where: str) -> None:
        self.file, self.site, self.text, self.where = file, site, text, where
        self.known: Catalogue = catalogue()
        self.systems = {**file.systems, site.name: site.code_system}
        self.own: dict[str, tuple[str, str]] = {}

    def fault(self, loc: Loc, expected: str, fix: str, found: str = "") -> InputError:
        """Return the error for a place of the file."""
        place = ".".join(str(one + 1) if isinstance(one, int) else str(one) for one in loc)
        return InputError(f"{at_line(self.where, self.text, loc)}, {place}", expected, fix, found=found)

    def additions(self) -> Additions:
        """Return what the site adds.

        Raises
        ------
        InputError
            For what the catalogue has already, and for what names nothing that it has.
        """
        for name, url in self.systems.items():
            if name in self.known.systems or url in self.known.systems.values():
                loc = ("systems", name) if name in self.file.systems else ("name",)
                raise self.fault(loc, "a name and an address that the catalogue does not use", "Choose another one")
        labels: dict[str, list[tuple[str, str]]] = {}
        for language, table in self.file.labels.items():
            for name, label in table.items():
                labels.setdefault(name, []).append((language, label))
        return Additions(
            self.site,
            self.systems,
            {key: self.list_(key, entry) for key, entry in self.file.answers.items()},
            {
                group: {key: self.concept(group, key, entry) for key, entry in concepts.items()}
                for group, concepts in self.file.concepts.items()
            },
            {name: tuple(found) for name, found in labels.items()},
        )

    # -- codes -----------------------------------------------------------------------------------------

    @property
    def _every_system(self) -> dict[str, str]:
        """Name -> address of the code systems of the catalogue and of the site."""
        return {**self.known.systems, **self.systems}

    def code(self, entry: CodeEntry | None, loc: Loc, source: str | None, name: str, display: str) -> Raw:
        """Return a code; one of the site's own where none is given."""
        entry = entry or CodeEntry(code=name, display=None, system="own")
        here = (*loc, "code")
        if entry.system in ("own", self.site.name):
            shown = entry.display or display
            if self.own.setdefault(entry.code, (shown, loc[0])) != (shown, loc[0]):
                raise self.fault(here, "a code of your own for each meaning", "Choose another code", "it has two")
            return {"system": self.site.name, "code": entry.code, "display": shown}
        systems = self._every_system
        if entry.system not in systems or entry.system == "own":
            fix = near(entry.system, systems) or "Name it under [systems], with its address"
            raise self.fault((*here, "system"), "the name of a code system", fix)
        if entry.system in _FORMS and not _FORMS[entry.system][0](entry.code):
            called = _FORMS[entry.system][1]
            fix = f"Look it up: its form, or its check digit, is not that of a {called} code"
            raise self.fault((*here, "code"), f"a code of {called}", fix)
        if source is None:
            fix = 'Add source = "...": who publishes that the code means this'
            raise self.fault(loc, "the key 'source' beside a code of others", fix)
        said = self.known.emitted().get((systems[entry.system], entry.code))
        if said is not None and entry.display not in (None, said):
            fix = f"The catalogue has it as {said}"
            raise self.fault((*here, "display"), "the display that the code has in the catalogue", fix)
        return {"system": entry.system, "code": entry.code, "display": entry.display or said}

    # -- answers ---------------------------------------------------------------------------------------

    def list_(self, key: str, entry: ListEntry) -> Raw:
        """Return the words that a list of the catalogue gains, or a list of the site's own."""
        loc: Loc = ("answers", key)
        ours = self.known.answers.get(key)
        if ours is not None and (entry.title is not None or entry.open is not None):
            raise self.fault(loc, "'words' and nothing else: the catalogue has this list", "Take out title and open")
        if ours is None and entry.title is None:
            fix = near(key, self.known.answers) or "Add a title, if the list is your own"
            raise self.fault(loc, "a list of the catalogue, or a title for one of your own", fix)
        words = [self.word(key, word, (*loc, "words", at)) for at, word in enumerate(entry.words)]
        head = {"title": entry.title, "open": entry.open is not False, "source": self.site.title}
        return {"words": words} if ours is not None else {**head, "words": words}

    def word(self, key: str, entry: WordEntry, loc: Loc) -> Raw:
        """Return one word of a list."""
        ours = self.known.answers.get(key)
        for spelling in (entry.word, *entry.also) if ours is not None else ():
            if (taken := ours.find(spelling)) is not None:  # type: ignore[union-attr]
                fix = f"It is a spelling of {taken.word} there: write that, or another word"
                raise self.fault(loc, f"words that the list {key} does not have", fix, "the word is taken")
        product = ours is not None and bool(ours.substances)
        if product is (entry.substances is None):
            expected = "'substances' of a product, and of nothing else"
            raise self.fault(loc, expected, "List what it carries, [] for nothing: allergies are held against it")
        self._names(entry.substances or (), self._substances(), (*loc, "substances"), "substances of the catalogue")
        self._names(entry.tags, self._tags(), (*loc, "tags"), "tags that the catalogue uses")
        name = f"{key}-{entry.word}".casefold().replace("_", "-").replace(" ", "-")
        display = entry.word[:1].upper() + entry.word[1:]
        codes = [self.code(one, loc, entry.source, name, display) for one in (entry.code, *entry.more)]
        first = (self._every_system[codes[0]["system"]], codes[0]["code"])
        if ours is not None and first in ours.by_code:
            raise self.fault((*loc, "code"), "a code that no word of the list has", "Write the list's word instead")
        made: Raw = {"word": entry.word, "also": entry.also, "code": codes[0], "more": codes[1:], "tags": entry.tags}
        made |= {"source": entry.source or self.site.title, "note": entry.note}
        return made if entry.substances is None else {**made, "substances": entry.substances}

    def _substances(self) -> list[str]:
        return [key for key, one in self.known.pages.substances.items() if not one.by_name]

    def _tags(self) -> set[str]:
        return {tag for answers in self.known.answers.values() for word in answers.words for tag in word.tags}

    def _names(self, given: Iterable[str], known: Iterable[str], loc: Loc, what: str) -> None:
        for one in given:
            if one not in (known := list(known)):
                raise self.fault(loc, what, near(one, known) or f"They are {', '.join(sorted(known))}")

    # -- data elements ---------------------------------------------------------------------------------

    def concept(self, group: str, key: str, entry: ConceptEntry) -> Raw:
        """Return a data element of the site's own, or the fields that one of the catalogue gains."""
        loc: Loc = ("concepts", group, key)
        self._free(key, loc)
        ours = self.known.groups[group].get(key)
        if ours is not None:
            return {"fields": self._more_fields(ours, entry, loc)}
        twice = [one for one in self.file.concepts if one < group and key in self.file.concepts[one]]
        if any(key not in self.known.groups[one] for one in twice):
            raise self.fault(loc, "a key that no other group of yours has", "Choose another one", "the key is taken")
        missing = [name for name in ("label", "shape") if getattr(entry, name) is None]
        if missing:
            fix = near(key, self.known.groups[group]) or f"Add {' and '.join(missing)}"
            raise self.fault(loc, f"the key '{missing[0]}' of a data element of your own", fix)
        asked = entry.role != "optional" and group in ("supply", "photo")
        if asked or (group in _RESOURCES and entry.shape in (*_PARTS, "share")):
            raise self.fault(loc, f"one optional answer in the group {group}", "Use another group, or shape")
        if (entry.shape in _PARTS) is not bool(entry.fields) or (entry.many and entry.shape != "group"):
            raise self.fault(loc, "fields in a group or step, and 'many' in a group alone", "Take one of them out")
        if (entry.role == "optional") is not (entry.asked is None):
            fix = f"Add [{'.'.join(loc)}.asked] with why and example, or take it out"
            raise self.fault(loc, "'asked' for what is required or expected, and for nothing else", fix)
        self._names(entry.when, CONDITIONS, (*loc, "when"), "named conditions")
        made = self._leaf(f"{group}.{key}", entry, loc, () if group == "care" else ("step",))
        made |= {"resource": "procedure" if entry.shape == "step" else _RESOURCES.get(group, "observation")}
        made |= {"base": self.site.base, "role": entry.role, "when": entry.when, **self._place(group, entry, loc)}
        made |= {"many": entry.many, "lasting": entry.lasting}
        if entry.asked is not None:
            made["asked"] = {**entry.asked.model_dump(), "source": entry.asked.source or self.site.title}
        if entry.fields:
            made["fields"] = self._fields(f"{group}.{key}", entry.fields, loc)
        return made

    def _free(self, key: str, loc: Loc) -> None:
        if key in {"absent", *(one.key for one in frame().every_key())}:
            raise self.fault(loc, "a key that the record does not use", "Choose another one", "the key is taken")

    def _more_fields(self, ours: Concept, entry: ConceptEntry, loc: Loc) -> Raw:
        if entry.model_fields_set - {"fields"}:
            fix = "Choose another key; of one that the catalogue has, 'fields' alone can be added to"
            raise self.fault(loc, "a key that the catalogue does not have", fix, "the key is taken")
        if not ours.is_group:
            raise self.fault(loc, "a group or step, to add fields to", "Make a data element of your own")
        if taken := ours.fields.keys() & entry.fields.keys():
            fix = f"The catalogue has {', '.join(sorted(taken))}: choose another key"
            raise self.fault((*loc, "fields", min(taken)), "a field that the catalogue does not have", fix)
        return self._fields(ours.path, entry.fields, loc)

    def _fields(self, path: str, fields: Mapping[str, FieldEntry], loc: Loc) -> Raw:
        made = {}
        for key, entry in fields.items():
            self._free(key, here := (*loc, "fields", key))
            if len(f"{path}.{key}") > _LONGEST:
                raise self.fault(here, f"a path of {_LONGEST} characters at most", "Choose a shorter key")
            made[key] = {**self._leaf(f"{path}.{key}", entry, here, (*_PARTS, "share")), "base": self.site.base}
        return made

    def _leaf(self, path: str, entry: FieldEntry, loc: Loc, without: tuple[str, ...]) -> Raw:
        """Return what elements and fields have alike."""
        label = str(entry.label)
        self._names([str(entry.shape)], [one for one in SHAPES if one not in without], (*loc, "shape"), "a shape")
        if entry.answers is not None:
            known = [*self.known.answers, *self.file.answers]
            self._names([entry.answers], known, (*loc, "answers"), "an answer list of the catalogue, or your own")
        units = list(dict.fromkeys([*([entry.unit] if entry.unit else []), *entry.units]))
        self._names(units, set(self.known.units.values()), (*loc, "unit"), "a unit of UCUM that the catalogue knows")
        code = self.code(entry.code, loc, entry.source, path.replace(".", "-").replace("_", "-"), label)
        if (self._every_system[code["system"]], code["code"]) in self.known.emitted():
            raise self.fault(
                (*loc, "code"), "a code that the catalogue does not use for something else", "Leave it out"
            )
        made: Raw = {"label": label, "question": entry.question or label, "shape": entry.shape, "code": code}
        made["source"] = entry.source or self.site.title
        for name in ("answers", "low", "high", "short", "note"):
            if (value := getattr(entry, name)) is not None:
                made[name] = value
        return {**made, "unit": units[0], "units": units} if units else made

    def _place(self, group: str, entry: ConceptEntry, loc: Loc) -> Raw:
        """Return where it is printed: behind what stands in its section already, where no rank is given."""
        if entry.section is None:
            return {}
        self._names([entry.section], self.known.sections, (*loc, "section"), "a section of the sheet")
        ranks = [one.page.rank for one in self.known.section(entry.section, group) if one.page.rank != LAST]
        behind = max(ranks, default=0) + 10 * (1 + list(self.file.concepts[group]).index(loc[2]))  # type: ignore[index]
        return {"section": entry.section, "rank": behind if entry.rank is None else entry.rank}
