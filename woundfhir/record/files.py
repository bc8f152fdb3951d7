"""The record as JSON and YAML text. Reading never guesses: duplicate keys, aliases and broken files are refused."""

from __future__ import annotations

import re
from typing import Any

import msgspec
import yaml

from woundfhir.errors import InputError
from woundfhir.limits import JSON_DEPTH, YAML_NODES
from woundfhir.record.canonical import to_json as encoded
from woundfhir.record.history import History

Json = Any


class _TextLoader(yaml.CBaseLoader):
    """Every scalar is text, so that 4.10 stays 4.10; a key stands once."""

    content: str

    def construct_mapping(self, node: yaml.MappingNode, deep: bool = False) -> dict[Any, Any]:
        seen: set[str] = set()
        for key, value in node.value:
            if not isinstance(key, yaml.ScalarNode):
                raise yaml.constructor.ConstructorError(None, None, "a key is not a word", key.start_mark)
            if key.value in seen:
                raise yaml.constructor.ConstructorError(None, None, "a key stands twice", key.start_mark)
            seen.add(key.value)
            self._refuse_comma(node, key, value)
        return super().construct_mapping(node, deep=True)

    def _refuse_comma(self, node: yaml.MappingNode, key: yaml.ScalarNode, value: yaml.Node) -> None:
        """In braces a comma ends an answer: of ``{length: 4,10 cm}`` YAML makes a key "10 cm" without a value."""
        if not node.flow_style or not isinstance(value, yaml.ScalarNode) or value.value or value.style:
            return
        place = _mark("", key.start_mark).removeprefix(", ")
        if self.content[: key.start_mark.index].rstrip().endswith("?"):  # YAML 1.2.2, 7.4.2: it begins a key
            raise InputError(place, "an answer that begins with ? in quotes", 'Write it as "?..." there')
        if self.content[key.end_mark.index :].lstrip()[:1] != ":":
            raise InputError(
                place,
                "key: value, and a comma between two of them",
                "Write a decimal point (4.1 cm), or put an answer that has a comma in quotes",
                found="in braces a comma ends an answer, and what follows this one has no value",
            )


def _mark(where: str, mark: Any) -> str:
    return f"{where}, line {mark.line + 1}, column {mark.column + 1}" if mark else where


class _TextDumper(yaml.CSafeDumper):
    """Text is written plain where every reader takes it for text, and else in quotes."""

    def ignore_aliases(self, data: object) -> bool:
        return True


#: What some reader of YAML 1.1 or 1.2 takes for a number, a truth value, nothing, a date or a merge: 000417, 1:30,
#: 0x1F, 0o17, 1e3, 4,10, No, y, ~ and their like. (YAML 1.1, types int, float, bool, null, timestamp, merge, value;
#: YAML 1.2.2, chapter 10.) Wider than any one of them: quotes cost nothing.
_NOT_TEXT = re.compile(
    r"(?:[-+.]?[0-9][0-9A-Fa-fxXoO_:.,+\-eEtTzZ]*|[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}[Tt \t].*|[-+]?\.(?:inf|nan)"
    r"|y|n|yes|no|on|off|true|false|null|nil|~|=|<<)\Z",
    re.IGNORECASE,
)
_TextDumper.yaml_implicit_resolvers = {None: [("tag:yaml.org,2002:int", re.compile(r"1\Z")), ("not text", _NOT_TEXT)]}


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
        _refuse_beyond(content)
        loader = _TextLoader(content)
        loader.content = content
        try:
            return loader.get_single_data()
        finally:
            loader.dispose()
    except InputError as error:
        raise error.at(where) from None
    except yaml.constructor.ConstructorError as error:
        raise InputError(
            _mark(where, error.problem_mark), f"YAML with each key once ({error.problem})", "Rename or remove one"
        ) from None
    except yaml.composer.ComposerError:
        raise InputError(where, "one YAML document", "Split the file") from None
    except yaml.MarkedYAMLError as error:
        fix = (
            "Check the indentation, the brackets and the quotation marks there; "
            "an answer with a colon in it, or a sign at its start (? @ % * -), needs quotes around it"
        )
        raise InputError(_mark(where, error.problem_mark), "readable YAML", fix) from None
    except (yaml.YAMLError, RecursionError, ValueError):
        raise InputError(where, "readable YAML", "Take out control characters and deep nesting") from None


def _refuse_beyond(content: str) -> None:
    """Refuse aliases, nesting without end and too many nodes, event by event: before anything is built of them."""
    depth = 0
    for nodes, event in enumerate(yaml.parse(content, Loader=yaml.CBaseLoader)):
        if isinstance(event, yaml.AliasEvent):
            raise InputError("", "YAML without aliases", "Write the repeated part out")
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1
        if depth > JSON_DEPTH:
            place = f"line {event.start_mark.line + 1}" if event.start_mark else ""
            raise InputError(place, f"at most {JSON_DEPTH} levels", "Take out the lists inside each other")
        if nodes > YAML_NODES:
            raise InputError("", f"at most {YAML_NODES:,} keys, items and values", "Split the file")


def _as_text(value: Json) -> Json:
    if isinstance(value, dict):
        return {key: _as_text(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_as_text(item) for item in value]
    return str(value)


def to_yaml(history: History) -> bytes:
    """Write the record as YAML, every answer as it was written, and text to every other reader of YAML too."""
    data = {**_as_text(history.data), "woundfhir": history.data["woundfhir"]}
    out = yaml.dump(data, Dumper=_TextDumper, sort_keys=False, allow_unicode=True, width=110)
    return out.encode()


def flow(value: Json) -> str:
    """Return one value as YAML on one line, quoted where another reader would not take it for text.

    Examples
    --------
    >>> flow({"granulation": "60 %"}), flow("no"), flow(["attached", "rolled"])
    ('{granulation: 60 %}', "'no'", '[attached, rolled]')
    """
    out = yaml.dump(
        value, Dumper=_TextDumper, sort_keys=False, allow_unicode=True, default_flow_style=True, width=10**9
    )
    return str(out).removesuffix("...\n").rstrip("\n")


def to_json(history: History) -> bytes:
    """Write the record as JSON, indented by two spaces, a line end at the end."""
    return msgspec.json.format(encoded(history.data), indent=2) + b"\n"
