"""A hurried note of ten facts, of six kinds of wounds: at most seven lines, and everything on request.

The notes were written before the rules were looked at. Issue 11, daily use 8.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from woundfhir.cli import run

DEFAULTS = 'setting = "home"\nmeasure_method = "ruler"\nmeasure_axis = "head to toe"\n'
DEFAULTS += 'exudate_scale = "none, scant, small, moderate, large"\n'
NOTES: dict[str, dict[str, Any]] = {
    "venous leg ulcer": {
        "wound": {"site": "left lower leg"},
        "assessment": {"length": "6 cm", "width": "4 cm", "exudate_amount": "mod", "periwound": ["macerated"]},
        "care": {"primary_dressing": "alginate", "compression": "2 layer", "removed": "foam"},
        "plan": {"next_change": "2026-03-06"},
    },
    "pressure injury": {
        "wound": {"site": "coccyx", "stage": "stage 3"},
        "assessment": {"length": "3 cm", "width": "2 cm", "depth": "1.5 cm", "undermining": "nil", "odour": "none"},
        "care": {"packing": "ribbon gauze", "secondary_dressing": "foam"},
        "plan": {"change_every": "2 d"},
    },
    "skin tear": {
        "wound": {"site": "right forearm"},
        "assessment": {"skin_tear_type": "type 2", "bleeding": "nil", "pain_at_rest": "2", "edge": ["approximated"]},
        "care": {"primary_dressing": "silicone contact layer", "securement": "gauze roll", "cleansing": "NS"},
        "plan": {"note": "look again Friday", "change_every": "5 d"},
    },
    "diabetic foot ulcer": {
        "wound": {"site": "left great toe"},
        "assessment": {"length": "1 cm", "width": "1 cm", "depth": "0.4 cm", "probe_to_bone": "no", "odour": "nil"},
        "care": {"primary_dressing": "silver foam", "debridement": "none"},
        "plan": {"next_change": "2026-03-07", "goal": "close"},
    },
    "burn": {
        "wound": {"site": "right hand"},
        "assessment": {"burn_depth": "superficial partial", "pain_at_change": "6", "exudate_amount": "sm"},
        "care": {"cleansing": "tap water", "primary_dressing": "contact layer", "secondary_dressing": "gauze"},
        "plan": {"next_change": "2026-03-05", "note": "hand moved", "change_every": "1 d"},
    },
    "dehisced surgical wound": {
        "wound": {"site": "abdomen"},
        "assessment": {"length": "8 cm", "width": "2 cm", "depth": "3 cm", "infection_signs": ["none"]},
        "care": {"packing": "hydrofibre", "removed": "hydrofibre", "secondary_dressing": "ABD pad"},
        "plan": {"change_every": "1 d", "change_by": "nurse"},
    },
    "malignant wound": {
        "wound": {"site": "left breast"},
        "assessment": {"odour": "strong", "bleeding": "spots", "exudate_amount": "heavy", "pain_at_change": "8"},
        "care": {"primary_dressing": "charcoal", "secondary_dressing": "absorbent pad", "removed": "foam"},
        "plan": {"goal": "comfort", "change_every": "1 d"},
    },
}


def written(kind: str, folder: Path) -> str:
    note = dict(NOTES[kind])
    visit = {"id": "V1", "at": "2026-03-04T10:00:00-05:00", "status": "final", "purpose": ["dressing change"]}
    visit["by"] = {"name": "A. Example", "designation": "RN"}
    wound = {"id": "W1", "status": "open", "kind": kind, **note.pop("wound")}
    record = {"woundfhir": 1, "patient": {"name": {"family": "Example"}}, "wounds": [wound]}
    path = folder / "note.yaml"
    path.write_text(yaml.safe_dump({**record, "visits": [{**visit, "wounds": [{"wound": "W1", **note}]}]}), "utf-8")
    return str(path)


@pytest.mark.parametrize("kind", NOTES)
def test_a_hurried_note_gives_at_most_seven_lines(kind: str, tmp_path: Path, capfd: Any) -> None:
    name = written(kind, tmp_path)
    defaults = tmp_path / "defaults.toml"
    defaults.write_text(DEFAULTS, "utf-8")
    facts = sum(len(part) for part in NOTES[kind].values())
    assert facts in (9, 10, 11)
    assert run(["check", name, "--defaults", str(defaults)]) == 1
    lines = capfd.readouterr().out.splitlines()
    assert len(lines) <= 7 and all(len(line) <= 110 for line in lines)
    # A name of a product is no class: the class is asked for. All other words are known.
    assert ("not a word known" in "".join(lines)) == ("hydrofibre" in str(NOTES[kind]))
    run(["check", name, "--defaults", str(defaults), "--all"])
    everything = capfd.readouterr().out
    assert len(everything.splitlines()) > 7
    run(["check", name, "--all"])
    asked = capfd.readouterr().out
    for words in ("Setting", "Method of measurement", "Exudate scale"):
        assert words not in everything
    assert len(asked) > len(everything) and "Setting: not written" in asked


@pytest.mark.parametrize("kind", NOTES)
def test_the_page_to_print_says_who_and_when_and_no_path_and_nothing_twice(
    kind: str, tmp_path: Path, capfd: Any
) -> None:
    run(["check", written(kind, tmp_path), "--format", "html"])
    page = capfd.readouterr().out
    assert "RN" in page and "2026-03-04" in page
    assert not re.search(r"(visits|wounds)\[\d", page)
    said = re.findall(r"<p[^>]*>(?:<[^>]*>)*([^<]{25,})", page)
    sentences = [one for text in said for one in re.split(r"(?<=[.?!]) (?=[A-Z])", text)]
    assert sorted(one for one in set(sentences) if sentences.count(one) > 1) == []


def test_a_site_cannot_answer_for_what_must_be_seen(tmp_path: Path, capfd: Any) -> None:
    defaults = tmp_path / "defaults.toml"
    defaults.write_text('infection_signs = "none"\n', "utf-8")
    assert run(["check", written("burn", tmp_path), "--defaults", str(defaults)]) == 2
    assert "infection_signs" in capfd.readouterr().err


def test_the_words_of_a_site_are_read_as_those_of_the_lists(tmp_path: Path, capfd: Any) -> None:
    name = written("dehisced surgical wound", tmp_path)
    defaults = tmp_path / "defaults.toml"
    words = '[words."care.packing.material"]\n"Hydrofibre" = "gelling fibre rope"\n'
    words += '[words."care.removed.dressing"]\n"hydrofibre" = "gelling fibre"\n'
    defaults.write_text(words, "utf-8")
    run(["check", name, "--format", "json"])
    assert capfd.readouterr().out.count("Which class of product is it?") == 2
    run(["check", name, "--format", "json", "--defaults", str(defaults)])
    assert "not a word known" not in capfd.readouterr().out
    for wrong in ("sauce", "plan.goal", "care.removed.dressing", "a.b"):
        defaults.write_text(f'[words."{wrong}"]\n"foam" = "foam"\n', "utf-8")
        assert run(["check", name, "--defaults", str(defaults)]) == 2
        assert "words" in capfd.readouterr().err
