"""Maps of codes as a person edits them: tab-separated values with the columns of SSSOM.

SSSOM is the Simple Standard for Sharing Ontological Mappings (mapping-commons.github.io/sssom; column names and the
comment header with ``curie_map`` from memory). A line says: this code, by this predicate, is that entry of ours.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from difflib import get_close_matches
from typing import Any, get_args

import yaml

from woundfhir.catalogue import catalogue
from woundfhir.errors import InputError
from woundfhir.maps import targets
from woundfhir.maps.model import NEVER, CodeMap, Equivalence, Mapping, Target

#: The columns that are written, in order; the first, third and fourth are needed.
COLUMNS = (
    "subject_id",
    "subject_label",
    "predicate_id",
    "object_id",
    "object_label",
    "mapping_justification",
    "comment",
    "mapping_source",
)
_NEEDED = ("subject_id", "predicate_id", "object_id")
#: Other columns of SSSOM: accepted, and not used.
_OTHERS = {
    *("subject_source", "object_source", "predicate_label", "author_id", "author_label", "reviewer_id", "confidence"),
    *("mapping_date", "mapping_tool", "license", "see_also", "other", "predicate_modifier", "mapping_provider"),
    *("subject_category", "object_category", "match_string", "count", "places"),
}
#: SKOS's words for R4's: the object is broader than the subject where R4's target is wider.
PREDICATES: dict[str, Equivalence] = {
    "skos:exactMatch": "equal",
    "skos:closeMatch": "inexact",
    "skos:broadMatch": "wider",
    "skos:narrowMatch": "narrower",
    "skos:relatedMatch": "relatedto",
}
_PREDICATES: dict[str, Equivalence] = {**PREDICATES, **{f"fhir:{one}": one for one in get_args(Equivalence)}}
_WRITTEN = {equivalence: predicate for predicate, equivalence in PREDICATES.items()}
#: SSSOM's object where nothing of ours means the code.
NOTHING = "sssom:NoTermFound"
_OWN_NAMES = {"http://snomed.info/id": "http://snomed.info/sct", "http://loinc.org/rdf": "http://loinc.org"}


def read(text: str, where: str) -> CodeMap:
    """Return the map in a text.

    Parameters
    ----------
    text
        The content of the file.
    where
        Its name, for messages.

    Raises
    ------
    InputError
        For the first line that does not hold: names the file and the line.

    Examples
    --------
    >>> head = "subject_id\\tpredicate_id\\tobject_id"
    >>> found = read(f"{head}\\nsct:401238003\\tskos:exactMatch\\tconcept:assessment.length\\n", "site.tsv")
    >>> found.mappings[0].target.name
    'assessment.length'
    """
    head, body, first = _split(text, where)
    rows = csv.reader(io.StringIO(body), delimiter="\t", strict=True)
    try:
        names = [name.strip() for name in next(rows, [])]
        _check_columns(names, f"{where}, line {first}")
        prefixes = _prefixes(head, where)
        lines = [(first - 1 + rows.line_num, row) for row in rows if any(cell.strip() for cell in row)]
    except csv.Error:
        fix = "Look for a quotation mark that is not closed"
        raise InputError(f"{where}, line {first - 1 + rows.line_num}", "tab-separated values", fix) from None
    found = tuple(
        one for number, row in lines for one in _mappings(dict(zip(names, row, strict=False)), prefixes, where, number)
    )
    return CodeMap(where, str(head.get("mapping_set_title", "")), found, prefixes)


def _split(text: str, where: str) -> tuple[dict[str, Any], str, int]:
    """The header of ``#`` lines as data, the rest, and the number of the rest's first line."""
    lines = text.removeprefix("\ufeff").splitlines(keepends=True)
    count = next((n for n, line in enumerate(lines) if not line.startswith("#")), len(lines))
    try:
        head = yaml.safe_load("".join(line[1:] for line in lines[:count])) or {}
    except yaml.YAMLError:
        raise InputError(where, "lines with # that are YAML: key: value", "Look at the lines at the top") from None
    return head if isinstance(head, dict) else {}, "".join(lines[count:]), count + 1


def _check_columns(names: list[str], where: str) -> None:
    known = {*COLUMNS, *_OTHERS}
    for name in names:
        if name not in known:
            close = get_close_matches(name, sorted(known), 1)
            fix = f"Did you mean {close[0]}?" if close else f"The columns are {', '.join(COLUMNS)}"
            raise InputError(where, "columns of SSSOM", fix, found="a column has another name")
    if lacking := [name for name in _NEEDED if name not in names]:
        raise InputError(where, f"the columns {', '.join(_NEEDED)}", f"Add {', '.join(lacking)}, with tabs between")


def _prefixes(head: dict[str, Any], where: str) -> dict[str, str]:
    found = dict(catalogue().systems)
    given = head.get("curie_map")
    if given is not None and not isinstance(given, dict):
        raise InputError(where, "curie_map: a prefix and its system on each line", "Look at the lines at the top")
    for prefix, system in (given or {}).items():
        plain = str(system).rstrip("/#|")
        found[str(prefix)] = _OWN_NAMES.get(plain, plain)
    return found


def _mappings(row: dict[str, str], prefixes: dict[str, str], where: str, number: int) -> Iterator[Mapping]:
    here = f"{where}, line {number}"
    cell = {name: value.strip() for name, value in row.items()}
    system, code = _subject(cell.get("subject_id", ""), prefixes, here)
    equivalence = _equivalence(cell.get("predicate_id", ""), cell.get("predicate_modifier", ""), here)
    for equal, target in _targets(cell.get("object_id", ""), equivalence, prefixes, here):
        yield Mapping(
            system,
            code,
            equal,
            target,
            cell.get("subject_label", ""),
            cell.get("comment", ""),
            cell.get("mapping_source", ""),
            where,
            number,
        )


def _subject(text: str, prefixes: dict[str, str], where: str) -> tuple[str, str]:
    if "|" in text:
        system, _, code = text.partition("|")
    else:
        prefix, _, code = text.partition(":")
        system = prefixes.get(prefix, "")
    if not system or not code:
        names = ", ".join(sorted(prefixes))
        fix = f"Write SYSTEM|CODE, or PREFIX:CODE with a prefix of curie_map or one of {names}"
        raise InputError(where, "the code that comes in, as subject_id", fix)
    return system, code


def _equivalence(text: str, modifier: str, where: str) -> Equivalence:
    if (found := _PREDICATES.get(text)) is None:
        fix = f"Write one of {', '.join(PREDICATES)}, or fhir: and a word of R4 (fhir:unmatched)"
        raise InputError(where, "how the two fit, as predicate_id", fix)
    return "disjoint" if modifier.casefold() == "not" else found


def _targets(
    text: str, equivalence: Equivalence, prefixes: dict[str, str], where: str
) -> Iterator[tuple[Equivalence, Target | None]]:
    if text == NOTHING or (not text and equivalence in NEVER):
        yield "unmatched", None
        return
    if not text:
        fix = f"Name a target, or write {NOTHING} for a code that is not to be read"
        raise InputError(where, "what the code is read as, as object_id", fix, found="the map leads to nothing")
    if (target := targets.of_text(text, where)) is not None:
        yield equivalence, target
        return
    for one in targets.of_code(*_subject(text, prefixes, where), where):
        yield equivalence, one


def write(code_map: CodeMap) -> str:
    """Return a map as text: the opposite of ``read``.

    Examples
    --------
    >>> one = Mapping("http://loinc.org", "72298-3", "equal", Target("concept", "assessment.tunnels"))
    >>> write(CodeMap("a.tsv", "", (one,))).splitlines()[1].split("\\t")[:4]
    ['loinc:72298-3', '', 'skos:exactMatch', 'concept:assessment.tunnels']
    """
    prefixes = {system: prefix for prefix, system in {**code_map.prefixes, **catalogue().systems}.items()}
    added = {p: s for p, s in code_map.prefixes.items() if catalogue().systems.get(p) != s}
    out = io.StringIO()
    if code_map.title:
        out.write(f"#mapping_set_title: {yaml.safe_dump(code_map.title, width=1000).splitlines()[0]}\n")
    if added:
        out.write("#curie_map:\n" + "".join(f"#  {prefix}: {system}\n" for prefix, system in added.items()))
    rows = csv.writer(out, delimiter="\t", lineterminator="\n")
    rows.writerow(COLUMNS)
    for one in code_map.mappings:
        prefix = prefixes.get(one.system)
        rows.writerow(
            (
                f"{prefix}:{one.code}" if prefix and "|" not in one.code else f"{one.system}|{one.code}",
                one.label,
                _WRITTEN.get(one.equivalence, f"fhir:{one.equivalence}"),
                one.target.id if one.target else NOTHING,
                one.target.label if one.target else "",
                "semapv:ManualMappingCuration",
                one.comment,
                one.source,
            )
        )
    return out.getvalue()
