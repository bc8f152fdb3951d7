"""The guide behind Help: the pages that ``woundfhir guide`` shows, served as they are."""

from __future__ import annotations

from starlette.responses import Response

from woundfhir.errors import InputError
from woundfhir.guide import site
from woundfhir.page.screens.common import Asked
from woundfhir.web.guard import Refused


def guide(asked: Asked) -> Response:
    """A page of the guide, its style, a font or a picture."""
    try:
        content, media = site.file(asked.path["name"], back="/")
    except InputError:
        raise Refused(404, "the address", "a page of the guide", "Go back to the list") from None
    return Response(content, media_type=media)
