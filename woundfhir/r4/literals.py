"""The literal references in a resource, wherever they stand in it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any


def references(value: Any) -> Iterator[str]:
    """Yield the literal references in a resource, those of its contained resources among them.

    Examples
    --------
    >>> list(references({"subject": {"reference": "Patient/1"}, "focus": [{"reference": "Condition/2"}]}))
    ['Patient/1', 'Condition/2']
    """
    if isinstance(value, (dict, Mapping)):
        for key, item in value.items():
            if key == "reference" and isinstance(item, str):
                yield item
            elif isinstance(item, (dict, list, Mapping)):
                yield from references(item)
    elif isinstance(value, list):
        for item in value:
            yield from references(item)
