"""A real server's terminology operations: HAPI FHIR with a small code system of our own, its tree invented."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.servers.lane import hapi
from woundfhir.server.connection import Connection
from woundfhir.server.terminology import at

pytestmark = pytest.mark.server
SYSTEM = "https://codes.example/wounds"


def test_hapi_answers_the_three_operations(tmp_path: Path) -> None:
    concept = {
        "code": "wound",
        "display": "Wound",
        "concept": [{"code": "burn", "display": "Burn", "concept": [{"code": "scald", "display": "Scald"}]}],
    }
    system = {
        "resourceType": "CodeSystem",
        "id": "wounds",
        "url": SYSTEM,
        "status": "active",
        "content": "complete",
        "hierarchyMeaning": "is-a",
        "concept": [concept, {"code": "cough", "display": "Cough"}],
    }
    said: list[str] = []
    with hapi() as (base, _):
        loading = Connection(base)
        assert loading.send("PUT", "CodeSystem/wounds", system).status in (200, 201)
        loading.close()
        server = at(base, said.append, tmp_path)
        assert server.validate(SYSTEM, "scald") == (True, base)
        assert server.validate(SYSTEM, "none") == (False, base)
        found = server.lookup(SYSTEM, "scald")
        assert found is not None and (found.display, found.source) == ("Scald", base)
        assert server.lookup(SYSTEM, "none") is None
        assert server.lookup("https://codes.example/unknown", "1") is None
        assert server.subsumes(SYSTEM, "wound", "scald") == (True, base)
        assert server.subsumes(SYSTEM, "scald", "wound") == (False, base)
        assert server.subsumes(SYSTEM, "wound", "cough") == (False, base)
        server.close()
    again = at(base, said.append, tmp_path)  # the server is gone; what it said is kept
    kept = again.subsumes(SYSTEM, "wound", "scald")
    assert kept is not None and kept[0] and kept[1].startswith(f"{base}, answer of ")
    assert said == []
    assert again.subsumes(SYSTEM, "burn", "scald") is None
    assert len(said) == 1
    again.close()
