"""Is the note complete, and does it hold together? Rules, policies, and the one pass that judges a record.

``rule.py`` says what a rule is; ``views.py`` and ``asking.py`` what it may ask; ``conditions.py`` names the
conditions; ``policy.py`` and ``policies/`` hold every number on which guidelines differ.
"""

from woundfhir.checklist.rule import Page, Problem, Rule, rule, rules

__all__ = ["Page", "Problem", "Rule", "rule", "rules"]
