"""Is the note complete, and does it hold together? Rules, policies, and the one pass that judges a record.

``rule.py`` says what a rule is; ``views.py`` and ``asking.py`` what it may ask; ``conditions.py`` names the
conditions; ``policy.py`` and ``policies/`` hold every number on which guidelines differ; ``presence.py`` makes the
"missing" rules from the catalogue; ``rules/`` holds the written ones; ``site.py`` reads a site's own; ``judge.py``
runs them all.
"""

# The folder of rules is imported first, so that the name ``rules`` below is the function and stays it.
import woundfhir.checklist.rules  # noqa: F401
from woundfhir.checklist.built_in import rules
from woundfhir.checklist.finding import LEVELS, Finding, LeftOut, Level, Verdict
from woundfhir.checklist.judge import check, judge, rules_of
from woundfhir.checklist.pages import Page
from woundfhir.checklist.rule import Problem, Rule, RuleError, rule
from woundfhir.checklist.site import Checklist

__all__ = [
    "LEVELS",
    "Checklist",
    "Finding",
    "LeftOut",
    "Level",
    "Page",
    "Problem",
    "Rule",
    "RuleError",
    "Verdict",
    "check",
    "judge",
    "rule",
    "rules",
    "rules_of",
]
