"""A wound's course; hand over; audit."""

from __future__ import annotations

import base64
import hashlib
import re
from typing import Any

from starlette.responses import HTMLResponse, Response

from woundfhir.audit import Audit
from woundfhir.audit.page import as_html
from woundfhir.audit.tables import as_csv
from woundfhir.checklist.policy import load as policy
from woundfhir.checklist.site import compose
from woundfhir.drawing import clock_face, clock_span, trend_chart
from woundfhir.drawing.clock import clock_words
from woundfhir.errors import InputError
from woundfhir.handover.bundling import bundle
from woundfhir.handover.sheet.page import sheet_html
from woundfhir.handover.summary.client import summary
from woundfhir.handover.summary.questions import missing as unanswered
from woundfhir.jose.encryption import encrypt
from woundfhir.jose.signature import seal
from woundfhir.measures.course import course as course_of
from woundfhir.measures.words import described
from woundfhir.page import texts
from woundfhir.page.listing import row
from woundfhir.page.screens.common import Asked, wound_of
from woundfhir.r4 import jsonio

#: So many clock faces stand side by side.
_FACES = 12
_STYLE = re.compile(rb"<style>(.*?)</style>", re.DOTALL)
_ATTRIBUTE = re.compile(rb'\sstyle="([^"]*)"')


def course(asked: Asked) -> Response:
    """The course of one wound: the chart, and its face at each measurement."""
    one, number = asked.client, int(asked.path["wound"])
    wound = wound_of(asked)
    faces = [
        (entry.visit, clock_words(*_shape(entry)))
        for entry in reversed(wound.entries)
        if entry.answer("assessment.length") or entry.answer("assessment.undermining")
    ]
    found = course_of(one.view(), wound.id)
    words = described(found) if found.points else ""
    return asked.show(
        "course.html", client=one, row=row(one), wound=wound, number=number, faces=faces[:_FACES], words=words
    )


def _shape(entry: Any) -> tuple[Any, ...]:
    return tuple(entry.answer(f"assessment.{key}") for key in ("length", "width", "undermining", "tunnels"))


def chart(asked: Asked) -> Response:
    """The chart as a picture; narrow for a phone, where the wide one could not be read."""
    wound = wound_of(asked)
    found = course_of(asked.client.view(), wound.id)
    size = {"width": 460, "height": 340} if asked.query("narrow") else {}
    return _picture(trend_chart(found, title=texts.say("course.label", wound=wound.id), **size))


def face(asked: Asked) -> Response:
    """The clock face of one visit as a picture; all of one wound to one scale, since the eye compares them."""
    wound = wound_of(asked)
    entry = next((one for one in wound.entries if one.visit.index == int(asked.path["visit"])), None)
    if entry is None:
        raise InputError("the address", "a visit of this wound", "Go back to the course")
    span = max(clock_span(*_shape(one)) for one in wound.entries)
    return _picture(clock_face(*_shape(entry), title=(entry.visit.at or "")[:10], span=span))


def _picture(content: bytes) -> Response:
    return Response(content, media_type="image/svg+xml")


# -- hand over -------------------------------------------------------------------------------------


def over(asked: Asked) -> Response:
    """What is handed over, and what it does not say."""
    one = asked.client
    found = summary(one.history())
    return asked.show("over.html", client=one, row=row(one), gaps=unanswered(found), keys=asked.page.keys)


def sheet(asked: Asked) -> Response:
    """The sheet, on its own page; its style is let in by its hash, and nothing else is."""
    content = sheet_html(asked.client.history(), paper="A4" if asked.query("paper") == "A4" else "letter")
    hashes = [_hash(one) for one in (*_STYLE.findall(content), *_ATTRIBUTE.findall(content))]
    styles = " ".join(dict.fromkeys(hashes))
    allowed = (
        f"default-src 'none'; style-src 'unsafe-hashes' {styles}; font-src data:; img-src data:; "
        "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
    )
    return HTMLResponse(content, headers={"Content-Security-Policy": allowed})


def _hash(style: bytes) -> str:
    from html import unescape

    plain = unescape(style.decode()).encode() if b"&" in style and b"{" not in style else style
    return f"'sha256-{base64.b64encode(hashlib.sha256(plain).digest()).decode()}'"


def document(asked: Asked) -> Response:
    """The FHIR document, to be saved."""
    keys, name, media = asked.page.keys, "wound-history.fhir.json", "application/fhir+json"
    at = None if keys.sign is None else asked.page.now().isoformat(timespec="seconds")
    made = bundle(asked.client.history(), "document", at=at)
    if keys.sign is not None:
        authors = made["entry"][0]["resource"].get("author") or [{"display": "woundfhir"}]
        made = seal(made, keys.sign, when=made["timestamp"], who=authors[0])
    content = jsonio.encode_readable(made)
    if keys.encrypt_for is not None:
        content = encrypt(content, keys.encrypt_for, content_type=media)
        name, media = "wound-history.jwe", "application/jose"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=media, headers=headers)


# -- audit -----------------------------------------------------------------------------------------


def audit(asked: Asked) -> Response:
    """The counts over all clients, as the command line makes them."""
    counted = _counted(asked)
    content = as_html(counted)
    inner = content.partition(b"<main>")[2].partition(b"</main>")[0].decode()
    return asked.show("audit.html", inner=inner.partition("</h1>")[2], some=bool(counted.records))


def audit_table(asked: Asked) -> Response:
    """The same as a table, to be saved."""
    headers = {"Content-Disposition": 'attachment; filename="audit.csv"'}
    return Response(as_csv(_counted(asked)), media_type="text/csv", headers=headers)


def _counted(asked: Asked) -> Audit:
    found = Audit(compose(None), policy(None))
    for one in asked.page.folder.clients():
        try:
            found.take(one.history())
        except InputError:
            found.unread += 1
    return found
