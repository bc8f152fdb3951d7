"""Whether a QuestionnaireResponse answers our form, and of which visit and wound."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.catalogue import catalogue, per_catalogue
from woundfhir.fhir import form_items as items
from woundfhir.fhir.form_level import Level
from woundfhir.fhir.ids import unescape
from woundfhir.fhir.leaves import every

Json = Any
#: How many questions by the names of data elements make a form ours that does not name it.
_FEWEST = 3


def is_form(resource: Mapping[str, Json]) -> bool:
    """Whether a QuestionnaireResponse answers our form, or that of the site.

    A server or an app may know the form under an address of its own, contain it, or name none: then it is ours where
    its questions are.

    Examples
    --------
    >>> asked = [{"linkId": f"assessment.{key}"} for key in ("length", "width", "depth")]
    >>> is_form({"item": asked}), is_form({"item": [*asked, {"linkId": "1.2"}]}), is_form({"item": asked[:2]})
    (True, False, False)
    """
    return names_form(resource) or _asks_as_ours(resource)


def names_form(resource: Mapping[str, Json]) -> bool:
    """Whether a QuestionnaireResponse names our form, or that of the site, by its address."""
    named = str(resource.get("questionnaire", "")).split("|")[0]
    inner = (one for one in resource.get("contained", ()) if named == f"#{one.get('id', '')}")
    named = next((str(one.get("url")) for one in inner), named)
    return named in [f"{base}/Questionnaire/{items.NAME}" for base in catalogue().bases]


def _asks_as_ours(resource: Mapping[str, Json]) -> bool:
    """Whether all questions are those of our form, and some name a data element of the catalogue."""
    links = {str(value) for path, value in every(resource.get("item", ())) if path[-1:] == ("linkId",)}
    asked = {link.partition(":")[0] for link in links}
    dotted = {link for link in asked if "." in link}
    known = _paths()
    ours = all(link in known or link.rpartition(".")[0] in known for link in dotted)
    return len(dotted) >= _FEWEST and ours and asked - dotted <= {*catalogue().groups, "entry"}


@per_catalogue()
def _paths() -> frozenset[str]:
    return frozenset(one.path for one in catalogue().concepts(fields=True))


def place(resource: Mapping[str, Json]) -> tuple[str | None, str | None]:
    """Return the ids of visit and wound that a response names: by its identifier, else by its items."""
    named = resource.get("identifier") or {}
    parts = str(named.get("value", "")).split("/")
    if len(parts) == 2 and str(named.get("system", "")).startswith("urn:uuid:"):
        return unescape(parts[0]), unescape(parts[1])
    found = Level(resource.get("item", ()), ())
    visit, wound = found.text("visit:id"), found.text("wound:id")
    return (visit, wound) if visit and wound else (None, None)
