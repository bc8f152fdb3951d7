"""What only the address of a server says is said by names: resources go out under ``Type/id``, without an address.

A relative reference to what did not come becomes the absolute one that it means (HL7 FHIR R4, Bundle, resolving
references). Where two servers have one ``Type/id``, a resource that came gets an id of its own. So both have the same
names when our own output is read again.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from hashlib import sha256

from woundfhir.fhir.came import Came
from woundfhir.fhir.keys import in_record_form
from woundfhir.fhir.references import address, base_of, is_relative, references, rename
from woundfhir.fhir.terms import terms

#: Of an id of 64 characters (R4, id), what stays before the mark of its server.
_KEPT = 55


def id_in(url: str, kind: object) -> str | None:
    """Return the id that the address of a resource of this type on a server ends with.

    Examples
    --------
    >>> id_in("https://ehr.example.org/fhir/Observation/l", "Observation")
    'l'
    """
    tail = _tail(address(url)) if base_of(url) else ""
    return tail.partition("/")[2] if is_relative(tail) and tail.startswith(f"{kind}/") else None


def settle(came: Iterable[Came], deleted: Collection[str]) -> None:
    """Put names that last into what came; what a request deletes keeps the name that the request gives."""
    known = _Known(list(came))
    whole = known.whole
    ids = known.two_of_one_name(deleted)
    # What names another client's is changed when they are parted: in a copy, never in what a program gave.
    several = sum(one.original.get("resourceType") == "Patient" for one in whole) > 1
    for one in whole:
        names = {literal: known.lasting(literal, one, ids) for literal in references(one.original)}
        names = {literal: name for literal, name in names.items() if name != literal}
        new = ids.get((one.base, _name(one)))
        if names or several:
            one.original = rename(one.original, names)
        if new is not None:
            one.original = {**one.original, "id": new.partition("/")[2]}
        if names or several or new is not None:
            one.view = in_record_form(one.original)


def settle_uuids(came: Collection[Came]) -> None:
    """Rename references to the UUID of what came, where no entry has that address: ``Type/id``, as in a Bundle.

    So resources stand out of their Bundle, in lines; and so we write them, whatever their entry was called.
    """
    names: dict[str, set[str]] = {}
    for one in came:
        names.setdefault(f"urn:uuid:{one.original.get('id')}", set()).add(_name(one))
    addresses = {one.full_url for one in came}
    alone = {literal: min(found) for literal, found in names.items() if len(found) == 1 and literal not in addresses}
    for one in came if alone else ():  # in a Bundle as a rule every entry has its address
        if any(literal in alone for literal in references(one.original)):
            one.original = rename(one.original, alone)
            one.view = in_record_form(one.original)


class _Known:
    """The names and addresses in one input."""

    def __init__(self, whole: list[Came]) -> None:
        self.whole = whole
        #: Type and id -> the servers that have it, "" for one of no address.
        self.held: dict[str, set[str]] = {}
        self.at: dict[str, tuple[str, str]] = {}
        for one in whole:
            self.held.setdefault(_name(one), set()).add(one.base)
            if one.base:
                self.at.setdefault(address(str(one.full_url)), (one.base, _name(one)))
        #: What came without an address -> all that references call it, those of contained resources apart, as
        #: `intake/subjects.py` counts them.
        self.called: dict[str, set[str]] = {}
        outer = ({key: item for key, item in one.original.items() if key != "contained"} for one in whole)
        for literal in {address(literal) for one in outer for literal in references(one)}:
            if self.held.get(_tail(literal)) == {""}:
                self.called.setdefault(_tail(literal), set()).add(literal)

    def meant(self, literal: str, holder: Came) -> str | None:
        """Return the address that a reference means; None where it has none, or what came without one fits."""
        plain = address(literal)
        relative = is_relative(plain) and not plain.startswith("urn:")
        meant = f"{holder.base}/{plain}" if relative and holder.base else plain
        if not base_of(meant):
            return None
        return meant if meant in self.at or "" not in self.held.get(_tail(meant), ()) else None

    def lasting(self, literal: str, holder: Came, ids: dict[tuple[str, str], str]) -> str:
        """Return the literal by which our own output means the same."""
        meant = self.meant(literal, holder)
        if meant is None:
            if self.called.get(_tail(address(literal))) == {address(literal)}:
                return _tail(address(literal)) + _version(literal)
            named = self.held.get(address(literal), set()) - {""}
            alone = (next(iter(named)), address(literal)) if len(named) == 1 else None
            return ids.get(alone, literal) if alone and "" not in self.held[alone[1]] else literal
        version = _version(literal)
        found = self.at.get(meant)
        if found is None:
            return literal if base_of(literal) else f"{meant}{version}"
        only = self.held[found[1]] == {found[0]}
        name = ids.get(found) or (found[1] if only or _tail(meant) != found[1] else None)
        return f"{name}{version}" if name is not None else literal

    def two_of_one_name(self, deleted: Collection[str]) -> dict[tuple[str, str], str]:
        """Return new names for what came from one server where another server has its name too."""
        bases = {name: set(found) for name, found in self.held.items()}
        for one in self.whole:
            for literal in references(one.original):
                meant = self.meant(literal, one)
                if meant is not None and meant not in self.at:
                    bases.setdefault(_tail(meant), set()).add(base_of(meant))
        made = {}
        for one in self.whole:
            name, kind = _name(one), one.original.get("resourceType")
            # A client is known by more than a name; ours by its place.
            if not one.base or kind == "Patient" or name in deleted or terms().is_ours(one.original):
                continue
            if len(bases[name]) > 1:
                mark = sha256(one.base.encode()).hexdigest()[:8]
                made[one.base, name] = f"{kind}/{str(one.original.get('id'))[:_KEPT]}-{mark}"
        return made


def _name(one: Came) -> str:
    return f"{one.original.get('resourceType')}/{one.original.get('id')}"


def _version(literal: str) -> str:
    return "".join(literal.partition("/_history/")[1:])


def _tail(url: str) -> str:
    return "/".join(url.rsplit("/", 2)[-2:])
