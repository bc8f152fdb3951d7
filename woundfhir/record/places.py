"""Where an answer stands in the text of a record: line and column, for editors and build reports."""

from __future__ import annotations

import re
from typing import NamedTuple

import yaml

_STEP = re.compile(r"([^.\[\]]+)|\[(\d+)\]")


class Place(NamedTuple):
    """A place in a text; both count from 1, columns in characters."""

    line: int
    column: int


class Places:
    """The places of a record's answers in its YAML or JSON.

    Examples
    --------
    >>> found = Places(b"woundfhir: 1\\nvisits:\\n- wounds:\\n  - assessment: {length: 4.1 cm}\\n")
    >>> found.of("visits[0].wounds[0].assessment.length")
    Place(line=4, column=18)
    >>> found.of("visits[0].wounds[0].assessment.depth")  # not written: where it would stand
    Place(line=4, column=5)
    """

    def __init__(self, content: bytes) -> None:
        try:
            self._root = yaml.compose(content.decode("utf-8-sig"), Loader=yaml.CSafeLoader)
        except (yaml.YAMLError, UnicodeDecodeError):
            self._root = None

    def of(self, path: str) -> Place | None:
        """Return where a path stands; of what is not written, where the nearest part above it stands."""
        node, mark = self._root, None
        for key, number in _STEP.findall(path):
            found = _below(node, key, number)
            if found is None:
                break
            mark, node = found
        return None if mark is None else Place(mark.line + 1, mark.column + 1)


def _below(node: yaml.Node | None, key: str, number: str) -> tuple[yaml.Mark, yaml.Node] | None:
    if number and isinstance(node, yaml.SequenceNode) and int(number) < len(node.value):
        return node.value[int(number)].start_mark, node.value[int(number)]
    if key and isinstance(node, yaml.MappingNode):
        return next(((one.start_mark, value) for one, value in node.value if one.value == key), None)
    return None
