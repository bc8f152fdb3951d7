"""The codes that came and were not read: a site's work list, as the beginning of a map."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.catalogue.spelling import same_form
from woundfhir.fhir.fates import Taken
from woundfhir.fhir.losses import Losses
from woundfhir.maps import in_force

Json = Any
_UNREAD = ("kept", "not-understood")
#: Systems whose codes say how a resource is used, and nothing of care.
_ASIDE = ("http://terminology.hl7.org/CodeSystem/", "http://hl7.org/fhir/")


@dataclass(slots=True)
class Unread:
    """One code that was not read.

    Attributes
    ----------
    system, code, label
        The code and its name.
    count, places
        How often it came, and in which elements.
    """

    system: str
    code: str
    label: str = ""
    count: int = 0
    places: dict[str, int] = field(default_factory=dict)

    @property
    def guess(self) -> str:
        """What it may be, by its name alone; "" where no entry is called so."""
        known = catalogue()
        words = [found.key for answers in known.answers.values() if (found := answers.find(self.label)) is not None]
        same = [one.path for one in known.concepts() if same_form(one.label) == same_form(self.label)]
        options = [*(f"concept:{one}" for one in same), *(f"answer:{one}" for one in dict.fromkeys(words))]
        return f"perhaps {' or '.join(options[:3])}" if self.label and options else ""


def unread(reports: Iterable[Losses]) -> list[Unread]:
    """Return the codes that were not read, the most frequent first."""
    found: dict[tuple[str, str], Unread] = {}
    for report in reports:
        for taken in report.taken:
            _collect(found, taken)
    table = in_force()  # what is known and was left aside all the same needs no map
    unknown = [one for key, one in found.items() if not table.meaning(*key)]
    return sorted(unknown, key=lambda one: (-one.count, one.system, one.code))


def _collect(found: dict[tuple[str, str], Unread], taken: Taken) -> None:
    for path, kind, _ in taken.leaves():
        if kind not in _UNREAD or path[-1] != "code" or "coding" not in path[-3:-1]:
            continue
        coding = taken.came
        for step in path[:-1]:
            coding = coding[step]
        system, code = coding.get("system"), coding.get("code")
        if not isinstance(system, str) or not isinstance(code, str) or system.startswith(_ASIDE):
            continue
        one = found.setdefault((system, code), Unread(system, code))
        one.label = one.label or _label(coding)
        one.count += 1
        place = ".".join((taken.type, *(step for step in path[:-3] if isinstance(step, str))))
        one.places[place] = one.places.get(place, 0) + 1


def _label(coding: Mapping[str, Json]) -> str:
    found = coding.get("display")
    return " ".join(found.split()) if isinstance(found, str) else ""


def write(found: Iterable[Unread], more: Mapping[tuple[str, str], str] | None = None) -> str:
    """Return the work list as TSV: fill in predicate_id and object_id, or delete the line; then it is a map.

    ``more`` is what else is known of a code (system, code), for its comment.
    """
    systems = {system: prefix for prefix, system in catalogue().systems.items()}
    lines = ["subject_id\tsubject_label\tpredicate_id\tobject_id\tcomment\tcount\tplaces"]
    for one in found:
        prefix = systems.get(one.system)
        name = f"{prefix}:{one.code}" if prefix else f"{one.system}|{one.code}"
        places = "; ".join(f"{place} {number}" for place, number in one.places.items())
        said = " ".join((more or {}).get((one.system, one.code), "").split())
        comment = "; ".join(part for part in (one.guess, said) if part)
        lines.append("\t".join((name.replace("\t", " "), one.label, "", "", comment, str(one.count), places)))
    return "\n".join(lines) + "\n"
