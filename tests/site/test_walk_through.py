"""The walk-through of DEVELOPERS.md, followed word by word as a stranger would."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest

import woundfhir
from tests.paths import ROOT
from woundfhir.cli import run

TEXT = (ROOT / "DEVELOPERS.md").read_text("utf-8")
PART = TEXT.partition("## A site's own words, in half an hour\n")[2].partition("\n## ")[0]


def blocks(kind: str) -> list[str]:
    return re.findall(rf"^```{kind}\n(.*?)^```$", PART, re.DOTALL | re.MULTILINE)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "clinic").mkdir()
    (tmp_path / "clinic" / "site.toml").write_text(blocks("toml")[0], "utf-8")
    (tmp_path / "note.yaml").write_text(blocks("yaml")[0], "utf-8")
    return tmp_path


def test_every_command_does_what_stands_beside_it(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = [line for block in blocks("sh") for line in block.splitlines()]
    assert len(lines) == 11
    for line in lines:
        command, _, seen = line.partition("  # ")
        name, *args = shlex.split(command)
        assert name == "woundfhir"
        code = run(args)
        out, err = capsys.readouterr()
        assert code == (1 if "check" in args else 0), (line, err)
        assert seen in " ".join(f"{out} {err}".split()), (line, out, err)
    sheet = (here / "sheet.html").read_text("utf-8")
    for words in ("Skin under the tape", "lifts the skin", "rope with honey", "B 4"):
        assert words in sheet, words
    with woundfhir.Site("clinic"):
        resources = json.loads((here / "note.json").read_text("utf-8"))
        assert [one for one in woundfhir.validate(resources) if one.severity != "warning"] == []
        assert woundfhir.read("note.json").history.data == woundfhir.read("note.yaml").history.data


def test_its_package_is_sound(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["profiles", "definitions", "--package", "clinic.tgz", "--site", "clinic"]) == 0
    capsys.readouterr()
    made = {path.name: json.loads(path.read_text("utf-8")) for path in (here / "definitions").iterdir()}
    assert (here / "clinic.tgz").read_bytes()[:2] == b"\x1f\x8b"
    resources = [one for one in made.values() if "resourceType" in one]
    for one in resources:
        assert [issue for issue in woundfhir.validate(one) if issue.severity != "warning"] == [], one["url"]
        assert one["url"].startswith("https://north-clinic.example/fhir/")
    codes = {one["code"]: one for one in made["CodeSystem-north-clinic.json"]["concept"]}
    assert codes["honey-rope"]["designation"] == [{"language": "fr", "value": "mèche au miel"}]
    profile = made["StructureDefinition-observation-tape-reaction.json"]
    bound = [one["binding"]["valueSet"] for one in profile["differential"]["element"] if "binding" in one]
    assert bound == ["https://north-clinic.example/fhir/ValueSet/tape-reaction"]
    asked = json.dumps(made["Questionnaire-wound-visit.json"], ensure_ascii=False)
    for link in ("assessment.tape_reaction", "care.primary_dressing.shelf", "honey-rope"):
        assert f'"{link}"' in asked
    listed = {
        one["reference"]["reference"] for one in made["ImplementationGuide-north-clinic.json"]["definition"]["resource"]
    }
    assert listed == {f"{one['resourceType']}/{one['id']}" for one in resources} - {"ImplementationGuide/north-clinic"}
    assert "org.w3id.woundfhir" in made["package.json"]["dependencies"]


def test_the_environment_names_the_folder_and_an_option_wins(
    here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WOUNDFHIR_SITE", "clinic")
    assert run(["catalogue", "care"]) == 0
    assert "care.primary_dressing.shelf" in capsys.readouterr().out
    monkeypatch.setenv("WOUNDFHIR_SITE", "nowhere")
    assert run(["catalogue", "care"]) == 2
    assert "nowhere: there is no such folder" in capsys.readouterr().err
    assert run(["catalogue", "--help"]) == 0
    assert run(["catalogue", "care", "--site", "clinic"]) == 0
    monkeypatch.delenv("WOUNDFHIR_SITE")
    capsys.readouterr()
    assert run(["catalogue", "care"]) == 0
    assert "shelf" not in capsys.readouterr().out
