"""A rule of a site's own as its checklist file writes it; ``schema_rule.py`` makes a rule of it."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from woundfhir.catalogue.model import Mark
from woundfhir.checklist.rule import Scope, Severity
from woundfhir.site_file import SiteModel, SiteText


class RuleEntry(SiteModel):
    """One ``[[rule]]`` as a checklist file writes it."""

    code: SiteText = Field(description="a code of letters, digits, dot and hyphen, a text in quotes")
    name: SiteText = Field(description="a name of words joined by hyphens, a text in quotes")
    severity: Severity = Field(description="how much it weighs")
    scope: Scope = Field(description="what the rule looks at")
    conditions: list[str] = Field([], description="a list of named conditions that must all hold")
    when: dict[str, Any] = Field({}, description="a JSON Schema as a table; the rule holds where it fits")
    then: dict[str, Any] = Field(description="a JSON Schema as a table, which must fit")
    path: SiteText | None = Field(None, description="the place to name in the finding, a text in quotes")
    message: SiteText = Field(description="what was found, a text in quotes")
    fix: SiteText = Field(description="what to write, a text in quotes")
    why: SiteText = Field("This site's own rule.", description="why it matters, a text in quotes")
    wrong: SiteText = Field("a note that does not fit the rule's `then`", description="an example, a text in quotes")
    right: SiteText = Field("a note that fits it", description="an example, a text in quotes")
    source: SiteText = Field(description="who asks for it, a text in quotes")
    mark: Mark = Field(description="how far the source can be trusted")
