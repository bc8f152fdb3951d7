"""What never changes at a site (setting, how wounds are measured, the scale), and its own words: a TOML file.

New notes begin with it, and the checklist asks for none of it where a note says nothing else.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pydantic import Field

from woundfhir.chart.site_words import in_our_words
from woundfhir.record import History
from woundfhir.site_file import SiteModel, SiteText, load_toml, read_text


class DefaultsFile(SiteModel):
    """The file: each key is optional, and no other is taken, so that nothing that must be seen anew can stand in it."""

    setting: SiteText | None = Field(None, description="where clients are seen, a text in quotes")
    measure_method: SiteText | None = Field(None, description="what wounds are measured with, a text in quotes")
    measure_axis: SiteText | None = Field(None, description="along which axes, a text in quotes")
    exudate_scale: SiteText | None = Field(None, description="the scale of exudate amounts, a text in quotes")
    words: dict[str, dict[SiteText, SiteText]] = Field(
        {}, description='your site\'s words: below [words."wound.kind"] a line "your word" = "the word of its list"'
    )


def read(path: str | Path) -> DefaultsFile:
    """Return what a file says; see ``load_toml``."""
    return load_toml(read_text(path, "defaults", ("defaults.toml",)), DefaultsFile, str(path), "note")


def answers(file: DefaultsFile) -> dict[str, str]:
    """Return the answers of the file by the path of their concept."""
    found = file.model_dump(exclude_none=True, exclude={"words"}).items()
    return {f"{'visit' if key == 'setting' else 'assessment'}.{key}": value for key, value in found}


def filled(history: History, path: str | Path) -> History:
    """Return a history to be checked, a site's defaults where its notes say nothing.

    Parameters
    ----------
    history
        The record; it is not changed.
    path
        The site's file. How a wound is measured belongs to a note that assesses it, and to no other. Its own words
        are read as the words of our lists that it says they are.

    Raises
    ------
    InputError
        For a file that is no TOML, or holds another key.
    """
    file = read(path)
    found = answers(file)
    here = {key.partition(".")[2]: value for key, value in found.items() if key.startswith("visit.")}
    seen = {key.partition(".")[2]: value for key, value in found.items() if key.startswith("assessment.")}

    def entry(one: dict[str, Any]) -> dict[str, Any]:
        return {**one, "assessment": {**seen, **one["assessment"]}} if one.get("assessment") else one

    visits = [
        {**here, **visit, **({"wounds": [entry(one) for one in visit["wounds"]]} if "wounds" in visit else {})}
        for visit in history.visits
    ]
    return in_our_words(History({**history.data, "visits": visits}, history.source), file.words, str(path))
