"""The sheet as PDF, made in a process of its own: a crash there is a message here."""

from __future__ import annotations

import logging
import subprocess
import sys
from contextlib import ExitStack
from importlib.resources import as_file, files

from woundfhir.errors import InputError
from woundfhir.extras import need
from woundfhir.handover.sheet.render import MISSING, NOT_INSTALLED

_LOG = logging.getLogger(__name__)
_SECONDS = 300
_PRINT = "Or write the sheet as .html and print it from a browser"


def need_weasyprint() -> None:
    """Raise ``InputError`` where WeasyPrint (the extra ``pdf``) is not installed."""
    need("pdf", "the sheet as PDF", _PRINT)


def to_pdf(page: bytes) -> bytes:
    """Return the HTML of a sheet as PDF, with tags for screen readers.

    Parameters
    ----------
    page
        What ``sheet_html`` returns.

    Raises
    ------
    InputError
        When WeasyPrint is not installed, and when it fails, however it ends.
    """
    need_weasyprint()
    here = files("woundfhir.handover.sheet")
    with ExitStack() as stack:
        program = stack.enter_context(as_file(here / "render.py"))
        fonts = [stack.enter_context(as_file(here / "fonts" / f"{name}.woff2")) for name in ("regular", "bold")]
        # -P: the folder of the program holds modules that must not be taken for others of the same name.
        command = [sys.executable, "-P", str(program), *map(str, fonts)]
        try:
            run = subprocess.run(command, input=page, capture_output=True, timeout=_SECONDS, check=False)
        except subprocess.TimeoutExpired:
            raise InputError("the sheet as PDF", f"a rendering within {_SECONDS} seconds", _PRINT) from None
        except OSError:
            raise InputError("the sheet as PDF", "a process that could be started", _PRINT) from None
    if run.returncode == NOT_INSTALLED:
        raise InputError("the sheet as PDF", "the library Pango, on which WeasyPrint rests", f"Install Pango. {_PRINT}")
    if run.returncode != 0 or not run.stdout.startswith(b"%PDF"):
        # What the process printed may hold words of the record: only how it ended is shown.
        ended = f"signal {-run.returncode}" if run.returncode < 0 else f"exit code {run.returncode}"
        raise InputError("the sheet as PDF", f"a rendering that ends well; it ended with {ended}", _PRINT)
    last = run.stderr.decode(errors="replace").strip().rpartition("\n")[2]
    if last.startswith(MISSING):
        number = last.removeprefix(MISSING).strip()
        _LOG.warning("The sheet holds %s characters that no font here has: they print as boxes. %s.", number, _PRINT)
    return run.stdout
