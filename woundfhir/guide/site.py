"""The guide as HTML: one file a page, a style sheet, fonts and pictures; nothing from elsewhere, and no script."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from html import escape
from importlib.resources import files
from string import Template
from typing import Any

from markdown_it import MarkdownIt
from markdown_it.token import Token

from woundfhir import __version__
from woundfhir.errors import InputError
from woundfhir.guide.book import HOME, Page, book

_PACKAGE = "woundfhir.guide"
_FONTS = ("regular.woff2", "bold.woff2")
_SUFFIX = ".html"
_MEDIA = {"css": "text/css", "woff2": "font/woff2", "png": "image/png", "svg": "image/svg+xml"}


def html_files() -> Iterator[tuple[str, bytes]]:
    """Yield the path and content of every file of the site.

    Examples
    --------
    >>> next(html_files())[0]
    'index.html'
    """
    for page in book().values():
        yield f"{page.name}{_SUFFIX}", html_page(page).encode()
    yield "guide.css", asset("guide.css")
    for name in _FONTS:
        yield f"fonts/{name}", asset(name)
    for name in pictures():
        yield f"pictures/{name}", asset(name)


def file(path: str, *, back: str = "") -> tuple[bytes, str]:
    """Return one file of the site, for a program that serves it, with its media type.

    Parameters
    ----------
    back
        An address; where it is given, each page begins with a link to it.

    Raises
    ------
    InputError
        For a file that the site does not have.

    Examples
    --------
    >>> file("rules/PK03.html")[1], file("guide.css")[1]
    ('text/html', 'text/css')
    """
    found = book().get(path.removesuffix(_SUFFIX))
    if found is not None:
        return html_page(found, back=back).encode(), "text/html"
    folder, _, name = path.rpartition("/")
    media = _MEDIA.get(name.rpartition(".")[2])
    known = {"": ["guide.css"], "fonts": _FONTS, "pictures": pictures()}
    if media is None or name not in known.get(folder, ()):
        raise InputError("the address", "a page of the guide", "Go back to the contents")
    return asset(name), media


def pictures() -> list[str]:
    """Return the names of the pictures."""
    return sorted(one.name for one in (files(_PACKAGE) / "pictures").iterdir() if one.name.endswith((".png", ".svg")))


def asset(name: str) -> bytes:
    """Return a style sheet, a font (that of the printed sheet) or a picture."""
    if name in _FONTS:
        return (files("woundfhir.handover.sheet") / "fonts" / name).read_bytes()
    return (files(_PACKAGE) / ("assets" if name == "guide.css" else "pictures") / name).read_bytes()


def html_page(page: Page, *, back: str = "") -> str:
    """Return a page as HTML; ``back`` as for ``file``."""
    up = "../" * page.name.count("/")
    title = page.title if page.name == HOME else f"{page.title} - woundfhir guide"
    return Template((files(_PACKAGE) / "assets" / "page.html").read_text("utf-8")).substitute(
        title=escape(title),
        up=up,
        home=f"{up}{HOME}{_SUFFIX}",
        back=f'<a class="back" href="{escape(back)}">Back to your work</a>' if back else "",
        section=escape(page.section),
        body=_body(page.make(), up),
        contents=_contents(page, up),
        version=escape(__version__),
    )


def _contents(page: Page, up: str) -> str:
    """The list of all pages beside a page, its own marked."""
    out, section = [], ""
    for one in book().values():
        if not one.listed or one.name == HOME:
            continue
        if one.section != section:
            out.append(f"{'</ul>' if section else ''}<h2>{escape(one.section)}</h2><ul>")
            section = one.section
        mark = ' aria-current="page"' if one.name == page.parent else ""
        out.append(f'<li><a href="{up}{one.name}{_SUFFIX}"{mark}>{escape(one.title)}</a></li>')
    return "\n".join((*out, "</ul>"))


# -- Markdown ------------------------------------------------------------------------------------------


@cache
def _parser() -> MarkdownIt:
    made = MarkdownIt("commonmark", {"html": False}).enable("table")
    for name, rule in (("fence", _fence), ("table_open", _table_open), ("table_close", _table_close)):
        made.add_render_rule(name, rule)
    return made


def tokens(markdown: str) -> list[Token]:
    """Return the tokens of a page, each heading with its anchor."""
    found = _parser().parse(markdown)
    taken: dict[str, int] = {}
    for number, token in enumerate(found):
        if token.type == "heading_open":
            anchor = slug(found[number + 1].content)
            taken[anchor] = taken.get(anchor, 0) + 1
            token.attrs["id"] = anchor if taken[anchor] == 1 else f"{anchor}-{taken[anchor]}"
    return found


def slug(heading: str) -> str:
    """Return the anchor of a heading.

    Examples
    --------
    >>> slug("To FHIR, and `back`")
    'to-fhir-and-back'
    """
    return re.sub(r"[^a-z0-9]+", "-", heading.casefold()).strip("-")


def _body(markdown: str, up: str) -> str:
    parser = _parser()
    found = tokens(markdown)
    for token in found:
        for inner in token.children or ():
            if inner.type == "link_open":
                inner.attrs["href"] = _address(str(inner.attrs["href"]), up)
            elif inner.type == "image":
                inner.attrs["src"] = up + str(inner.attrs["src"]).removeprefix("../")
    return str(parser.renderer.render(found, parser.options, {}))


def _address(href: str, up: str) -> str:
    name, mark, anchor = href.partition("#")
    return f"{up}{name.removesuffix('.md')}{_SUFFIX}{mark}{anchor}" if name.endswith(".md") else href


def _fence(_: Any, found: list[Token], number: int, options: Any, env: Any) -> str:
    """A block of code: what is typed stands out from what is answered; a file has its name above it."""
    kind, _, name = found[number].info.strip().partition(" ")
    text = found[number].content
    if kind == "console":
        lines = (
            f"<b>{escape(line)}</b>" if line.startswith(("$ ", "> ")) else escape(line) for line in text.splitlines()
        )
        inner = "\n".join(lines) + "\n"
    else:
        inner = escape(text)
    head = f'<p class="file">{escape(name)}</p>' if name and kind != "console" else ""  # "running" is for the tests
    label = f"{kind} {name}".strip() if kind != "output" else "output"
    return f'{head}<pre class="{kind or "text"}" tabindex="0" role="group" aria-label="{escape(label)}">{inner}</pre>\n'


def _table_open(_: Any, found: list[Token], number: int, options: Any, env: Any) -> str:
    head = found[number + 1 : number + 8]
    bare = next((one for one in head if one.type == "inline"), None)
    kind = "facts" if bare is not None and not bare.content else "list"
    return f'<div class="wide" tabindex="0" role="group" aria-label="table"><table class="{kind}">\n'


def _table_close(_: Any, found: list[Token], number: int, options: Any, env: Any) -> str:
    return "</table></div>\n"
