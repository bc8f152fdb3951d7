"""What a stranger meets first: three files from three places, a note by hand, a table in a style of its own.

The inputs were written before anybody looked at the code, and what was said to them was no help; now it is.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

CARD = "urn:example:health-card"
PATIENT = {"identifiers": [{"system": CARD, "value": "0417"}], "name": {"family": "Example"}, "born": "1939-10-04"}
#: Columns as a program's export calls them.
EXPORT = """MRN,Surname,DOB,Visit_Dt,Visit_Tm,Wnd_No,Anat_Loc,Len_mm,wid_mm,Gran_pct,Exud_Amt,Malodour,Prim_Drsg,dsg2
1,A,1941-07-30,03-Mar-2026,0915,1,heel,42,30,80,moderate,Y,foam dressing,
1,A,1941-07-30,05-Mar-2026,1030,1,heel,40,28,70,scant,N,foam dressing,
2,B,1942-07-30,05-Mar-2026,1030,1,heel,40,28,70,huge,?!,foam dressing,
2,B,1942-07-30,06-Mar-2026,1030,1,heel,40,28,70,scant,?!,foam dressing,
2,B,1942-07-30,07-Mar-2026,1030,1,heel,40,28,70,scant,?!,foam dressing,
"""


def _record(path: Path, wound: str, kind: str, visit: str) -> Path:
    made = {"id": visit, "at": f"2026-03-{visit[1:]}T08:00-05:00", "status": "final", "wounds": [{"wound": wound}]}
    made["wounds"][0]["assessment"] = {"length": "5.1 cm"}  # type: ignore[index]
    wounds = [{"id": wound, "kind": kind, "site": "sacrum"}]
    path.write_text(json.dumps({"woundfhir": 1, "patient": PATIENT, "wounds": wounds, "visits": [made]}), "utf-8")
    return path


def test_three_files_from_three_places_become_one_folder_and_it_is_said_what_came(said: Any, tmp_path: Path) -> None:
    into = tmp_path / "client"
    hospital = _record(tmp_path / "hospital.json", "W1", "pressure injury", "V03")
    clinic = _record(tmp_path / "clinic.json", "P-7", "pressure injury", "V17")
    other = _record(tmp_path / "other.json", "Q-8", "skin tear", "V18")
    home = tmp_path / "home.csv"
    home.write_text("Health card,Last name,DOB,Visit date,Wound,Width (cm)\n0417,Example,1939-10-04,2026-03-10,W1,4\n")
    mapping = tmp_path / "home.toml"
    assert said("map", "table", home, "-o", mapping)[0] == 0
    mapping.write_text(mapping.read_text("utf-8").replace('system = "decide"', f'system = "{CARD}"'), "utf-8")
    assert said("receive", hospital, "--into", into)[0] == 0
    code, out, _ = said("receive", home, "--map", mapping, "--into", into)
    assert code == 1 and "  6 of 6 values understood" in out  # 1: nobody has confirmed the mapping
    assert [one.suffix for one in (into / "received").iterdir() if one.read_bytes() == home.read_bytes()] == [".csv"]
    code, out, _ = said("receive", clinic, "--into", into)
    assert code == 0 and "Perhaps one wound" in out and "\n  W1 and P-7\n" in out
    assert "Perhaps one wound" not in said("receive", other, "--into", into)[1]  # another kind at the same site
    missing = out.split("Missing by")[1].split("Written")[0].splitlines()[1:]
    places = [line.split(": ")[0] for line in missing if not line.startswith("    ")]
    assert len(places) == len(set(places)) < 12 and max(map(len, missing)) <= 100
    code, _, err = said("bundle", hospital, clinic, "-o", tmp_path / "all.json")
    assert code == 2 and "`woundfhir receive FILE --into FOLDER`" in err
    assert said("bundle", into, "-o", tmp_path / "all.json")[0] in (0, 1)


def test_notices_that_are_alike_stand_in_one_line(said: Any, tmp_path: Path) -> None:
    path = tmp_path / "bundle.json"
    people = [{"resource": {"resourceType": "Patient", "id": "p", "identifier": [{"system": CARD, "value": "1"}]}}]
    people.append({"resource": {"resourceType": "Condition", "id": "w", "subject": {"reference": "Patient/p"}}})
    path.write_text(json.dumps({"resourceType": "Bundle", "type": "collection", "entry": people}), "utf-8")
    out = said("receive", path)[1]
    assert "Bundle.entry[0].fullUrl and 1 more: expected the absolute URL of the resource" in out


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ("drainage: moderate, pain: 4", "visits[0]: expected the key 'id'. Add it"),
        ("tissue: [a]", "assessment.tissue: expected tissue: {"),
        ("length: [1, 2]", "`woundfhir explain assessment.length` shows how it is written"),
    ],
)
def test_a_note_by_hand_is_told_where_and_what(said: Any, tmp_path: Path, entry: str, words: str) -> None:
    """Keys that are not known break nothing, and hid what did."""
    path = tmp_path / "note.yaml"
    of = "" if "'id'" in words else "id: V1, "
    visit = f"{{{of}at: 2026-03-12, wounds: [{{wound: W1, assessment: {{{entry}}}, plan: {{next visit: Monday}}}}]}}"
    path.write_text(f"woundfhir: 1\npatient: {{nick: [x]}}\nwounds: [{{id: W1}}]\nvisits: [{visit}]\n", "utf-8")
    code, _, err = said("check", path)
    assert code == 2 and words in err
    path.write_text("client: Mrs B\nlength: 3.5\n", "utf-8")
    assert "`woundfhir new -o note.yaml`" in said("check", path)[2]


def test_a_table_in_a_style_of_its_own_is_read_with_two_answers(said: Any, tmp_path: Path) -> None:
    table, mapping = tmp_path / "export.csv", tmp_path / "export.toml"
    table.write_text(EXPORT, "utf-8")
    assert said("map", "table", table, "-o", mapping)[0] == 0
    code, _, err = said("convert", table, "--map", mapping, "-t", "record-ndjson")
    assert code == 2 and "to decide are: zone, column 1.system" in err
    text = mapping.read_text("utf-8").replace('system = "decide"', f'system = "{CARD}"')
    mapping.write_text(text.replace('zone = "decide"', 'zone = "America/Toronto"'), "utf-8")
    code, out, err = said("convert", table, "--map", mapping, "-t", "record-ndjson")
    first = json.loads(out.splitlines()[0])
    assert [one["wounds"][0]["assessment"] for one in first["visits"]] == [
        {
            "length": "42 mm",
            "width": "30 mm",
            "tissue": {"granulation": "80 %"},
            "exudate_amount": "moderate",
            "odour": "present",
        },
        {
            "length": "40 mm",
            "width": "28 mm",
            "tissue": {"granulation": "70 %"},
            "exudate_amount": "scant",
            "odour": "N",
        },
    ]
    assert first["wounds"] == [{"id": "1", "site": "heel"}]
    assert first["visits"][0]["at"] == "2026-03-03T09:15:00-05:00"
    assert "rows 4, 5, 6, column 12 (Malodour): expected one of" in err


def test_a_nurse_s_own_word_finds_its_place(said: Any) -> None:
    assert "Did you mean assessment.exudate_amount?" in said("explain", "drainage")[2]
    assert "assessment.pain_at_rest" in said("explain", "pain")[2]
    assert "Did you mean how-sql or how-form-reply or how-tables?" in said("guide", "csv")[2]


@pytest.mark.parametrize(
    "content", [b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", b"PK\x03\x04....[Content_Types].xml..word/document.xml"]
)
def test_what_is_made_for_the_eye_is_asked_for_in_another_form(said: Any, tmp_path: Path, content: bytes) -> None:
    (tmp_path / "letter").write_bytes(content)
    code, out, err = said("receive", str(tmp_path / "letter"))
    assert code == 2 and not out and "ask the sender for FHIR" in err
