"""What the service answers is what the command line writes; media types as RFC 9110 section 12 and R4, http, say."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

import httpx
import pytest
from hypothesis import given, settings

from tests.service.conftest import Said, Served, broken_rules, media_of, serving
from tests.strategies import records
from woundfhir import History, InputError, dumps
from woundfhir.cli import run
from woundfhir.service import jobs
from woundfhir.service.setup import Setup

FILES = ("story.yaml", "story.fhir.json", "story.fhir.xml", "story.csv")
WRITTEN = {
    "application/fhir+json": "fhir-json",
    "application/fhir+xml": "fhir-xml",
    "application/fhir+ndjson": "ndjson",
    "application/json": "record-json",
    "application/yaml": "record",
    "text/csv": "csv",
    "application/x-ndjson": "record-ndjson",
}


def ask(served: Served, path: str, content: bytes, **headers: str) -> httpx.Response:
    return served.client.post(path, content=content, headers={k.replace("_", "-"): v for k, v in headers.items()})


@pytest.mark.parametrize("name", FILES)
def test_validate_is_check(name: str, served: Served, story: Path, said: Said) -> None:
    content = (story / name).read_bytes()
    checked = said("check", content, "--format", "outcome")
    for path in ("/$validate", "/Bundle/$validate"):
        answer = served.client.post(path, content=content, headers=media_of(name))
        assert answer.status_code == 200 and answer.headers["Content-Type"] == "application/fhir+json"
        assert answer.content == checked
    issues = answer.json()["issue"]
    assert len(issues) > 2
    for issue in issues:
        assert issue["severity"] in ("error", "warning", "information") and issue["code"]
        assert issue["details"]["text"] and issue["diagnostics"] and issue["expression"]
    assert broken_rules(answer.json()) == []  # an OperationOutcome of R4


def test_the_parameters_of_validate_are_those_of_check(served: Served, story: Path, said: Said) -> None:
    content = (story / "story.yaml").read_bytes()
    asked = {"policy": "international", "checklist": "transfer", "today": "2027-01-01", "visit": "last"}
    options = [part for name, value in asked.items() for part in (f"--{name}", value)]
    answer = served.client.post("/$validate", params=asked, content=content, headers=media_of("a.yaml"))
    assert answer.content == said("check", content, "--format", "outcome", *options)
    assert answer.content != said("check", content, "--format", "outcome")


def test_validate_takes_the_parameters_resource_of_r4(served: Served, story: Path) -> None:
    """R4, operation $validate: the resource stands in the parameter ``resource``."""
    bundle = json.loads((story / "story.fhir.json").read_bytes())
    alone = served.client.post("/$validate", json=bundle, headers=media_of("a.fhir.json"))
    whole = {"resourceType": "Parameters", "parameter": [{"name": "resource", "resource": bundle}]}
    assert served.client.post("/$validate", json=whole, headers=media_of("a.fhir.json")).json() == alone.json()
    whole["parameter"].append({"name": "mode", "valueCode": "delete"})
    answer = served.client.post("/$validate", json=whole, headers=media_of("a.fhir.json"))
    assert answer.status_code == 400 and "one parameter named resource" in answer.text


@pytest.mark.parametrize(
    "wrong", [{"policy": "/etc/passwd"}, {"checklist": "x.toml"}, {"today": "soon"}, {"show": "1"}]
)
def test_a_parameter_names_no_file(wrong: dict[str, str], served: Served, story: Path) -> None:
    content = (story / "story.yaml").read_bytes()
    answer = served.client.post("/$validate", params=wrong, content=content, headers=media_of("a.yaml"))
    assert answer.status_code == 400 and next(iter(wrong.values())) not in answer.text


@pytest.mark.parametrize("accept", WRITTEN)
@pytest.mark.parametrize("name", FILES)
def test_convert_is_convert(name: str, accept: str, served: Served, story: Path, said: Said) -> None:
    content = (story / name).read_bytes()
    answer = ask(served, "/$convert", content, **{"Accept": accept, **media_of(name)})
    assert answer.status_code == 200 and answer.headers["Content-Type"].split(";")[0] == accept
    assert answer.content == said("convert", content, "--to", WRITTEN[accept])
    assert answer.headers["Woundfhir-Asks"] == "no"
    assert ("values understood" in answer.headers.get("Woundfhir-Report", "")) == ("fhir" in name)


def test_without_a_wish_the_other_form_is_written(served: Served, story: Path) -> None:
    record, fhir = (story / "story.yaml").read_bytes(), (story / "story.fhir.json").read_bytes()
    found = ask(served, "/$convert", record, **media_of("a.yaml"))
    assert found.headers["Content-Type"] == "application/fhir+json" and found.content == fhir
    back = ask(served, "/$convert", fhir, **media_of("a.fhir.json"))
    assert back.headers["Content-Type"] == "application/json" and back.json()["woundfhir"] == 1


def test_what_became_of_each_value_can_be_asked(served: Served) -> None:
    """Prefer: return=OperationOutcome (R4, http 2.21.0.5.2)."""
    resource = {
        "resourceType": "Observation",
        "status": "entered-in-error",
        "code": {"coding": [{"system": "http://loinc.org", "code": "39126-8"}]},
        "subject": {"reference": "Patient/1"},
        "valueQuantity": {"value": 4.1, "unit": "cm", "system": "http://unitsofmeasure.org", "code": "cm"},
    }
    headers = {"Content-Type": "application/fhir+json"}
    plain = served.client.post("/$convert", json=resource, headers=headers)
    assert plain.status_code == 200 and plain.headers["Woundfhir-Asks"] == "yes"
    answer = served.client.post("/$convert", json=resource, headers={**headers, "Prefer": "return=OperationOutcome"})
    assert broken_rules(answer.json()) == []
    assert [one["severity"] for one in answer.json()["issue"]][:2] == ["information", "warning"]
    assert "4.1" not in answer.text


def test_several_clients_need_a_format_that_holds_several(served: Served) -> None:
    records = [{"woundfhir": 1, "patient": {"born": born}} for born in ("1948-03", "1951-07")]
    content = "\n".join(json.dumps(one) for one in records).encode()
    alone = ask(served, "/$convert", content, Content_Type="application/x-ndjson", Accept="application/fhir+json")
    assert alone.status_code == 422 and "2 clients" in alone.text and "1948" not in alone.text
    both = ask(served, "/$convert", content, Content_Type="application/x-ndjson", Accept="text/csv")
    assert both.status_code == 200 and both.text.count("\n") == 3


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 415),
        ({"Content-Type": "text/html"}, 415),
        ({"Content-Type": "application/yaml; charset=latin-1"}, 415),
        ({"Content-Type": "application/yaml", "Content-Encoding": "gzip"}, 415),
        ({"Content-Type": "application/fhir+json"}, 400),  # the body is YAML
        ({"Content-Type": "application/yaml", "Accept": "image/png"}, 406),
        ({"Content-Type": "application/yaml", "Accept": "*/*;q=0"}, 406),
        ({"Content-Type": "application/yaml", "Accept": "image/png, application/*;q=0.2"}, 200),
    ],
)
def test_media_types_are_kept_to(headers: dict[str, str], status: int, served: Served, story: Path) -> None:
    answer = served.client.post("/$convert", content=(story / "story.yaml").read_bytes(), headers=headers)
    assert answer.status_code == status
    if status != 200:
        assert broken_rules(answer.json()) == [] and answer.headers["Content-Type"] == "application/fhir+json"


def test_a_site_holds_in_the_workers(tmp_path: Path, story: Path) -> None:
    site = tmp_path / "clinic"
    site.mkdir()
    words = 'word = "honey rope"\ncode = {code = "honey-rope", display = "Honey rope"}\ntags = ["packing"]\n'
    head = 'name = "north-clinic"\ntitle = "Clinic (invented)"\nbase = "https://north-clinic.example/fhir"\n'
    (site / "site.toml").write_text(f"{head}[[answers.dressing.words]]\n{words}substances = []\n")
    (site / "policy.toml").write_text('name = "own"\nversion = "1"\ntitle = "Own"\nextends = "international"\n')
    note = {
        "woundfhir": 1,
        "patient": {"born": "1948-03"},
        "wounds": [{"id": "W1", "kind": "skin tear", "site": "lower leg", "side": "left"}],
        "visits": [
            {
                "id": "V1",
                "at": "2026-03-02T10:00-05:00",
                "wounds": [{"wound": "W1", "care": {"primary_dressing": {"dressing": "honey rope"}}}],
            }
        ],
    }
    with serving("--site", str(site)) as served:
        answer = served.client.post("/$convert", json=note)
        judged = served.client.post("/$validate", json=note)
    assert "https://north-clinic.example/fhir" in answer.text and "honey-rope" in answer.text
    path = tmp_path / "note.json"
    path.write_text(json.dumps(note))
    assert run(["check", str(path), "--site", str(site), "--format", "outcome", "-o", str(tmp_path / "o")]) in (0, 1)
    assert judged.content == (tmp_path / "o").read_bytes()


def test_the_language_holds_in_the_workers(story: Path, said: Said) -> None:
    content = (story / "story.yaml").read_bytes()
    with serving("--lang", "fr") as served:
        answer = served.client.post("/$validate", content=content, headers=media_of("a.yaml"))
    assert answer.content == said("check", content, "--format", "outcome", "--lang", "fr")
    assert answer.content != said("check", content, "--format", "outcome")


@settings(max_examples=15)
@given(records())
def test_any_record_is_answered_as_the_command_line_does(record: dict[str, object]) -> None:
    content = dumps(History.of(record)).encode()
    with tempfile.TemporaryDirectory() as folder:
        came, out = Path(folder, "came.json"), Path(folder, "out")
        came.write_bytes(content)
        options = {"media": "application/json"}
        asked = [("validate", options, ["check", "--format", "outcome"])]
        asked += [("convert", {**options, "to": to}, ["convert", "--to", form]) for to, form in WRITTEN.items()]
        for job, chosen, (verb, *more) in asked:
            if run([verb, str(came), *more, "-o", str(out), "--force"]) == 2:  # such as an empty record as FHIR
                with pytest.raises(InputError):
                    jobs.run(job, chosen, content, Setup())
            else:
                assert jobs.run(job, chosen, content, Setup()).content == out.read_bytes()
