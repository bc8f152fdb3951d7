"""What a shell offers where a value is plain text: names that we know, and names of files.

Values of other types (choices, paths) are completed by click itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import click
from click.shell_completion import CompletionItem

#: What stands for a file in a metavar.
_FILES = frozenset(("A", "B", "DIR", "FILE", "FOLDER", "IN", "RECORD"))


class Completed(click.types.StringParamType):
    """Text that a shell completes; help and reading are those of any text.

    Parameters
    ----------
    known
        Gives the names that are offered.
    files
        Whether files are offered where no name begins so.
    """

    def __init__(self, known: Callable[[], Iterable[str]], files: bool) -> None:
        self._known, self._files = known, files

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        """Return what may be meant."""
        found = [CompletionItem(one) for one in self._known() if one.startswith(incomplete)]
        return found if found or not self._files else [CompletionItem(incomplete, type="file")]


def complete(command: click.Command) -> None:
    """Let a shell complete the values of a verb; once, also where it is asked for again."""
    for one in command.params:
        if type(one.type) is click.types.StringParamType:
            words = set((one.metavar or "").strip("[].").replace("...", "").split("|"))
            known = _KNOWN.get(one.name or "")
            if known or words & _FILES or one.name == "known":
                one.type = Completed(known or tuple, bool(words & _FILES) or one.name == "known")


def _explained() -> Iterable[str]:
    from woundfhir.catalogue import catalogue
    from woundfhir.checklist import rules_of

    return (*(rule.code for rule in rules_of(())), *(concept.path for concept in catalogue().concepts()))


def _groups() -> Iterable[str]:
    from woundfhir.catalogue import catalogue, frame

    return dict.fromkeys((*frame().parts, *catalogue().groups))


def _policies() -> Iterable[str]:
    from woundfhir.checklist.policy import BUILT_IN

    return BUILT_IN


def _checklists() -> Iterable[str]:
    from woundfhir.checklist.site import BUILT_IN

    return BUILT_IN


def _languages() -> Iterable[str]:
    from woundfhir.language import LANGUAGES

    return LANGUAGES


#: Parameter, of one verb or of all -> the names that are offered.
_KNOWN: dict[str, Callable[[], Iterable[str]]] = {
    "checklists": _checklists,
    "group": _groups,
    "lang": _languages,
    "name": _explained,
    "policy": _policies,
}
