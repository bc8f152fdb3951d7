"""Is the note complete, consistent and safe? Rules, their texts, policies, and the one pass that judges a record.

``rule.py`` defines a rule, ``pages.py`` its page and messages in ``texts/<language>/``; ``woundfhir.chart`` holds the
views that a rule may ask and the named conditions; ``policy.py`` and ``policies/`` hold every number on which
guidelines differ; ``presence.py`` makes rules from the catalogue; ``rules/`` holds those written by hand;
``built_in.py`` is both together; ``site.py`` reads a site's own; ``judge.py`` runs them all.
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
