"""What became of each leaf of a resource: one fate each, from the readers' marks and from what we write of the same.

A leaf is understood when our writing of the record says the same at the same place, or a reader has marked it. What
our writer always says the same (a category, a label, the display of a code), and what is said twice, proves nothing:
it is reworded. The law that tests hold: a leaf that is understood changes the record when it changes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from woundfhir.fhir.leaves import ASIDE, Path, equal, every, words

Json = Any

#: The fates, in the order in which reports name them.
FATES = ("understood", "reworded", "kept", "conflict", "withdrawn", "not-understood", "bookkeeping")
#: Codes of kinds, for machines.
KINDS = (*FATES, "negated")
#: Kinds that a person must look at. What is negated is no fact either: its fate is that of what is withdrawn.
TO_LOOK_AT = ("conflict", "withdrawn", "negated", "not-understood")
_HEADS = ("withdrawn", "negated", "not understood", "conflict")

#: Names of modifiers: what a fact says in them decided that it is one.
_MODIFIERS = frozenset(
    ("status", "clinicalStatus", "verificationStatus", "lifecycleStatus", "intent", "active", "doNotPerform")
)
#: What our writer says the same whatever the record holds.
_CONSTANT = frozenset(("category", "class", "kind"))
_LABELLED = frozenset(("Observation", "Procedure"))
#: What says to whom a resource belongs: it is not evidence twice.
_SUBJECT = frozenset(("subject", "patient"))
#: What says where it belongs, and when it was: so does the visit, or the place that our identifier names.
_WHERE = frozenset(("reference", "effectiveDateTime", "occurrenceDateTime", "performedDateTime"))
#: Elements that are read into words of the record's own, by type.
_WORDS_OF = {
    "Condition": frozenset(("code", "bodySite", "stage")),
    "AllergyIntolerance": frozenset(("code", "reaction")),
    "Patient": frozenset(("name", "gender")),
}

KEPT = "no place in the record"
WORDED = "said by the record, here in the sender's own form"
_LABEL = "a label or category of what the record says"
_UNIT = "the code of a unit that is written beside it"
_WORDS = "the words beside it say the same"
_PLACE = "where it stands in the record: its other references and its identifier say the same"
_AGAIN = "another resource says the same"
_SERVERS = "an id, a version or the narrative of the resource"
_TAKEN = "the record says it"
VIEW = "made of the record: recomputed, never read"
TWICE = "the same resource came before, word for word"
ENVELOPE = "the Bundle around the resources"
CARRIER = "the form in which it was carried"


def kind_of(why: str) -> str:
    """Return the kind of a reason: one of ``withdrawn``, ``negated``, ``not-understood``, ``conflict``, ``kept``.

    Examples
    --------
    >>> kind_of("withdrawn: status: entered in error"), kind_of("no place in the record")
    ('withdrawn', 'kept')
    """
    head = why.partition(":")[0]
    return head.replace(" ", "-") if head in _HEADS else "kept"


def fate_of(kind: str) -> str:
    """Return the fate of a kind: what is negated counts with what is withdrawn.

    Examples
    --------
    >>> fate_of("negated"), fate_of("kept")
    ('withdrawn', 'kept')
    """
    return "withdrawn" if kind == "negated" else kind


NO_MAP: Mapping[Path, str] = {}


class Leaf(NamedTuple):
    """One leaf of a resource, its kind and the reason."""

    path: Path
    kind: str
    why: str


class Taken(NamedTuple):
    """One resource, or one part of what came, and all that says what became of its leaves.

    Parameters
    ----------
    label
        Type and id: the key by which programs know it.
    came
        As it came.
    said
        Our writing of the same, references renamed; None where we write it in another shape.
    marks
        Paths of leaves that a reader has taken.
    left
        Parts that do not count, or contradict: path in words, and why.
    all_of
        Kind and reason of every leaf but the bookkeeping, where they are one.
    again
        Whether another resource says the same.
    inner
        What it contains: number in ``contained``, and what became of it.
    ids
        Leaves that were not in the input: the ids that entries get from their addresses.
    own
        Whether it names its place in the record, as our own resources do.
    mapped
        Codes that a map decided: path of the coding -> what was lost, "" where nothing was.
    at
        Where it stood: what a report calls it (see ``came.Came``).
    """

    label: str
    came: Json
    said: Mapping[str, Json] | None = None
    marks: Collection[Path] = frozenset()
    left: Sequence[tuple[str, str]] = ()
    all_of: tuple[str, str] | None = None
    again: bool = False
    inner: Mapping[int, Taken] | None = None
    ids: int = 0
    own: bool = False
    mapped: Mapping[Path, str] = NO_MAP
    at: str = ""

    def __repr__(self) -> str:
        """The label and no value."""
        return f"<Taken: {self.label}>"

    @property
    def type(self) -> str:
        """The type of resource that it is."""
        return self.label.partition("/")[0]

    def leaves(self) -> Iterator[Leaf]:
        """Yield every leaf with its fate."""
        if self.all_of is not None:
            kind, why = self.all_of
            for path, _ in every(self.came):
                if kind != "bookkeeping" and path and path[0] in ASIDE:
                    yield Leaf(path, "bookkeeping", _SERVERS)
                else:
                    yield Leaf(path, kind, why)
            return
        judge = _Judge(self)
        for path, _ in every(self.came):
            if path[0] != "contained" or self.inner is None or len(path) < 2 or path[1] not in self.inner:
                yield judge.leaf(path)
        for number, one in (self.inner or {}).items():
            for leaf in one.leaves():
                yield Leaf(("contained", number, *leaf.path), leaf.kind, leaf.why)


class _Judge:
    """Says what became of one leaf after the other of a resource that counts."""

    def __init__(self, taken: Taken) -> None:
        self.taken = taken
        self.said = taken.said or {}
        same = taken.came is taken.said
        self.equal = {path for path, _ in every(taken.came)} if same else set(equal(taken.came, self.said, ()))
        #: Everything around a leaf that is equal.
        self.around = {path[:length] for path in self.equal for length in range(1, len(path))}
        self.codes = Counter(path[:-2] for path in self.equal if path[-1] == "code" and path[-3:-2] == ("coding",))
        self.left = dict(taken.left)

    def leaf(self, path: Path) -> Leaf:
        """Return what became of one leaf."""
        found = self._leaf(path)
        if self.taken.mapped and found.kind in ("understood", "reworded") and (why := self._lost(path)):
            return Leaf(path, "reworded", why)
        return found

    def _lost(self, path: Path) -> str:
        """What was lost where a map read a code as something that does not mean the same."""
        return self.taken.mapped.get(path[:-1], "") if path[-3:-2] == ("coding",) else ""

    def _leaf(self, path: Path) -> Leaf:
        if path[0] in ASIDE:
            return Leaf(path, "bookkeeping", _SERVERS)
        if self.left and (why := self._left(path)) is not None:
            return Leaf(path, kind_of(why), why)
        if path in self.equal and path not in self.taken.marks and (why := self._twice(path) or self._label(path)):
            return Leaf(path, "reworded", why)
        if path[0] in _MODIFIERS and path[-1] in ("display", "text"):
            return Leaf(path, "reworded", _LABEL)
        if path in self.taken.marks or path in self.equal or path[0] in _MODIFIERS:
            return Leaf(path, "reworded", _AGAIN) if self.taken.again else Leaf(path, "understood", _TAKEN)
        if self.said and self._worded(path):
            return Leaf(path, "reworded", WORDED)
        if self.taken.own and path[:2] == ("identifier", 0):  # the key that a server has, and the position in its list
            return Leaf(path, "reworded", _PLACE)
        return Leaf(path, "kept", KEPT)

    def _left(self, path: Path) -> str | None:
        for length in range(1, len(path) + 1):
            if (why := self.left.get(words(path[:length]))) is not None:
                return why
        return None

    def _worded(self, path: Path) -> bool:
        """Whether the record says a leaf in words or codes of its own: the rest of its concept, or its element."""
        if any(step in _CONSTANT or step in ("identifier", "extension", "meta") for step in path[:-1]):
            return False
        if len(path) > 1 and path[:-1] in self.around:
            return path[-1] in ("text", "unit", "code", "system", "display")
        for length in range(1, len(path)):
            if path[length] in ("coding", "text") and (*path[:length], "coding") in self.around:
                return True
        own = path[0] in _WORDS_OF.get(self.taken.type, ()) or str(path[0]).startswith(("value", "onset"))
        if not own or path[0] not in self.said:
            return False
        said = self.said[path[0]]  # of a list only what stands at the same position
        return not (isinstance(said, list) and len(path) > 1 and isinstance(path[1], int)) or path[1] < len(said)

    def _twice(self, path: Path) -> str:
        """Why an equal leaf proves nothing: something beside it, or around the resource, says the same."""
        last = path[-1]
        if self.taken.own and (last in _WHERE or path[0] == "identifier") and path[0] not in _SUBJECT:
            return _PLACE
        if last == "system" and (*path[:-1], "code") in self.equal and path[-3:-2] != ("coding",):
            return _UNIT
        if last == "code" and (*path[:-1], "unit") in self.equal:
            return _UNIT
        if path[-3:-2] == ("coding",) and (*path[:-3], "text") in self.equal:
            named = path[:-3] == ("code",) and self.taken.type in _LABELLED
            return "" if named else _WORDS
        return ""

    def _label(self, path: Path) -> str:
        """Why an equal leaf proves nothing: our writer says it whatever the record holds, or it is said twice."""
        if path[0] in _CONSTANT or any(step in _CONSTANT for step in path[-2:]):
            return _LABEL
        if path[-1] == "display":
            return _LABEL
        if path[-1] == "text" and len(path) > 1:
            coded = (*path[:-1], "coding") in self.around
            return _LABEL if coded or (path[-2] == "code" and self.taken.type in _LABELLED) else ""
        if len(path) > 2 and path[-3] == "coding" and path[0] not in _MODIFIERS and self.codes[path[:-2]] > 1:
            return _LABEL
        if path[-1] == "url" and path[-3:-2] == ("extension",):
            return _LABEL
        constant = path[0] == "type" if self.taken.type == "SupplyDelivery" else path[::2] == ("telecom", "system")
        return _LABEL if constant else ""


class Place(NamedTuple):
    """All leaves of one kind and reason that stand together, under the path that holds no others."""

    path: Path
    kind: str
    why: str
    leaves: int


def places(found: Sequence[Leaf]) -> list[Place]:
    """Gather leaves under the shortest path below which all, but the bookkeeping, have one kind and one reason.

    Examples
    --------
    >>> one, two = Leaf(("a", "b"), "kept", "x"), Leaf(("a", "c"), "kept", "x")
    >>> places([one, two, Leaf(("d",), "conflict", "y")])
    [Place(path=('a',), kind='kept', why='x', leaves=2), Place(path=('d',), kind='conflict', why='y', leaves=1)]
    """
    below: dict[Path, tuple[str, str] | None] = {}
    for path, kind, why in found:
        if kind != "bookkeeping":
            for length in range(len(path) + 1):
                if below.setdefault(path[:length], (kind, why)) != (kind, why):
                    below[path[:length]] = None
    counts: Counter[tuple[Path, str, str]] = Counter()
    for path, kind, why in found:
        if kind == "bookkeeping":
            counts[path, kind, why] += 1
            continue
        length = next(n for n in range(len(path) + 1) if n == len(path) or below[path[:n]] is not None)
        counts[path[:length], kind, why] += 1
    return [Place(*key, number) for key, number in counts.items()]
