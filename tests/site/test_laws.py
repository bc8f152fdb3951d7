"""Laws of a site's folder: every shape in every group goes to FHIR, CSV and a form and back; a bad file is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import woundfhir
from tests.paths import ROOT
from woundfhir.catalogue import catalogue
from woundfhir.errors import InputError
from woundfhir.fhir import form
from woundfhir.record.shapes import SHAPES

EXAMPLE = (ROOT / "woundfhir" / "site" / "example.toml").read_text("utf-8")
HEAD = 'name = "n"\ntitle = "N"\nbase = "https://n.example"\n'
LIST = '[answers.mine]\ntitle = "Mine"\nwords = [{word = "red one"}, {word = "blue one"}]\n'
FIELDS = '[concepts.%s.fields.inner]\nlabel = "Inner"\nshape = "text"\n'
ANSWERS: dict[str, Any] = {
    "text": "as it is", "choice": "red one", "choices": ["red one", "another"], "flag": "yes", "clock": "4",
    "date": "2026-03", "score": "3", "count": "2", "quantity": "1.50 cm", "interval": "2 d",
    "share": {"red one": "60 %", "blue one": "40 %"}, "group": {"inner": "x"}, "step": {"inner": "x"},
}  # fmt: skip
GROUPS = ("wound", "visit", "client", "assessment", "care", "supply", "plan", "photo")


def element(group: str, shape: str) -> str:
    """The table of a data element of a site, named by its shape."""
    more = 'unit = "cm"\nunits = ["cm", "d"]\n' if shape in ("quantity", "interval") else ""
    more += 'answers = "mine"\n' if shape in ("choice", "choices", "share") else ""
    more += FIELDS % f"{group}.own_{shape}" if shape in ("group", "step") else ""
    return f'[concepts.{group}.own_{shape}]\nlabel = "Own {shape}"\nshape = "{shape}"\n{more}'


def may_be_refused(group: str, shape: str) -> bool:
    beside = group in ("wound", "visit", "supply", "photo") and shape in ("group", "step", "share")
    return beside or (shape == "step" and group != "care")


def note(group: str, shape: str, answer: Any) -> dict[str, Any]:
    entry: dict[str, Any] = {"wound": "W1", "assessment": {"odour": "none"}}
    wound: dict[str, Any] = {"id": "W1", "kind": "venous leg ulcer", "status": "open"}
    visit: dict[str, Any] = {"id": "V1", "at": "2026-03-02T10:00-05:00", "status": "final", "wounds": [entry]}
    holder = {"wound": wound, "visit": visit, "client": visit.setdefault("client", {})}.get(group)
    if group == "supply":
        entry["supplies"] = [holder := {"item": "gauze"}]
    elif group == "photo":
        entry["photos"] = [holder := {"file": "a.jpg"}]
    elif holder is None:
        holder = entry.setdefault(group, {})
    holder[f"own_{shape}"] = answer
    patient = {"identifiers": [{"system": "https://n.example/clients", "value": "1"}], "born": "1948"}
    return {"woundfhir": 1, "patient": patient, "wounds": [wound], "visits": [visit]}


@pytest.mark.parametrize("group", GROUPS)
def test_every_shape_in_every_group_goes_there_and_back(tmp_path: Path, group: str) -> None:
    """One site a group: to let it hold takes longer than what is asked of one shape."""
    shapes = [shape for shape in sorted(SHAPES) if not may_be_refused(group, shape)]
    assert len(shapes) > 9
    (tmp_path / "site.toml").write_text(HEAD + LIST + "".join(element(group, shape) for shape in shapes), "utf-8")
    with woundfhir.Site(tmp_path):
        for shape in shapes:
            goes_there_and_back(group, shape)


@pytest.mark.parametrize(
    ("group", "shape"), [(group, shape) for group in GROUPS for shape in sorted(SHAPES) if may_be_refused(group, shape)]
)
def test_a_shape_that_may_be_refused_is_or_goes_there_and_back(tmp_path: Path, group: str, shape: str) -> None:
    (tmp_path / "site.toml").write_text(HEAD + LIST + element(group, shape), "utf-8")
    try:
        site = woundfhir.Site(tmp_path)
    except InputError:
        return
    with site:
        goes_there_and_back(group, shape)


def goes_there_and_back(group: str, shape: str) -> None:
    for answer in (ANSWERS[shape], {"absent": "not assessed"}):
        history = woundfhir.History.of(note(group, shape, answer))
        assert history.extra == [], shape
        resources = woundfhir.to_fhir(history)
        assert [one for one in woundfhir.validate(resources) if one.severity != "warning"] == [], shape
        assert woundfhir.from_fhir(resources).history.data == history.data, shape
        assert woundfhir.loads(woundfhir.dumps(history, format="csv")).data == history.data, shape
        woundfhir.check(history)
        filled = form.write_response(history, "V1", "W1")
        if group != "photo":  # a form asks for no photo
            data = woundfhir.from_fhir([filled]).history.data
            assert f"own_{shape}" in msgspec.json.encode(data).decode(), shape


@pytest.mark.property
@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_a_file_is_a_site_or_gets_one_message(tmp_path: Path, data: st.DataObject) -> None:
    lines = EXAMPLE.splitlines()
    values = ('""', "1", "[]", "{}", '"x"', "true", '["x", "x"]', '"é\\u0000"')
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(lines) - 1))
        change = data.draw(st.sampled_from(("out", "twice", "cut", "value", "key")))
        if change == "out":
            del lines[at]
        elif change == "twice":
            lines.insert(at, lines[at])
        elif change == "cut":
            lines[at] = lines[at][: data.draw(st.integers(0, 20))]
        elif change == "value":
            key = lines[at].partition("=")[0]
            lines[at] = f"{key}= {data.draw(st.sampled_from(values))}"
        else:
            lines[at] = lines[at].replace("a", "e", 1)
        lines = lines or [""]
    (tmp_path / "site.toml").write_text("\n".join(lines), "utf-8")
    try:
        woundfhir.Site(tmp_path)
    except InputError as error:
        assert "site.toml" in str(error)
    assert catalogue().site is None
