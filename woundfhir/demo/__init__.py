"""The invented story that ``woundfhir demo`` writes: one client, two wounds, eight visits over five weeks."""

from __future__ import annotations

from importlib.resources import files


def story() -> bytes:
    """Return the story as a record in YAML.

    Examples
    --------
    >>> story().startswith(b"# An invented story")
    True
    """
    return (files("woundfhir.demo") / "story.yaml").read_bytes()
