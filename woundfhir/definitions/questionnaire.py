"""The Questionnaire of one wound at one visit.

An answer is demanded only where all that the checklist makes it hang on is asked in the form, and never where a reason
or words stand in its place; every other gap is judged by ``check``. Nothing has a default.
"""

from __future__ import annotations

from typing import Any

from woundfhir.definitions import form_extraction, form_population
from woundfhir.definitions import form_questions as questions
from woundfhir.definitions.definition import COPYRIGHT, DATE, head
from woundfhir.fhir import form_items
from woundfhir.fhir.terms import Terms

Json = Any


def questionnaire(terms: Terms) -> dict[str, Json]:
    """Return the Questionnaire."""
    made = head(
        "Questionnaire",
        "wound-visit",
        "One wound at one visit",
        "What a wound care note holds: the wound, its assessment, the dressing change, supplies and plan.",
        terms,
    )
    reasons = questions.reasons(terms)
    reasons["expansion"]["timestamp"] = DATE
    made["contained"] = [reasons]
    made["extension"] = form_population.launch(terms)
    made["copyright"] = COPYRIGHT
    made["subjectType"] = ["Patient"]
    parts = [one for group in form_items.SECTIONS for one in questions.part(terms, group)]
    made["item"] = [*parts, questions.entry_note()]
    form_population.populate(terms, made["item"])
    form_extraction.extract(terms, made)
    return made
