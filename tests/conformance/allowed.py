"""Which warnings are listed with a reason, and what of a batch's findings is refused."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from .engine import Issue

_FILE = Path(__file__).resolve().parent / "allowed.toml"


class Allowance(NamedTuple):
    """One kind of warning that may stand; patterns are compiled regular expressions."""

    id: re.Pattern[str]
    match: re.Pattern[str]
    reason: str

    def fits(self, issue: Issue) -> bool:
        """Whether an issue is of this kind; an error never is."""
        if issue.severity != "warning" or not self.id.fullmatch(issue.message_id):
            return False
        return self.match.search(issue.message) is not None


@lru_cache(maxsize=1)
def allowances() -> tuple[Allowance, ...]:
    """Return the entries of ``allowed.toml``; each must have all three members and a reason in words."""
    found = []
    for raw in tomllib.loads(_FILE.read_text("utf-8")).get("allow", []):
        if raw.keys() != {"id", "match", "reason"} or not raw["reason"].strip():
            raise ValueError(f"allowed.toml: an entry needs id, match and reason: {sorted(raw)}")
        found.append(Allowance(re.compile(raw["id"]), re.compile(raw["match"]), raw["reason"]))
    return tuple(found)


def refused(issues: Iterable[Issue]) -> list[Issue]:
    """Return the errors, and the warnings that no entry lists. Information (hints of the engine) is no finding."""
    return [
        issue
        for issue in issues
        if issue.severity != "information" and not any(allowance.fits(issue) for allowance in allowances())
    ]
