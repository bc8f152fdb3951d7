"""A program of its own: HTML of the sheet from standard input, PDF to standard output.

Run by ``pdf.py`` in a process of its own, because the libraries below WeasyPrint can end the whole process (Pango
does, on a machine without fonts). It imports nothing of this package.
"""

from __future__ import annotations

import os
import sys
import tempfile
from io import BytesIO
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

#: Exit code where WeasyPrint cannot be imported.
NOT_INSTALLED = 69
#: Last line on standard error, with a number, where characters have no glyph.
MISSING = "characters without a glyph:"


def main() -> None:
    """Render; the font files are named on the command line."""
    out = sys.stdout.fileno()
    keep = os.dup(out)
    os.dup2(sys.stderr.fileno(), out)  # what a library prints must not get into the PDF
    page = sys.stdin.buffer.read().decode()
    with tempfile.TemporaryDirectory() as folder:
        made, missing = _render(page, _fonts(sys.argv[1:], Path(folder)))
    if missing:
        print(f"{MISSING} {missing}", file=sys.stderr)
    with os.fdopen(keep, "wb") as file:
        file.write(made)


def _fonts(names: list[str], folder: Path) -> list[bytes]:
    """Make the sheet's fonts the first fonts of the machine, and return them as TrueType.

    ``@font-face`` alone is not enough: on a machine without fonts Pango ends the process at the first character that
    the font does not hold. The machine's own fonts, where there are any, stand in for such characters.
    """
    from fontTools.ttLib import woff2

    plain = []
    for place, name in enumerate(names):
        out = BytesIO()
        woff2.decompress(name, out)
        plain.append(out.getvalue())
        (folder / f"{place}.ttf").write_bytes(plain[-1])
    before = os.environ.get("FONTCONFIG_FILE") or "/etc/fonts/fonts.conf"
    (folder / "fonts.conf").write_text(
        f'<?xml version="1.0"?><fontconfig><dir>{escape(str(folder))}</dir>'
        f'<include ignore_missing="yes">{escape(before)}</include>'
        f"<cachedir>{escape(str(folder / 'cache'))}</cachedir></fontconfig>",
        "utf-8",
    )
    os.environ["FONTCONFIG_FILE"] = str(folder / "fonts.conf")
    return plain


def _render(page: str, ours: list[bytes]) -> tuple[bytes, int]:
    """Return the PDF, and how many characters no font holds: they stand as boxes."""
    try:
        import weasyprint
        from weasyprint.pdf import fonts
        from weasyprint.urls import URLFetcher
    except (ImportError, OSError):  # OSError: Pango or another library of the system is missing
        sys.exit(NOT_INSTALLED)
    cut_down = fonts.Font.subset
    missing: set[int] = set()

    def keep_ours_whole(font: Any, *options: Any) -> None:
        # WeasyPrint cuts fonts down with HarfBuzz where it finds that library and with fontTools where it does not,
        # and the two write different bytes. The sheet's own fonts are small already. (The option ``full_fonts`` keeps
        # them whole too, but then the text of figures of one width cannot be copied or read aloud.)
        missing.update(font.missing)
        if font.file_content not in ours:
            cut_down(font, *options)

    fonts.Font.subset = keep_ours_whole
    fetcher = URLFetcher(allowed_protocols=["data"], fail_on_errors=True)  # the font; nothing from outside
    document = weasyprint.HTML(string=page, url_fetcher=fetcher)
    made: bytes = document.write_pdf(pdf_identifier=b"woundfhir", pdf_variant="pdf/ua-1")
    return made, len(missing)


if __name__ == "__main__":
    main()
