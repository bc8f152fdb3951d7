"""The sheet that goes with the client: one HTML file to print, or the same as PDF.

The first page shows what calls for attention and answers the ten questions of a transfer; then at most two pages a
wound, then what else is charted about the client. The same history gives the same bytes: no clock, no file from
outside, no script; the font stands in the file.
"""

from __future__ import annotations

from typing import Any

from lxml import etree

from woundfhir.chart import counting
from woundfhir.handover.sheet.cautions import cautions
from woundfhir.handover.sheet.first import first_page
from woundfhir.handover.sheet.parts import client_name, client_numbers, cut, keep_dates_whole
from woundfhir.handover.sheet.pdf import to_pdf
from woundfhir.handover.sheet.style import style
from woundfhir.handover.sheet.wound import client_page, wound_pages
from woundfhir.handover.summary.client import summary
from woundfhir.handover.summary.words import short
from woundfhir.handover.texts import say
from woundfhir.language import speaking, spoken
from woundfhir.r4.narrative import element
from woundfhir.record import History

Json = Any


def sheet_html(
    history: History, *, language: str | None = None, policy: str | None = None, paper: str = "letter"
) -> bytes:
    """Return the sheet as one HTML file.

    Parameters
    ----------
    history
        One client's record; see ``gather`` for a part of it.
    language
        ``en`` or ``fr-CA``; without it the language that holds. Words of the nurse's own stay as they are written.
    policy
        Policy whose cut-offs and cautions are used.
    paper
        ``letter`` or ``A4``, for those who print it.

    Returns
    -------
    bytes
        UTF-8, well-formed as HTML and as XML. The client's name is not in the title.

    Examples
    --------
    >>> from woundfhir.record import History
    >>> sheet_html(History.of({"woundfhir": 1, "patient": {}}))[:34]
    b'<!DOCTYPE html>\\n<html xmlns="http:'
    """
    with speaking(language or spoken()):
        return _sheet(history, policy, paper)


def _sheet(history: History, policy: str | None, paper: str) -> bytes:
    title = say("sheet.title")
    given = summary(history)
    notes = counting(history)
    asked = cautions(notes, policy, given.attention)
    main = element("main", *first_page(given, history.patient))
    for wound in given.open_wounds:
        main.append(wound_pages(given, wound, notes, asked.get(wound.id, ()), policy))
    main.extend(client_page(given))
    keep_dates_whole(main)
    client = ", ".join(part for part in (client_name(history.patient), client_numbers(history.patient)) if part)
    as_of = say("sheet.title_as_of", title=title, day=short(given.at)) if given.at else title
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("title", title),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="generator", content="woundfhir"),
        *([element("meta", name="dcterms.created", content=given.at)] if given.at else []),
        element("style", style(cut(client, 90) or say("sheet.client_missing"), as_of, paper)),
    )
    page = element("html", head, element("body", main), lang=spoken().tag)
    return b"<!DOCTYPE html>\n" + etree.tostring(_open_tags(page), encoding="UTF-8", xml_declaration=False) + b"\n"


def _open_tags(page: etree._Element) -> etree._Element:
    """Give empty elements an end tag: HTML knows no ``<td/>``."""
    for found in page.iter(etree.Element):
        if found.text is None and not len(found) and etree.QName(found).localname not in ("meta", "br", "hr", "img"):
            found.text = ""
    return page


def sheet_pdf(
    history: History, *, language: str | None = None, policy: str | None = None, paper: str = "letter"
) -> bytes:
    """Return the sheet as PDF, with tags for screen readers.

    Parameters
    ----------
    history, language, policy, paper
        As for ``sheet_html``.

    Raises
    ------
    InputError
        For another paper, and when WeasyPrint (the extra ``pdf``) is not installed or fails.
    """
    return to_pdf(sheet_html(history, language=language, policy=policy, paper=paper))
