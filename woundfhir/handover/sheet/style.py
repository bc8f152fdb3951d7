"""The sheet's style: its font, the paper, and what stands at the edge of every page."""

from __future__ import annotations

import base64
from functools import cache
from importlib.resources import files

from woundfhir.errors import InputError
from woundfhir.handover.texts import say

#: Paper by the name of the option; Letter first, as in Canada.
PAPERS = ("letter", "A4")
FAMILY = "Atkinson Hyperlegible Next"
_WEIGHTS = {"regular": "400", "bold": "700"}


def style(client: str, as_of: str, paper: str) -> str:
    """Return the style sheet of one client's sheet.

    Parameters
    ----------
    client
        The client's name and number, for the head of every page after the first, which shows them large.
    as_of
        What the sheet is and of which day, for the foot of every page.
    paper
        One of ``PAPERS``.

    Raises
    ------
    InputError
        For another paper.

    Examples
    --------
    >>> "size: letter" in style("Example, Ann, 0417", "As of 2026-04-05", "letter")
    True
    """
    if paper not in PAPERS:
        raise InputError("--paper", f"one of {', '.join(PAPERS)}", "Choose one of them")
    common = (files("woundfhir.handover.sheet") / "sheet.css").read_text("utf-8")
    return f"{_fonts()}{_edges(client, as_of, paper)}{common}"


@cache
def _fonts() -> str:
    """The font inside the style sheet: the sheet is one file, and looks the same on every machine."""
    rules = []
    for name, weight in _WEIGHTS.items():
        content = (files("woundfhir.handover.sheet") / "fonts" / f"{name}.woff2").read_bytes()
        source = f"url(data:font/woff2;base64,{base64.b64encode(content).decode()}) format('woff2')"
        rules.append(f"@font-face {{ font-family: '{FAMILY}'; font-weight: {weight}; src: {source} }}\n")
    return "".join(rules)


def _edges(client: str, as_of: str, paper: str) -> str:
    """Margin boxes (CSS Paged Media): a page that falls out of the stack still says whose it is."""
    size = "letter" if paper == "letter" else "A4"
    before, _, rest = say("sheet.page", number="{}", all="{}").partition("{}")
    between, _, after = rest.partition("{}")
    number = f"{quoted(before)} counter(page) {quoted(between)} counter(pages) {quoted(after)}".removesuffix(' ""')
    return (
        f"@page {{ size: {size}; "
        f"@top-left {{ content: {quoted(client)} }} "
        f"@bottom-left {{ content: {quoted(as_of)} }} "
        f"@bottom-right {{ content: {number} }} }}\n"
        "@page :first { @top-left { content: none; border: 0 } @top-right { content: none; border: 0 } }\n"
    )


def quoted(words: str) -> str:
    """Return words as a CSS string; whatever could end it, or end the style sheet, is written as a code.

    Examples
    --------
    >>> print(quoted('O"Brien </style>'))
    "O\\22 Brien \\3c \\2f style\\3e "
    """
    return '"' + "".join(c if c.isalnum() or c in " ,.-" else f"\\{ord(c):x} " for c in words) + '"'
