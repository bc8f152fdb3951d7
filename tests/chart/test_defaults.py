"""What never changes at a site: filled in where a note says nothing, and nowhere else."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.checklist.samples import entry, record, visit
from woundfhir.chart.defaults import answers, filled, read
from woundfhir.errors import InputError

FILE = 'setting = "home"\nmeasure_method = "ruler"\nmeasure_axis = "head to toe"\nexudate_scale = "none to large"\n'


def test_each_answer_stands_where_it_is_asked_for_and_only_where_nothing_is_written(tmp_path: Path) -> None:
    path = tmp_path / "defaults.toml"
    path.write_text(FILE, "utf-8")
    assert answers(read(path)) == {
        "visit.setting": "home",
        "assessment.measure_method": "ruler",
        "assessment.measure_axis": "head to toe",
        "assessment.exudate_scale": "none to large",
    }
    seen = entry(assessment={"length": "3 cm", "measure_method": "tracing"})
    given = record(visit(seen), visit(entry(care={"cleansing": "none"}), setting="clinic"), {"note": "advice"})
    before = given.json()
    first, second, third = filled(given, path).visits
    assert given.json() == before
    assert first["setting"] == third["setting"] == "home" and second["setting"] == "clinic"
    assert first["wounds"][0]["assessment"] == {
        "length": "3 cm",
        "measure_method": "tracing",
        "measure_axis": "head to toe",
        "exudate_scale": "none to large",
    }
    # How a wound is measured belongs to a note that assesses it.
    assert "assessment" not in second["wounds"][0] and "wounds" not in third


@pytest.mark.parametrize("text", ["length = '3 cm'", "setting = 3", "setting = "])
def test_what_must_be_seen_anew_cannot_stand_in_it(tmp_path: Path, text: str) -> None:
    (tmp_path / "defaults.toml").write_text(text, "utf-8")
    with pytest.raises(InputError):
        read(tmp_path / "defaults.toml")
