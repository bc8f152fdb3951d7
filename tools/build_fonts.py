"""Write the fonts of the printed sheet from the files of their package, or check that they are what they should be.

    python tools/build_fonts.py            # write
    python tools/build_fonts.py --check    # exit 1 and name the files that differ

``tools/fonts/`` holds four files of the npm package ``@fontsource/atkinson-hyperlegible-next`` 5.3.0 as they are
(SIL Open Font License 1.1, no reserved font name): Latin and extended Latin, regular and bold. Here the two parts of
each weight become one font, and what a printed sheet does not use is left out: hinting, and the layout features other
than kerning, marks, local forms and figures of one width.

Needs fontTools with Brotli: ``pip install "fonttools[woff]"`` (the extra ``pdf`` brings both).
"""

from __future__ import annotations

import argparse
import io
import shutil
import sys
from pathlib import Path

from fontTools import merge, subset
from fontTools.ttLib import TTFont

ROOT = Path(__file__).resolve().parents[1]
SOURCES = ROOT / "tools" / "fonts"
FOLDER = ROOT / "woundfhir" / "handover" / "sheet" / "fonts"
LICENCE = "OFL.txt"
#: Name of the file -> weight in the package's names.
FONTS = {"regular.woff2": "400", "bold.woff2": "700"}
#: A fixed day for the fonts' own dates, so that two runs give the same bytes: seconds since 1904.
_EPOCH = 3786912000
_FEATURES = ["ccmp", "kern", "locl", "mark", "mkmk", "tnum"]


def built(weight: str) -> TTFont:
    """Return one weight with all its characters and nothing that the sheet does not use."""
    parts = []
    for part in ("latin", "latin-ext"):
        font = TTFont(SOURCES / f"atkinson-hyperlegible-next-{part}-{weight}-normal.woff2", recalcTimestamp=False)
        font.flavor = None
        plain = io.BytesIO()
        font.save(plain)
        plain.seek(0)
        parts.append(plain)
    font = merge.Merger(merge.Options(drop_tables=["prep", "STAT", "gasp"])).merge(parts)
    options = subset.Options(layout_features=_FEATURES, hinting=False, name_IDs=["*"], notdef_outline=True)
    subsetter = subset.Subsetter(options)
    subsetter.populate(unicodes=font.getBestCmap())
    subsetter.subset(font)
    font.recalcTimestamp = False
    font["head"].created = font["head"].modified = _EPOCH
    return font


def packed(font: TTFont) -> bytes:
    """Return a font as WOFF2."""
    made = io.BytesIO()
    font.flavor = "woff2"
    font.save(made)
    return made.getvalue()


def tables(content: bytes) -> dict[str, bytes]:
    """Return the tables of a WOFF2 file uncompressed: two versions of a compressor agree on these."""
    font = TTFont(io.BytesIO(content), recalcTimestamp=False)
    return {tag: font.getTableData(tag) for tag in font.keys() if tag != "GlyphOrder"}  # noqa: SIM118 (no mapping)


def differences() -> list[str]:
    """Return the names of the files that are missing or not what this tool makes."""
    changed = []
    for name, weight in FONTS.items():
        path = FOLDER / name
        if not path.is_file() or tables(path.read_bytes()) != tables(packed(built(weight))):
            changed.append(name)
    licence = FOLDER / LICENCE
    if not licence.is_file() or licence.read_bytes() != (SOURCES / LICENCE).read_bytes():
        changed.append(LICENCE)
    return changed


def main() -> int:
    """Run the command; return the exit code."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--check", action="store_true", help="write nothing; exit 1 where a font differs")
    if not parser.parse_args().check:
        FOLDER.mkdir(exist_ok=True)
        for name, weight in FONTS.items():
            (FOLDER / name).write_bytes(packed(built(weight)))
        shutil.copyfile(SOURCES / LICENCE, FOLDER / LICENCE)
        return 0
    changed = differences()
    for name in changed:
        print(f"{FOLDER.name}/{name}: not what tools/build_fonts.py makes; run it", file=sys.stderr)
    return 1 if changed else 0


if __name__ == "__main__":
    sys.exit(main())
