"""Options kept in a file or in the environment: ``woundfhir.toml``, ``[tool.woundfhir]``, ``WOUNDFHIR_VERB_OPTION``.

What the command line says wins over the environment, and that over the file. The file is the first that is found from
the current folder upwards, ``woundfhir.toml`` before ``pyproject.toml``; ``WOUNDFHIR_CONFIG`` names another. What a
person must decide each time (``--force``, ``--same-client`` ...) can stand in neither.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any, NamedTuple

import click

from woundfhir.errors import InputError

FILE, SHARED, NAMED = "woundfhir.toml", "pyproject.toml", "WOUNDFHIR_CONFIG"
#: Options that may stand at the top of the file, for every verb that has them.
FOR_ALL = ("site", "lang", "policy", "map", "color", "quiet", "verbose")
#: What a person decides each time that it comes up.
_DECIDED = ("accept-unsigned", "debug", "force", "help", "resume", "same-client", "show-values", "withdraw")
#: Who, what part, which day, in whose name, and what is kept of others: set once, it would leave out, date or attest
#: in silence each time after.
_OF_ONE = ("patient", "wound", "visit", "since", "newest", "without", "at", "today", "replaces", "attested-by")
_OF_OTHERS = ("keep-whole", "keep-metadata")
NEVER = frozenset((*_DECIDED, *_OF_ONE, *_OF_OTHERS))
#: Variables that are no options: a secret stands in the environment alone.
_SECRETS = ("WOUNDFHIR_SERVE_TOKEN", "WOUNDFHIR_SERVE_TOKEN_FILE")
_OTHER = frozenset((NAMED, "WOUNDFHIR_SITE", "WOUNDFHIR_LANG", "WOUNDFHIR_DEBUG", *_SECRETS))


class Setting(NamedTuple):
    """One option that is set: its verb ("" for all), its name, the value, and where it stands."""

    verb: str
    option: str
    value: Any
    where: str


def find(start: Path | None = None) -> Path | None:
    """Return the file with the settings, or None where there is none."""
    if named := os.environ.get(NAMED):
        return Path(named)
    here = (start or Path.cwd()).resolve()
    for folder in (here, *here.parents):
        for name in (FILE, SHARED):
            path = folder / name
            if path.is_file() and (name == FILE or "woundfhir" in _toml(path).get("tool", {})):
                return path
    return None


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text("utf-8"))
    except OSError as error:
        why = error.strerror or "it cannot be read"
        raise InputError(str(path), "a file with settings", "Check the name", found=why) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError):
        if path.name == SHARED:  # of another project: what is wrong with it is that project's matter
            return {}
        raise InputError(str(path), "TOML in UTF-8", "Look at it with an editor that knows TOML") from None


def settings(verbs: Mapping[str, Any]) -> Iterator[Setting]:
    """Yield every setting, the environment last.

    Raises
    ------
    InputError
        For a file that is no TOML, a name that is no verb, and an option that can stand in no file.
    """
    path = find()
    if path is not None:
        read = _toml(path)
        table = read.get("tool", {}).get("woundfhir", {}) if path.name == SHARED else read
        for name, value in table.items():
            if isinstance(value, dict):
                _known(f"{path}, [{name}]", name, list(verbs))
                yield from (Setting(name, key, of, str(path)) for key, of in value.items())
            else:
                _known(f"{path}, {name}", name, list(FOR_ALL), NEVER)
                yield Setting("", name, value, str(path))
    for name, text in sorted(os.environ.items()):
        if name.startswith("WOUNDFHIR_") and name not in _OTHER:
            words = name.removeprefix("WOUNDFHIR_").lower().replace("_", "-")
            verb = next((one for one in verbs if words.startswith(f"{one}-")), None)
            if verb is not None:
                yield Setting(verb, words.removeprefix(f"{verb}-"), text, name)


def _known(where: str, name: str, known: list[str], never: frozenset[str] = frozenset()) -> None:
    if name in never:
        raise InputError(where, "an option that does not decide for a person", "Give it on the command line, each time")
    if name not in known:
        near = get_close_matches(name, known, 1)
        fix = f"Did you mean {near[0]}?" if near else f"Known are {', '.join(known)}"
        raise InputError(where, "a name that is known here", fix.removesuffix("?"))


def defaults(verb: str, command: click.Command, verbs: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the options of a verb are without the command line, by the names of its parameters."""
    found = list(settings(verbs))
    known = sorted(_options(command).keys() - NEVER)
    for one in found:
        if one.verb == verb:
            _known(f"{one.where}, {one.option}", one.option, known, NEVER)
    return _values([one for one in found if one.verb in ("", verb)], command)


def _options(command: click.Command) -> dict[str, click.Option]:
    """The options of a verb and of its parts, by the names that a person writes, without dashes."""
    if isinstance(command, click.Group):
        return {name: one for part in command.commands.values() for name, one in _options(part).items()}
    return {
        name[2:]: one
        for one in command.params
        if isinstance(one, click.Option)
        for name in (*one.opts, *one.secondary_opts)
        if name.startswith("--")
    }


def _values(found: list[Setting], command: click.Command) -> dict[str, Any]:
    if isinstance(command, click.Group):
        return {name: _values(found, part) for name, part in command.commands.items()}
    known, made = _options(command), {}
    for one in found:
        if (param := known.get(one.option)) is not None:
            value = [one.value] if param.multiple and not isinstance(one.value, list) else one.value
            made[str(param.name)] = (not value) if f"--{one.option}" in param.secondary_opts else value
    return made
