"""The record as JSON and YAML text. Reading never guesses: duplicate keys, aliases and broken files are told."""

from __future__ import annotations

from typing import Any

import msgspec
import yaml

from woundfhir.errors import InputError
from woundfhir.record.history import History

Json = Any

_encode = msgspec.json.Encoder(decimal_format="number").encode


class _TextLoader(yaml.CBaseLoader):
    """Every scalar is text, so that 4.10 stays 4.10; a key stands once."""

    def construct_mapping(self, node: yaml.MappingNode, deep: bool = False) -> dict[Any, Any]:
        seen: set[str] = set()
        for key, _ in node.value:
            if not isinstance(key, yaml.ScalarNode):
                raise yaml.constructor.ConstructorError(None, None, "a key is not a word", key.start_mark)
            if key.value in seen:
                raise yaml.constructor.ConstructorError(None, None, "a key stands twice", key.start_mark)
            seen.add(key.value)
        return super().construct_mapping(node, deep=True)


class _TextDumper(yaml.CSafeDumper):
    """Text is written plain wherever YAML lets it; nothing is resolved to another type."""

    def ignore_aliases(self, data: object) -> bool:
        return True


_TextDumper.yaml_implicit_resolvers = {}


def read_yaml(content: str, where: str) -> Json:
    """Decode YAML into dicts, lists and text.

    Raises
    ------
    InputError
        With line and column: broken YAML, a duplicate key, an alias, more than one document.

    Examples
    --------
    >>> read_yaml("length: 4.10 cm", "note")
    {'length': '4.10 cm'}
    """
    try:
        if any(isinstance(event, yaml.AliasEvent) for event in yaml.parse(content, Loader=yaml.CBaseLoader)):
            raise InputError(where, "YAML without aliases", "Write the repeated part out")
        return yaml.load(content, Loader=_TextLoader)
    except yaml.constructor.ConstructorError as error:
        mark = error.problem_mark
        place = f", line {mark.line + 1}, column {mark.column + 1}" if mark else ""
        raise InputError(
            f"{where}{place}", f"YAML with each key once ({error.problem})", "Rename or remove one"
        ) from None
    except yaml.composer.ComposerError:
        raise InputError(where, "one YAML document", "Split the file") from None
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark
        place = f", line {mark.line + 1}, column {mark.column + 1}" if mark else ""
        raise InputError(f"{where}{place}", "readable YAML", "Check the indentation and the brackets there") from None
    except (yaml.YAMLError, RecursionError, ValueError):
        raise InputError(where, "readable YAML", "Take out control characters and deep nesting") from None


def _as_text(value: Json) -> Json:
    if isinstance(value, dict):
        return {key: _as_text(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_as_text(item) for item in value]
    return str(value)


def to_yaml(history: History) -> bytes:
    """Write the record as YAML, every answer as it was written."""
    out = yaml.dump(_as_text(history.data), Dumper=_TextDumper, sort_keys=False, allow_unicode=True, width=110)
    return out.encode()


def to_json(history: History) -> bytes:
    """Write the record as JSON, indented by two spaces, a line end at the end."""
    return msgspec.json.format(_encode(history.data), indent=2) + b"\n"
