"""``site.toml``: what a site adds to the catalogue, as its file says it."""

from __future__ import annotations

import re
from typing import Annotated, Literal
from urllib.parse import urlsplit

from pydantic import AfterValidator, Field, model_validator

from woundfhir.catalogue import BASE
from woundfhir.catalogue.former import FORMER_BASE
from woundfhir.catalogue.model import Mark
from woundfhir.errors import InputError
from woundfhir.language import LANGUAGES, named
from woundfhir.site_file import SiteModel, SiteText, refuse

#: Keys and names become part of ids of FHIR, which have 64 characters at most.
_KEY = re.compile(r"[a-z][a-z0-9_]{0,39}")
_NAME = re.compile(r"[a-z][a-z0-9-]{0,39}")
#: A code of FHIR R4: no blank at either end, and no two together.
_CODE = re.compile(r"[^\s]+( [^\s]+)*")
_VERSION = re.compile(r"\d+\.\d+\.\d+(-[A-Za-z0-9.-]+)?")
_LANGUAGE = re.compile(r"[a-z]{2,3}(-[A-Za-z0-9]{2,8})*")


def _key(key: str) -> str:
    if not _KEY.fullmatch(key):
        refuse("a key of small letters, digits and _, such as tape_reaction", "Spell it so")
    return key


def _name(name: str) -> str:
    if not _NAME.fullmatch(name):
        refuse("a name of small letters, digits and -, such as north-clinic", "It becomes part of addresses")
    return name


def _base(url: str) -> str:
    """A base for codes is an absolute address of the site's own."""
    try:
        parts = urlsplit(url)
    except ValueError:
        parts = urlsplit("")
    if parts.scheme not in ("http", "https") or not parts.hostname or parts.query or parts.fragment or " " in url:
        refuse("an address of your own, such as https://north-clinic.example/fhir", "It need not lead anywhere")
    if f"{url}/".startswith((f"{BASE}/", f"{FORMER_BASE}/")):
        refuse("an address of your own, and none below that of woundfhir", "Your codes are yours to keep")
    return url.rstrip("/")


def _system(url: str) -> str:
    if ":" not in url or " " in url or f"{url}/".startswith(f"{BASE}/"):
        refuse("an absolute address (https:// or urn:), and none below that of woundfhir", "Ask who keeps the system")
    return url


def _language(tag: str) -> str:
    if not _LANGUAGE.fullmatch(tag) or tag.split("-")[0] == "en":
        refuse("the code of a language that is not English, such as fr or fr-CA", "English stands in the entry itself")
    return tag


def _code(code: str) -> str:
    if not _CODE.fullmatch(code) or not code.isprintable():
        refuse("a code on one line, without two blanks together", "Correct it")
    return code


def _word(word: str) -> str:
    if not word.isprintable():
        refuse("words on one line, without characters that cannot be seen", "Write them anew")
    return word


def _version(version: str) -> str:
    if not _VERSION.fullmatch(version):
        refuse("a version of three numbers, such as 1.0.0", "Raise it when the file changes")
    return version


Key = Annotated[str, AfterValidator(_key)]
Name = Annotated[SiteText, AfterValidator(_name)]
Base = Annotated[SiteText, AfterValidator(_base)]
SystemUrl = Annotated[SiteText, AfterValidator(_system)]
Code = Annotated[SiteText, AfterValidator(_code)]
Word = Annotated[SiteText, AfterValidator(_word)]
Version = Annotated[SiteText, AfterValidator(_version)]
Language = Annotated[str, AfterValidator(_language)]
Group = Literal["wound", "visit", "client", "assessment", "care", "supply", "plan", "photo"]


class CodeEntry(SiteModel):
    """A code: of the site's own system, or of one that its name names."""

    code: Code = Field(description="the code, a text in quotes")
    display: Word | None = Field(None, description="what the code means, word for word, a text in quotes")
    system: SiteText = Field("own", description="own (the default), loinc, sct, or a name of [systems], in quotes")


class WordEntry(SiteModel):
    """One answer of a list."""

    word: Word = Field(description="the answer as a nurse writes it, a text in quotes")
    also: list[Word] = Field([], description="a list of other spellings, each in quotes")
    code: CodeEntry | None = Field(None, description='its code, {code = "...", display = "..."}')
    more: list[CodeEntry] = Field([], description="a list of further codes with the same meaning")
    tags: list[SiteText] = Field([], description="a list of facts that rules use, as the catalogue names them")
    substances: list[SiteText] | None = Field(None, description="a list of what a product carries; [] for nothing")
    source: SiteText | None = Field(None, description="who says that the code means this, a text in quotes")
    note: SiteText = Field("", description="a remark, a text in quotes")


class ListEntry(SiteModel):
    """Further words of a list of the catalogue, or a list of the site's own."""

    title: Word | None = Field(None, description="of a list of your own: its title, a text in quotes")
    open: bool | None = Field(None, description="of a list of your own: true where other words are expected")
    words: list[WordEntry] = Field(description="[[answers.LIST.words]] above each word", min_length=1)


class AskedEntry(SiteModel):
    """Why a note must hold the answer."""

    why: SiteText = Field(description="why it is asked for, a text in quotes")
    example: SiteText = Field(description="a line of a note with an answer, a text in quotes")
    source: SiteText | None = Field(None, description="who asks for it, a text in quotes")
    mark: Mark = Field("common practice, no source", description="how far the source can be trusted")
    instead: list[SiteText] = Field([], description="a list of paths under which the same may stand")
    standing: bool = Field(False, description="true where an earlier note's answer still holds")


class FieldEntry(SiteModel):
    """A field of a group or step."""

    label: Word = Field(description="its name on paper, a text in quotes")
    question: Word | None = Field(None, description="what is asked, a text in quotes")
    shape: SiteText = Field(description="text, choice, choices, quantity, flag, count, score, date or clock, in quotes")
    answers: SiteText | None = Field(None, description="of a choice: the key of its answer list, in quotes")
    code: CodeEntry | None = Field(None, description='its code, {code = "...", display = "..."}')
    source: SiteText | None = Field(None, description="who says that the code means this, a text in quotes")
    unit: SiteText | None = Field(None, description="of a quantity: its unit (UCUM), in quotes")
    units: list[SiteText] = Field([], description="a list of the units (UCUM) that may be written")
    low: SiteText | None = Field(None, description="the lowest number that is possible, in quotes")
    high: SiteText | None = Field(None, description="the highest number that is possible, in quotes")
    short: SiteText | None = Field(None, description="a shorter label, a text in quotes")
    note: SiteText | None = Field(None, description="a remark, a text in quotes")

    @model_validator(mode="after")
    def _whole(self) -> FieldEntry:
        if (self.shape in ("choice", "choices", "share")) != (self.answers is not None):
            refuse(
                "'answers' where the shape is choice, choices or share, and nowhere else",
                "Name an answer list, or choose another shape",
            )
        if self.shape == "quantity" and not (self.unit or self.units):
            refuse("'unit' where the shape is quantity", 'Add it, as unit = "cm"')
        return self


class ConceptEntry(FieldEntry):
    """A data element of the site's own; or, of one that the catalogue has, its further fields and nothing else."""

    label: Word | None = Field(None, description="its name on paper, a text in quotes")  # type: ignore[assignment]
    shape: SiteText | None = Field(None, description="text, choice, quantity, flag, date ..., in quotes")  # type: ignore[assignment]
    role: Literal["required", "expected", "optional"] = Field("optional", description="whether a note must hold it")
    when: list[SiteText] = Field([], description="a list of named conditions under which it is asked")
    asked: AskedEntry | None = Field(None, description="[concepts.GROUP.KEY.asked]: why, and an example")
    section: SiteText | None = Field(None, description="the section of the sheet, in quotes")
    rank: int | None = Field(None, description="its place in the section, a whole number", ge=0)
    many: bool = Field(False, description="of a group: true where there may be several")
    lasting: bool = Field(False, description="true where it is about more than the wound as it lies there")
    fields: dict[Key, FieldEntry] = Field({}, description="[concepts.GROUP.KEY.fields.FIELD] above each field")


class Identifiers(SiteModel):
    """The systems of the numbers by which the site knows a wound and a visit."""

    wound: SystemUrl | None = Field(None, description="the system of the numbers of wounds, an address in quotes")
    visit: SystemUrl | None = Field(None, description="the system of the numbers of visits, an address in quotes")


def _spoken(tag: str) -> str:
    try:
        return named(tag).tag
    except InputError:
        refuse(f"one of {', '.join(LANGUAGES)}", "Choose one of them")
        raise


Spoken = Annotated[SiteText, AfterValidator(_spoken)]


class SiteFile(SiteModel):
    """The file ``site.toml``."""

    name: Name = Field(description="a short name of small letters, digits and -, in quotes")
    title: Word = Field(description="the name of the site for people, a text in quotes")
    base: Base = Field(description="the address below which your own codes live, in quotes")
    language: Spoken | None = Field(None, description="the language of what people read here: en or fr-CA, in quotes")
    version: Version = Field("0.1.0", description="the version of your definitions, a text in quotes")
    systems: dict[Name, SystemUrl] = Field({}, description='[systems]: a line name = "address" for each code system')
    identifiers: Identifiers = Field(
        Identifiers(wound=None, visit=None), description="[identifiers]: wound and visit, an address each"
    )
    answers: dict[Key, ListEntry] = Field({}, description="[[answers.LIST.words]] above each word")
    concepts: dict[Group, dict[Key, ConceptEntry]] = Field(
        {}, description="[concepts.GROUP.KEY] above each data element"
    )
    labels: dict[Language, dict[SiteText, Word]] = Field(
        {}, description='[labels.fr]: a line "list/word" = "..." or "path" = "..." for each label'
    )
