"""The entries of the catalogue's TOML, read strictly: a misspelt key, unknown list or missing source is an error."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from importlib.resources import files
from typing import Any

from woundfhir.catalogue.base import BASE, PATHS
from woundfhir.catalogue.coding import FITS, Coding, KnownAs
from woundfhir.catalogue.model import RESOURCES, ROLES, AnswerList, CatalogueError, Concept, Word
from woundfhir.catalogue.page import PAGE_KEYS, PageTables, read_asked, read_page
from woundfhir.catalogue.site import Additions, Labels
from woundfhir.catalogue.spelling import same_form
from woundfhir.catalogue.translation import spellings, translations
from woundfhir.language import ENGLISH, Language
from woundfhir.texts import over

GROUPS = ("wound", "visit", "client", "assessment", "care", "supply", "plan", "photo")
_CONCEPT_KEYS = frozenset(("label", "question", "shape", "answers", "resource", "code", "also", "role"))
_CONCEPT_KEYS |= {"source", "unit", "units", "low", "high", "parent", "many", "main", "native", "activity", "details"}
_CONCEPT_KEYS |= {"recheck", "fields", "note", "ratio", "when", "asked", "base", "known_as", "within"} | PAGE_KEYS
_WORD_KEYS = frozenset(["word", "also", "code", "more", "tags", "source", "recheck", "note", "substances", "known_as"])
_KNOWN_AS_KEYS = frozenset(["system", "code", "display", "fit", "source", "recheck", "where"])


class Reader:
    """One pass over the files, and what a site adds to them; holds what later entries refer to."""

    def __init__(self, added: Additions | None = None, language: Language = ENGLISH) -> None:
        self.added, self.language = added, language
        self.of_site = {} if added is None else added.labels
        self.spoken = translations().get(language.key)
        self.folder = files("woundfhir.catalogue") / "data"
        self.systems: dict[str, str] = {
            key: value.replace("{base}", BASE) for key, value in self.toml("systems.toml").items()
        }
        if added is not None:
            self.systems |= added.systems
        self.answers: dict[str, AnswerList] = {}
        self.sources: dict[str, str] = {}
        sections, hazards, named = (self.toml(f"{name}.toml") for name in ("sections", "hazards", "substances"))
        texts = self.toml(f"texts/{ENGLISH.key}.toml")
        if (self.folder / "texts" / f"{language.key}.toml").is_file():
            texts = over(texts, self.toml(f"texts/{language.key}.toml"))
        self.pages = PageTables.read(sections, hazards, named, texts)

    def toml(self, name: str) -> dict[str, Any]:
        return tomllib.loads((self.folder / name).read_text("utf-8"))

    def folder_toml(self, name: str) -> Iterator[tuple[str, dict[str, Any]]]:
        for path in sorted((self.folder / name).iterdir(), key=lambda p: p.name):
            if path.name.endswith(".toml"):
                yield path.name[:-5], tomllib.loads(path.read_text("utf-8"))

    def raw_answers(self) -> dict[str, dict[str, Any]]:
        """Return every answer list as it is written, the further words and lists of a site after ours."""
        found: dict[str, dict[str, Any]] = {}
        for _, lists in self.folder_toml("answers"):
            if twice := found.keys() & lists.keys():
                raise CatalogueError(f"answers.{min(twice)} stands in two files")
            found |= lists
        for key, raw in (self.added.answers if self.added else {}).items():
            ours = found.get(key)
            found[key] = dict(raw) if ours is None else {**ours, "words": [*ours["words"], *raw["words"]]}
        return found

    def raw_concepts(self) -> dict[str, dict[str, Any]]:
        """Return every concept as it is written, by group; the further fields and concepts of a site after ours."""
        raw_groups = dict(self.folder_toml("concepts"))
        found = {group: dict(raw_groups[group]) for group in GROUPS}
        for group, concepts in (self.added.concepts if self.added else {}).items():
            for key, raw in concepts.items():
                ours = found[group].get(key)
                fields = {**(ours or raw).get("fields", {}), **raw.get("fields", {})}
                found[group][key] = {**(ours or raw), **({"fields": fields} if fields else {})}
        return found

    def labels(self, key: str, english: str, words: bool = False) -> Labels:
        """Return the labels of an entry in other languages than that of this reading; the site's own before ours."""
        found = {} if self.language is ENGLISH else {ENGLISH.code: english}
        for one in translations().values():
            ours = next(iter(one.words(key)), "") if words else one.concepts.get(key, {}).get("label")
            if ours:
                found[one.language.code] = ours
        for tag, label in self.of_site.get(key, ()):
            found = {had: text for had, text in found.items() if had.split("-")[0] != tag.split("-")[0]} | {tag: label}
        return tuple((tag, label) for tag, label in found.items() if not self._is_spoken(tag))

    def _is_spoken(self, tag: str) -> bool:
        return self.language is not ENGLISH and tag.split("-")[0] == self.language.key

    def own_label(self, key: str) -> str:
        """Return the site's label of an entry in the language of this reading, empty where it has none."""
        return next((label for tag, label in self.of_site.get(key, ()) if self._is_spoken(tag)), "")

    def coding(self, raw: Mapping[str, Any], where: str) -> Coding:
        if raw.get("system") not in self.systems or not raw.get("code"):
            raise CatalogueError(f"{where}: a code needs a system of systems.toml and a code")
        return Coding(self.systems[raw["system"]], str(raw["code"]), raw.get("display"))

    def codings(self, raws: list[Mapping[str, Any]], where: str) -> tuple[Coding, ...]:
        return tuple(self.coding(raw, where) for raw in raws)

    def known_as(self, raw: Mapping[str, Any], where: str) -> tuple[KnownAs, ...]:
        """Read the codes that are written beside those of an entry."""
        found = []
        for one in raw.get("known_as", ()):
            if unknown := one.keys() - _KNOWN_AS_KEYS:
                raise CatalogueError(f"{where}: known_as: unknown keys {sorted(unknown)}")
            if one.get("fit") not in FITS or not one.get("source"):
                raise CatalogueError(f"{where}: known_as: a code needs a fit ({', '.join(sorted(FITS))}) and a source")
            words = {key: self._forms(some, where) for key, some in one.get("where", {}).items()}
            recheck = bool(one.get("recheck", False))
            found.append(KnownAs(self.coding(one, where), one["fit"], one["source"], recheck, words))
        return tuple(found)

    def _forms(self, words: list[str], where: str) -> frozenset[str]:
        """Return every spelling of the answers that are named by list and word."""
        forms: set[str] = set()
        for name in words:
            listed, _, word = name.partition("/")
            found = self.answers[listed].find(word) if listed in self.answers else None
            if found is None:
                raise CatalogueError(f"{where}: known_as: where: no answer {name!r}")
            forms.update(same_form(one) for one in (found.word, *found.also))
        return frozenset(forms)

    def word(self, raw: Mapping[str, Any], default_source: str, where: str, product: bool = False) -> Word:
        where = f"{where}.{raw.get('word')}"
        if unknown := raw.keys() - _WORD_KEYS:
            raise CatalogueError(f"{where}: unknown keys {sorted(unknown)}")
        named = {tag.removeprefix("hazard:") for tag in raw.get("tags", ()) if tag.startswith("hazard:")}
        if wrong := named - self.pages.hazards.keys():
            raise CatalogueError(f"{where}: no hazard {', '.join(sorted(wrong))} in hazards.toml")
        source = raw.get("source", default_source)
        if not source:
            raise CatalogueError(f"{where}: no source")
        substances = self.pages.carried(raw.get("substances"), product, where)
        own = [raw["code"]] if "code" in raw else []
        key = f"{where.split('.')[1]}/{raw['word']}"
        return Word(
            word=raw["word"],
            also=tuple(raw.get("also", ())),
            codings=self.codings(own + list(raw.get("more", ())), where),
            tags=frozenset(raw.get("tags", ())),
            source=source,
            recheck=bool(raw.get("recheck", False)),
            note=raw.get("note", ""),
            substances=substances,
            key=key,
            labels=self.labels(key, raw["word"], words=True),
            forms=tuple(form for one in translations().values() for form in one.words(key)),
            spoken=self.own_label(key) or (self.spoken.words(key)[:1] or [""])[0] if self.spoken else "",
            known_as=self.known_as(raw, where),
        )

    def answer_list(self, key: str, raw: Mapping[str, Any]) -> AnswerList:
        """Read a list; the words of the lists that ``with`` names, which stand before it, come first."""
        if not isinstance(raw, Mapping) or not isinstance(raw.get("words"), list):
            raise CatalogueError(f"answers.{key}: a list is a table [{key}] with title, source and words = [...]")
        if wrong := set(raw.get("with", ())) - self.answers.keys():
            raise CatalogueError(f"answers.{key}: with names no list before it: {', '.join(sorted(wrong))}")
        words = tuple(word for other in raw.get("with", ()) for word in self.answers[other].words)
        carried = raw.get("substances", "")
        words += tuple(self.word(w, raw.get("source", ""), f"answers.{key}", bool(carried)) for w in raw["words"])
        by_word: dict[str, Word] = {}
        by_code: dict[tuple[str, str], Word] = {}
        for word in words:
            for spelling in (word.word, *word.also, *(label for _, label in self.of_site.get(word.key, ()))):
                if by_word.setdefault(same_form(spelling), word) is not word:
                    raise CatalogueError(f"answers.{key}: {spelling!r} stands for two words")
        for word in words:  # other languages after that: what is a word of ours already stays that
            for form in word.forms:
                for spelling in spellings(form):
                    by_word.setdefault(spelling, word)
        for word in words:
            if word.codings and by_code.setdefault(word.codings[0].key, word) is not word:
                raise CatalogueError(f"answers.{key}: code {word.codings[0].code} stands for two words")
        for word in words:
            by_code[PATHS, word.key] = word
            for coding in word.codings[1:]:
                by_code.setdefault(coding.key, word)
        for word in words:  # what means the same is read as it, where the list has no other word for it
            for one in word.known_as:
                if one.fit == "equal":
                    by_code.setdefault(one.coding.key, word)
        if raw.get("other") and raw["other"] not in self.pages.hazards:
            raise CatalogueError(f"answers.{key}: no hazard {raw['other']!r} in hazards.toml")
        title, source, other = raw.get("title", key), raw.get("source", ""), raw.get("other", "")
        title = self.spoken.titles.get(key, title) if self.spoken else title
        whole, base = bool(raw.get("open", True)), self.base_of(key, raw.get("with", ()))
        return AnswerList(key, title, whole, source, words, by_word, by_code, other, carried, base)

    def offered(self, key: str) -> AnswerList:
        """Return the list that a concept offers: a form needs a code for each of its words."""
        if bare := [word.word for word in self.answers[key].words if not word.codings]:
            own = 'code = {system = "own", code = "..."} where none is confirmed'
            raise CatalogueError(f"answers.{key}: no code: {', '.join(bare)}; {own}")
        return self.answers[key]

    def base_of(self, key: str, others: Iterable[str]) -> str:
        """Return the base of a list's value set: the site's, where it adds to the list or to one that is in it."""
        if self.added is None or self.added.answers.keys().isdisjoint((key, *others)):
            return BASE
        return self.added.site.base

    def concept(self, group: str, key: str, raw: Mapping[str, Any], of: str = "") -> Concept:
        """Read an entry; ``of`` is the key of the group or step of which it is a field."""
        where = f"{group}.{of + '.' if of else ''}{key}"
        _check_keys(raw, where)
        labels = self.labels(where, raw["label"])
        if self.spoken is not None:
            raw = self.spoken.entry(where, raw)
            raw["label"] = self.own_label(where) or raw["label"]
        resource, role = raw.get("resource", "component" if of else "observation"), raw.get("role", "optional")
        if not isinstance(raw["shape"], str) or resource not in RESOURCES or role not in ROLES:
            raise CatalogueError(f"{where}: unknown shape, resource or role")
        codes = ([raw["code"]] if "code" in raw else []) + list(raw.get("also", ()))
        if codes and not (raw.get("source") or of):
            raise CatalogueError(f"{where}: no source")
        try:
            answers = self.offered(raw["answers"]) if "answers" in raw else None
        except KeyError as error:
            raise CatalogueError(f"{where}: no answer list {error}") from None
        fields = {k: self.concept(group, k, v, of=key) for k, v in raw.get("fields", {}).items()}
        if raw.get("main") is not None and raw["main"] not in fields:
            raise CatalogueError(f"{where}: main names no field")
        return Concept(
            key=key,
            group=group,
            label=raw["label"],
            question=raw.get("question", raw["label"]),
            shape=raw["shape"],
            resource=resource,
            codings=self.codings(codes, where),
            role=role,
            page=read_page(raw, where, bool(of), self.pages),
            answers=answers,
            details=self.coding(raw["details"], where) if "details" in raw else None,
            of=of or None,
            asked=read_asked(raw.get("asked"), role, where),
            fields=fields,
            labels=labels,
            known_as=self.known_as(raw, where),
            **_as_written(raw),
            **_in_other_languages(where),
        )


def _check_keys(raw: Mapping[str, Any], where: str) -> None:
    if unknown := raw.keys() - _CONCEPT_KEYS:
        raise CatalogueError(f"{where}: unknown keys {sorted(unknown)}")
    if lacking := [key for key in ("label", "shape") if not raw.get(key)]:
        raise CatalogueError(f"{where}: lacks {', '.join(lacking)}")


def _as_written(raw: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a concept takes from its entry without a look elsewhere."""
    return {
        **{name: raw.get(name) for name in ("unit", "low", "high", "parent", "main", "native", "within", "activity")},
        **{name: bool(raw.get(name, False)) for name in ("ratio", "many", "recheck")},
        "units": tuple(raw.get("units", [raw["unit"]] if "unit" in raw else [])),
        "when": tuple(raw.get("when", ())),
        "source": raw.get("source", ""),
        "base": raw.get("base", BASE),
    }


def _in_other_languages(where: str) -> dict[str, Any]:
    """Return the question of a concept and the headers of its column in other languages than English."""
    found = [(one.language.code, one.concepts[where]) for one in translations().values() if where in one.concepts]
    return {
        "asked_as": tuple((code, entry["question"]) for code, entry in found if "question" in entry),
        "headers": tuple(word for _, entry in found for word in entry.get("also", ())),
    }
