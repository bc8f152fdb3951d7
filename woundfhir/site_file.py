"""Files that a site writes (policy, checklist): TOML held against a pydantic model, with messages in our own form.

pydantic puts the offending value into its text, so none of its words are used: each of its error types has words here,
and what a key is for comes from the model's own field descriptions.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Annotated, Any, NoReturn, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, StringConstraints, ValidationError
from pydantic_core import PydanticCustomError

from woundfhir.errors import InputError
from woundfhir.limits import SITE_LIMIT, read_whole

Json = Any
M = TypeVar("M", bound="SiteModel")

#: A text with something visible in it, its outer blanks left out.
SiteText = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]

#: Type of a pydantic error -> what was expected.
_EXPECTED = {
    "string_type": "a text in quotes",
    "string_too_short": "a text in quotes that is not blank",
    "bool_type": "true or false, without quotes",
    "int_type": "a whole number, without quotes",
    "list_type": "a list",
    "tuple_type": "a list",
    "dict_type": "a table: keys with their values",
    "model_type": "a table: keys with their values",
}
_CUSTOM = "site_file"


class SiteModel(BaseModel):
    """Base of the models: a key that the model does not have is an error, and nothing is converted on the quiet."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, hide_input_in_errors=True)


def refuse(expected: str, fix: str) -> NoReturn:
    """Refuse a value from inside a model's validator.

    Parameters
    ----------
    expected
        What should stand there.
    fix
        What the reader can do.
    """
    raise PydanticCustomError(_CUSTOM, "{expected}. {fix}", {"expected": expected, "fix": fix})


def read_text(path: str | Path, what: str, built_in: Sequence[str]) -> str:
    """Return the text of a file that a site wrote.

    Parameters
    ----------
    path
        The file.
    what
        What it is, for the message: ``policy``.
    built_in
        The names that could have been meant.

    Raises
    ------
    InputError
        When there is no such file, or it cannot be read as UTF-8.
    """
    try:
        with Path(path).open("rb") as file:
            return read_whole(file, SITE_LIMIT).decode("utf-8")
    except FileNotFoundError:
        expected = f"a {what}: {' or '.join(built_in)}, or your own file"
        fix = near(str(path), built_in) or "Check the name"
        raise InputError(str(path), expected, fix, found="there is no such file") from None
    except InputError as error:
        raise InputError(str(path), error.expected, "Take out what does not belong there") from None
    except (OSError, ValueError):
        raise InputError(str(path), f"a {what} file that can be read, in UTF-8", "Check the file") from None


def load_toml(text: str, model: type[M], where: str, what: str, lines: bool = False) -> M:
    """Return the model that a TOML text fills.

    Parameters
    ----------
    text
        The content of the file.
    model
        What it must be.
    where
        The file's name, for messages.
    what
        What the file is, for messages; ``woundfhir explain`` prints one of this name.
    lines
        Whether messages name the line too.

    Raises
    ------
    InputError
        For the first place that does not fit: where, what was expected, and what to do.

    Examples
    --------
    >>> class Shelf(SiteModel):
    ...     dressings: int
    >>> load_toml("dressings = 3", Shelf, "shelf.toml", "shelf").dressings
    3
    >>> load_toml("dresings = 3", Shelf, "shelf.toml", "shelf")
    Traceback (most recent call last):
    ...
    woundfhir.errors.InputError: shelf.toml, dresings: expected one of dressings. Did you mean dressings?
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        fix = f"Correct the file: {error}; see `woundfhir explain {what}`"
        raise InputError(where, f"a {what} in TOML", fix) from None
    return checked(raw, model, where, text=text if lines else "")


def checked(raw: Json, model: type[M], where: str, under: str = "", text: str = "") -> M:
    """Return the model that decoded data fills; ``under`` is its place in the file, ``text`` the file's own.

    Raises
    ------
    InputError
        As ``load_toml``.
    """
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        found = error.errors(include_url=False, include_input=False)
        # A misspelt key is both unknown and missing under its right name: the first says what to do.
        first = min(found, key=lambda one: (len(one["loc"]) > 1, one["type"] != "extra_forbidden"))
        raise _explained(first, model, at_line(where, text, first["loc"]), under) from None


def at_line(where: str, text: str, loc: Sequence[Any]) -> str:
    r"""Return the name of a TOML file with the line on which a key stands, or the nearest above it that can be found.

    Parameters
    ----------
    where
        The file's name.
    text
        What stands in it; TOML that can be read.
    loc
        Keys, and positions in lists.

    Examples
    --------
    >>> at_line("a.toml", "[x]\n[[x.y]]\nz = 1\n[[x.y]]\n'z' = 2", ["x", "y", 1, "z"]), at_line("a.toml", "", ["x"])
    ('a.toml, line 5', 'a.toml')
    """
    table: tuple[Any, ...] = ()
    counts: dict[tuple[Any, ...], int] = {}
    best, found = 0, 0
    for number, line in enumerate(text.splitlines(), 1):
        here = table
        if header := _HEADER.fullmatch(line.strip()):
            keys = _keys(header[2])
            if header[1] == "[[":
                counts[tuple(keys)] = counts.get(tuple(keys), -1) + 1
            here = table = tuple(_numbered(keys, counts))
        elif entry := _ENTRY.match(line):
            here = (*table, *_keys(entry[1]))
        same = next((at for at, (a, b) in enumerate(zip(here, loc, strict=False)) if a != b), min(len(here), len(loc)))
        if same > best and same in (len(here), len(loc)):
            best, found = same, number
    return f"{where}, line {found}" if found else where


_HEADER = re.compile(r"(\[\[?)(.+?)\]\]?\s*(?:#.*)?")
_ENTRY = re.compile(r"""\s*((?:[\w-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w-]+|"[^"]*"|'[^']*'))*)\s*=""")


def _keys(dotted: str) -> list[str]:
    """Return the parts of a dotted key; none of what is no key."""
    try:
        found = tomllib.loads(f"{dotted} = 0")
    except tomllib.TOMLDecodeError:
        return []
    keys = []
    while isinstance(found, dict):
        ((key, found),) = found.items()
        keys.append(key)
    return keys


def _numbered(keys: Sequence[str], counts: Mapping[tuple[Any, ...], int]) -> Iterator[Any]:
    for length, key in enumerate(keys, 1):
        yield key
        if (number := counts.get(tuple(keys[:length]))) is not None:
            yield number


def near(word: str, known: Iterable[str]) -> str:
    """Return ``Did you mean ...?`` for the known word that is nearest, or an empty text.

    Examples
    --------
    >>> near("servity", ["severity", "scope"]), near("colour", ["severity", "scope"])
    ('Did you mean severity?', '')
    """
    close = get_close_matches(word, list(known), 1, 0.7)
    return f"Did you mean {close[0]}?" if close else ""


def _explained(error: Mapping[str, Any], model: type[BaseModel], where: str, under: str) -> InputError:
    loc, kind, context = list(error["loc"]), str(error["type"]), error.get("ctx") or {}
    holder, meaning = _described(model, loc)
    place = _place(where, under, loc)
    if kind == "missing":
        needed = ", ".join(key for key, field in holder.model_fields.items() if field.is_required())
        expected = f"the key '{loc[-1]}'" + (f", {meaning}" if meaning else "")
        return InputError(place, expected, f"Add it; needed are {needed}")
    if kind == "extra_forbidden":
        known = sorted(holder.model_fields)
        return InputError(place, f"one of {', '.join(known)}", near(str(loc[-1]), known) or "Take the key out")
    if kind == _CUSTOM:
        return InputError(place, context["expected"], context["fix"])
    if kind == "literal_error":
        return InputError(place, f"one of: {_words(context)}", "Choose one of them")
    expected = _EXPECTED.get(kind, "a value of another form")
    return InputError(place, expected, f"Write {meaning}" if meaning else "Correct it")


def _words(context: Mapping[str, Any]) -> str:
    """The words of a Literal, as pydantic lists them, without its quotes."""
    return str(context["expected"]).replace("' or '", "; ").replace("', '", "; ").strip("'")


def _described(model: type[BaseModel], loc: Sequence[Any]) -> tuple[type[BaseModel], str]:
    """Return the model in which the last step of a path lies, and the description of the field there."""
    holder: type[BaseModel] = model
    inner: type[BaseModel] | None = None
    meaning = ""
    for step in loc:
        if isinstance(step, int):
            continue
        holder, inner = inner or holder, None
        field = holder.model_fields.get(str(step))
        if field is not None:
            meaning, inner = field.description or "", _inner(field.annotation)
    return holder, meaning


def _inner(annotation: Any) -> type[BaseModel] | None:
    """Return the model inside an annotation: ``list[Model]``, ``Model | None``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for one in get_args(annotation) if (found := _inner(one)) is not None), None)


def _place(where: str, under: str, loc: Sequence[Any]) -> str:
    """Return a place as a person counts: ``rule 2.code``."""
    out = under
    for step in (one for one in loc if one != "[key]"):
        out += f" {step + 1}" if isinstance(step, int) else f".{step}" if out else str(step)
    return f"{where}, {out}" if out else where
