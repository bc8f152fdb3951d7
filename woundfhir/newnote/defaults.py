"""What never changes at a site (setting, how wounds are measured, the scale): a TOML file that new notes begin with."""

from __future__ import annotations

from pathlib import Path

from pydantic import Field

from woundfhir.newnote.asked import data
from woundfhir.newnote.carried import Carried
from woundfhir.site_file import SiteModel, SiteText, load_toml, read_text


class DefaultsFile(SiteModel):
    """The file: each key is optional, and no other is taken, so that nothing that must be seen anew can stand in it."""

    setting: SiteText | None = Field(None, description="where clients are seen, a text in quotes")
    measure_method: SiteText | None = Field(None, description="what wounds are measured with, a text in quotes")
    measure_axis: SiteText | None = Field(None, description="along which axes, a text in quotes")
    exudate_scale: SiteText | None = Field(None, description="the scale of exudate amounts, a text in quotes")


def with_defaults(carried: Carried | None, path: str | Path) -> Carried:
    """Return what a new note begins with, a site's defaults where the last notes say nothing.

    Raises
    ------
    InputError
        For a file that is none, or holds another key.
    """
    file = load_toml(read_text(path, "defaults", ("defaults.toml",)), DefaultsFile, str(path), "note")
    out = carried or Carried()
    mark = str(data()["texts"]["site"])
    for key, value in file.model_dump(exclude_none=True).items():
        group = "visit" if key == "setting" else "assessment"
        out.answers.setdefault(f"{group}.{key}", (value, mark))
    return out
