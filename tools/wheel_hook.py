"""A hook of the build (hatchling): what a wheel has that a checkout has not.

The definitions of ``profiles/`` go in as one archive: as files they take 11 MB of every installation, so 1.5 MB. Names
are sorted and times are zero, so that the same definitions give the same bytes. A checkout reads the files themselves
(``woundfhir/shipped.py``).

The man pages are made of what ``--help`` says (``woundfhir/guide/man.py``) and lie where ``man`` looks for them,
``share/man/man1``. For this alone the build needs click and msgspec.
"""

from __future__ import annotations

import sys
import tempfile
import zipfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class WheelHook(BuildHookInterface[Any]):
    """Makes the archive and the man pages before the wheel is made."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Give them to the wheel, unless it only points at this checkout."""
        if version == "editable":
            return
        self._place = tempfile.TemporaryDirectory()
        place, root = Path(self._place.name), Path(self.root)
        pack(root / "profiles", place / "profiles.zip")
        build_data["force_include"][str(place / "profiles.zip")] = "woundfhir/profiles.zip"
        for name, content in man_pages(root).items():
            (place / name).write_bytes(content)
            build_data["shared_data"][str(place / name)] = f"share/man/man1/{name}"

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        """Take away what was made."""
        if version != "editable":
            self._place.cleanup()


def pack(folder: Path, out: Path) -> None:
    """Write the files of a folder into an archive, whose bytes depend on their names and contents alone."""
    with zipfile.ZipFile(out, "w") as packed:
        for path in sorted(one for one in folder.rglob("*") if one.is_file()):
            info = zipfile.ZipInfo(path.relative_to(folder).as_posix())
            info.external_attr = 0o644 << 16
            packed.writestr(info, path.read_bytes(), zipfile.ZIP_DEFLATED, compresslevel=9)


def man_pages(root: Path) -> dict[str, bytes]:
    """Return the man pages of the checkout; they are in English whatever is set where it is built."""
    sys.path.insert(0, str(root))
    from woundfhir.guide.man import man_pages

    return man_pages()
