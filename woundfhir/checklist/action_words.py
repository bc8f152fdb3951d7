"""What the words of an action say: done, planned, nobody reached, nothing decided."""

from __future__ import annotations

import re

from woundfhir.chart.asking import Item
from woundfhir.checklist.pages import common


def fault_of_recipient(told: list[frozenset[str]]) -> str:
    """Return what is wrong with who was told, by the tags of each role; "" for nothing."""
    if any("nobody" in tags for tags in told):
        return "nobody"
    if told and all("not a clinician" in tags for tags in told):
        return "not_a_clinician"
    return "" if told else "who"


def not_done(*texts: object) -> str:
    """Why words say that an action is not done: it is planned, or nobody was reached."""
    return "undone" if any(_says("planned", text) for text in texts) else unreached(*texts)


def unreached(*texts: object) -> str:
    """Return "undone" where words say that nobody was reached, else nothing."""
    return "undone" if any(_says("unreached", text) for text in texts) else ""


def no_outcome(item: Item) -> str:
    """Why an action is not known to have come to anything: no word for a contact that took place, or for a decision."""
    done, agreed = item.answer("done"), item.answer("agreed")
    if _says("completed", done) or _says("completed", agreed) or _says("decided", agreed):
        return ""
    return "outcome"


def _says(key: str, text: object) -> bool:
    return type(text) is str and re.search(common("action_words")[key], text, re.I | re.X) is not None


def refused(text: object) -> bool:
    """Whether an answer in free words is none: nothing was done but to wait, or it is still to be done."""
    if type(text) is not str:
        return True
    empty = re.fullmatch(common("action_words")["refusal"], text.strip(), re.I | re.X)
    return empty is not None or bool(not_done(text))
