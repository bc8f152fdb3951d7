"""The leaves of a resource, and which of them the record says: held against our own writing, and against marks.

A leaf is understood when our writing of the record says the same at the same place, or a reader has marked it. What
our writer always says the same (a category, a label, the display of a code) proves nothing: where it is equal it is
passed over, where it differs it is listed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

Json = Any
Path = tuple[Any, ...]

#: Names of modifiers: what a fact says in them decided that it is one.
_MODIFIERS = frozenset(
    ("status", "clinicalStatus", "verificationStatus", "lifecycleStatus", "intent", "active", "doNotPerform")
)
#: A server's and a sender's own affairs, and what is made from the rest for people to read.
_ASIDE = frozenset(("id", "meta", "text", "resourceType", "implicitRules", "language"))
#: What our writer says the same whatever the record holds.
_CONSTANT = frozenset(("category", "class", "kind"))
_LABELLED = frozenset(("Observation", "Procedure"))
#: Elements that are read into words of the record's own, by type.
_WORDS_OF = {
    "Condition": frozenset(("code", "bodySite", "stage")),
    "AllergyIntolerance": frozenset(("code", "reaction")),
    "Patient": frozenset(("name", "gender")),
}
_KEPT = "no place in the record"
_WORDED = "said by the record, here in the sender's own form"


@dataclass(slots=True)
class Fates:
    """What became of the leaves of one resource."""

    values: int = 0
    understood: int = 0
    losses: list[tuple[str, str]] = field(default_factory=list)


def leaves(value: Json, path: Path = ()) -> Iterator[tuple[Path, Json]]:
    """Yield path and value of each leaf that says something: no ids, no narrative, no URLs of extensions.

    Examples
    --------
    >>> list(leaves({"resourceType": "Patient", "id": "p", "birthDate": "1948-03"}))
    [(('birthDate',), '1948-03')]
    """
    if isinstance(value, Mapping):
        extension = len(path) > 1 and path[-2] in ("extension", "modifierExtension")
        for key, item in value.items():
            if (not path and key in _ASIDE) or (extension and key == "url"):
                continue
            yield from leaves(item, (*path, key))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from leaves(item, (*path, index))
    elif value is not None:
        yield path, value


def count(value: Json, key: str | None = None) -> int:
    """Return how many leaves there are in a resource, or in its element ``key``."""
    return sum(1 for _ in leaves(value, () if key is None else (key,)))


def fates(
    came: Mapping[str, Json], said: Mapping[str, Json] | None, marks: Collection[Path], left: Mapping[str, str]
) -> Fates:
    """Say what became of each leaf of a resource that counts.

    Parameters
    ----------
    came, said
        The resource, and our writing of the same, references renamed; None where we write it in another shape.
    marks
        Paths of leaves that a reader has taken.
    left
        Parts that do not count, or contradict: path in words, and why.
    """
    out = Fates()
    equal = set(_equal(came, said or {}, ()))
    listed: dict[Path, list[tuple[Path, str]]] = {}
    whole: dict[Path, bool] = {}
    for path, _ in leaves(came):
        if (why := _left(path, left)) is not None:
            out.values += 1
            if why not in out.losses:
                out.losses.append(why)
            continue
        if path in equal and path not in marks and _is_label(came, path, equal):
            continue
        out.values += 1
        head = path[:1]
        if path in marks or path in equal or path[0] in _MODIFIERS:
            out.understood += 1
            whole[head] = False
            continue
        whole.setdefault(head, True)
        listed.setdefault(head, []).append((path, _WORDED if said and _reworded(came, said, path, equal) else _KEPT))
    for head, found in listed.items():
        kind = came.get("resourceType")
        if whole[head]:
            out.losses.append((f"{kind}.{words(head)}", found[0][1]))
        else:
            out.losses.extend((f"{kind}.{words(path)}", why) for path, why in found)
    return out


def words(path: Path) -> str:
    """Return a path as people write it.

    Examples
    --------
    >>> words(("component", 1, "valueQuantity", "unit"))
    'component[1].valueQuantity.unit'
    """
    text = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in path)
    return text.removeprefix(".")


def _left(path: Path, left: Mapping[str, str]) -> tuple[str, str] | None:
    for length in range(1, len(path) + 1):
        name = words(path[:length])
        if name in left:
            return name, left[name]
    return None


def _reworded(came: Json, said: Json, path: Path, equal: Collection[Path]) -> bool:
    """Whether the record says a leaf in words or codes of its own: the rest of its concept, or its element, is said."""
    for length in range(len(path) - 1, 0, -1):
        step = path[length - 1]
        if step in _CONSTANT or step in ("identifier", "extension", "meta"):
            return False
    if any(len(path) > 1 and other[: len(path) - 1] == path[:-1] for other in equal):
        return path[-1] in ("text", "unit", "code", "system", "display")
    for length in range(1, len(path)):
        around = path[:length]
        if path[length] in ("coding", "text") and any(other[: length + 1] == (*around, "coding") for other in equal):
            return True
    own = path[0] in _WORDS_OF.get(str(came.get("resourceType")), ()) or str(path[0]).startswith(("value", "onset"))
    return own and path[0] in said


def _is_label(came: Json, path: Path, equal: Collection[Path]) -> bool:
    """Whether an equal leaf proves nothing: our writer says it whatever the record holds, or it is said twice."""
    if path[0] in _CONSTANT or any(step in _CONSTANT for step in path[-2:]):
        return True
    if path[-1] == "display":
        return True
    if path[-1] == "text" and len(path) > 1:
        coded = any(other[: len(path)] == (*path[:-1], "coding") for other in equal)
        return coded or (path[-2] == "code" and came.get("resourceType") in _LABELLED)
    if len(path) > 2 and path[-3] == "coding" and path[0] not in _MODIFIERS:
        around = path[:-2]
        return (
            len({other[len(around)] for other in equal if other[: len(around)] == around and other[-1] == "code"}) > 1
        )
    return False


def _equal(came: Json, said: Json, path: Path) -> Iterator[Path]:
    """Yield the leaves at which two say the same; items of lists are held against those that are alike."""
    if isinstance(came, Mapping) and isinstance(said, Mapping):
        for key, item in came.items():
            if key in said and (path or key not in _ASIDE):
                yield from _equal(item, said[key], (*path, key))
    elif isinstance(came, list) and isinstance(said, list):
        free = list(range(len(said)))
        for index, item in enumerate(came):
            at = next((n for n in free if _alike(item, said[n], index == n)), None)
            if at is not None:
                free.remove(at)
                yield from _equal(item, said[at], (*path, index))
    elif came is not None and came == said:
        yield path


def _alike(came: Json, said: Json, same_index: bool) -> bool:
    if not isinstance(came, Mapping) or not isinstance(said, Mapping):
        return bool(came == said)
    code, ours = came.get("code"), said.get("code")
    if isinstance(code, str) and "system" in came:
        return (came.get("system"), code) == (said.get("system"), ours)
    if isinstance(code, Mapping) and isinstance(ours, Mapping):
        keys = {(c.get("system"), c.get("code")) for c in code.get("coding") or ()}
        return bool(keys & {(c.get("system"), c.get("code")) for c in ours.get("coding") or ()})
    for key in ("reference", "value", "url"):
        if isinstance(came.get(key), str):
            return bool(came[key] == said.get(key))
    return same_index


def covers(ours: Json, came: Json) -> bool:
    """Whether ours says all that came says: every member and, in order, every item of it.

    Examples
    --------
    >>> covers({"text": "left", "coding": [{"code": "7771000"}]}, {"coding": [{"code": "7771000"}]})
    True
    """
    if isinstance(ours, dict) and isinstance(came, dict):
        return all(key in ours and covers(ours[key], value) for key, value in came.items())
    if isinstance(ours, list) and isinstance(came, list):
        rest = iter(ours)
        return all(any(covers(one, item) for one in rest) for item in came)
    return bool(ours == came)
