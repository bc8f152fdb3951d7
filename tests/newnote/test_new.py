"""A new note: just what the visit asks, filled with invented answers it is complete; what must be seen anew is empty.

Outside check: the lines for editors are tried with jsonschema, a general library, against the schema that the command
writes. The invented answers are the complete notes of the checklist's cases (``tests/checklist/cases/base.yaml``).
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from click.testing import CliRunner

from tests.checklist.casebook import base
from tests.checklist.samples import demo, entry, record, visit
from woundfhir.catalogue import catalogue
from woundfhir.catalogue.model import Word
from woundfhir.checklist import check
from woundfhir.cli import cli, run
from woundfhir.errors import InputError
from woundfhir.intake.source import parse
from woundfhir.newnote import carry, new_note
from woundfhir.record import History
from woundfhir.record.files import flow
from woundfhir.report.text import verdict

Json = Any
#: A line that asks: indent, key, what is empty, the question.
_LINE = re.compile(r"^(\s*(?:- )?)(\w+):\s*(\S.*?)?\s+# .*$")
#: kind, site, purpose, the complete note that answers it
KINDS = [
    ("dehisced surgical wound", "abdomen", "dressing change", "change"),
    ("dehisced surgical wound", "abdomen", "full assessment", "full"),
    ("dehisced surgical wound", "abdomen", "first assessment", "first"),
    ("pressure injury", "sacrum", "full assessment", "pressure"),
    ("pressure injury", "sacrum", "first assessment", "pressure first"),
    ("venous leg ulcer", "lower leg", "full assessment", "leg"),
    ("venous leg ulcer", "lower leg", "dressing change", "leg"),
    ("diabetic foot ulcer", "sole", "full assessment", "foot"),
    ("skin tear", "forearm", "full assessment", "tear"),
    ("skin tear", "forearm", "dressing change", "tear"),
    ("burn", "forearm", "full assessment", "burn"),
    ("burn", "forearm", "dressing change", "burn"),
]
#: So many lines a nurse writes at most.
MOST = 40


def answers(name: str) -> dict[str, Json]:
    """Every answer of a complete note by its key alone."""
    note = base(name)
    groups = ("patient", "wound", "visit", "client", "assessment", "care", "plan")
    found = {key: value for group in groups for key, value in (note.get(group) or {}).items()}
    return {"heart_failure": "no", **found, "supplies": note["supplies"], "status": "final"}


def filled(text: str, known: dict[str, Json]) -> tuple[str, int]:
    """The note with its empty lines written, and how many lines were written."""
    out, written = [], 0
    for line in text.splitlines():
        found = _LINE.match(line)
        if found is None or line.lstrip().startswith("#") or "carried from" in line:
            out.append(line)
        elif found[2] in known:
            out.append(f"{found[1]}{found[2]}: {flow(known[found[2]])}")
            written += 1
        else:
            out.append(line)
    return "\n".join(out) + "\n", written


@pytest.mark.parametrize(("kind", "site", "purpose", "name"), KINDS, ids=lambda value: str(value).replace(" ", "-"))
def test_a_nurse_fills_in_a_new_note_and_it_is_complete(kind: str, site: str, purpose: str, name: str) -> None:
    note, written = filled(new_note(kind, purpose, site=site), answers(name))
    history = parse(note.encode(), "note.yaml").history
    found = check(history)
    assert [(one.rule, one.message) for one in found] == [] and verdict(found) == "Complete."
    assert history.visits[0]["status"] == "final"
    if purpose == "dressing change":
        assert written < MOST, written


#: By a tag of the kind of wound: the place, and the complete note that answers a change.
_BY_TAG = [
    ("diabetic foot", "sole", "foot"),
    ("venous", "lower leg", "leg"),
    ("skin tear", "forearm", "tear"),
    ("burn", "forearm", "burn"),
    ("lower limb", "lower leg", "leg"),
]


@pytest.mark.parametrize("kind", catalogue().answers["wound_kind"].words, ids=lambda one: one.word.replace(" ", "-"))
def test_every_kind_that_it_offers_is_filled_in_in_under_forty_lines(kind: Word, tmp_path: Path) -> None:
    site, name = next(((site, name) for tag, site, name in _BY_TAG if tag in kind.tags), ("abdomen", "change"))
    if kind.word == "pressure injury":
        site, name = "sacrum", "pressure"
    empty, done = tmp_path / "empty.yaml", tmp_path / "done.yaml"
    assert run(["new", "--kind", kind.word, "--site", site, "-o", str(empty)]) == 0
    known = {**answers(name), "side": "left", "tetanus": "last vaccine in 2021"}
    # No compression where nothing says that the veins are the cause: the pressures of the other notes are not theirs.
    known["compression"] = known.get("compression", "none") if "venous" in kind.tags else "none"
    note, written = filled(empty.read_text("utf-8"), known)
    done.write_text(note, "utf-8")
    # A burn by a chemical or by current is rightly asked about, however well it is charted.
    asked = kind.word in ("chemical burn", "electrical burn")
    assert (run(["check", str(done)]), written < MOST) == (int(asked), True), note


def test_at_least_five_kinds_of_wound_are_tried() -> None:
    assert len({kind for kind, *_ in KINDS}) >= 5


@pytest.mark.parametrize(("kind", "site", "purpose", "name"), KINDS, ids=lambda value: str(value).replace(" ", "-"))
def test_an_empty_note_says_nothing_and_is_read_without_a_fault(kind: str, site: str, purpose: str, name: str) -> None:
    history = parse(new_note(kind, purpose, site=site).encode(), "note.yaml").history
    assert history.data.get("extra") is None and history.visits[0]["status"] == "draft"
    one = history.visits[0]["wounds"][0]
    assert set(one) == {"wound"} and set(history.wounds[0]) == {"id", "status", "kind", "site"}
    assert history.patient == {}


@pytest.mark.parametrize(("kind", "site", "purpose", "name"), KINDS, ids=lambda value: str(value).replace(" ", "-"))
def test_no_line_is_wider_than_a_screen_and_each_asks(kind: str, site: str, purpose: str, name: str) -> None:
    text = new_note(kind, purpose, site=site)
    assert max(map(len, text.splitlines())) <= 160  # one line of many fields has its question above it
    assert "venous" not in text or kind == "venous leg ulcer" or purpose != "dressing change"


def test_it_asks_less_of_a_change_than_of_a_first_assessment_and_only_what_the_kind_needs() -> None:
    sizes = [len(new_note("burn", one, site="hand").splitlines()) for one in ("dressing change", "first assessment")]
    assert sizes[0] < sizes[1]
    assert "burn_depth" in new_note("burn", "full assessment") and "burn_depth" not in new_note("burn")
    assert "compression" in new_note("VLU") and "compression" not in new_note("skin tear", site="forearm")


# -- what is carried ---------------------------------------------------------------------------------------


def test_stable_facts_are_carried_and_marked_and_what_must_be_seen_anew_is_empty() -> None:
    text = new_note(carried=carry(demo(), "W2"), purpose="full assessment")
    made = parse(text.encode(), "note.yaml").history
    assert made.patient == demo().patient and made.wounds == [demo().wound("W2")]
    assert made.visits[0]["id"] == "V9"
    one = made.visits[0]["wounds"][0]
    assert set(one["assessment"]) == {"measure_method", "measure_axis", "exudate_scale"}
    assert "care" not in one and set(one["plan"]) == {"change_by"}
    for key in ("measure_axis", "exudate_scale", "setting", "kind", "born"):
        line = next(line for line in text.splitlines() if line.strip().startswith(f"{key}:"))
        assert "# carried from " in line and line.endswith(": still right?"), line


#: What must be seen anew at each visit, whatever the last note says.
ANEW = ("infection_signs", "pain_at_rest", "pain_at_change", "length", "width", "depth", "tissue", "exudate_amount")
ANEW += ("odour", "periwound", "edge", "undermining", "tunnels", "packing", "red_flags", "removed", "response")


def test_nothing_that_must_be_seen_anew_is_ever_filled_in() -> None:
    full = base("foot")
    groups = {key: full[key] for key in ("assessment", "care", "plan")}
    groups["care"] = {**groups["care"], "packing": [{"material": "packing strip", "pieces_in": "1"}]}
    history = record(visit(entry(**groups)), wounds=[{"id": "W1", "status": "open", **full["wound"]}])
    made = parse(new_note(carried=carry(history, None), purpose="first assessment").encode(), "n").history
    one = made.visits[0]["wounds"][0]
    assert not {key for group in one.values() if isinstance(group, dict) for key in group} & set(ANEW)


def test_how_much_packing_went_in_last_time_is_a_comment_even_when_a_later_note_forgot_it() -> None:
    packed = {"packing": [{"material": "packing strip", "pieces_in": "2", "pieces_out": "1", "location": "tunnel"}]}
    later = {"primary_dressing": [{"dressing": "foam"}]}
    history = record(visit(entry(care=packed)), visit(entry(care=later)))
    text = new_note(carried=carry(history, None))
    said = "# last time (V1, 2026-03-01) went in: packing strip, pieces_in 2, location tunnel. Count what comes out.\n"
    assert said in text and "\n      packing: [{material: , pieces_out: , " in text
    gone = record(visit(entry(care=packed)), visit(entry(care={"packing": "none"})))
    assert "last time" not in new_note(carried=carry(gone, None))


def test_text_from_a_record_keeps_to_its_line() -> None:
    wounds = [{"id": "W1", "status": "open", "kind": "burn", "cause": "tea # hot: [] visits:"}]
    text = new_note(carried=carry(record(visit(), wounds=wounds), None))
    made = parse(text.encode(), "note.yaml").history
    assert made.wounds[0]["kind"] == "burn" and len(made.visits) == 1
    assert made.wounds[0]["cause"] == "tea # hot: [] visits:"


@pytest.mark.parametrize(
    ("kind", "purpose", "where"),
    [("nothing known", "dressing change", "--kind"), (None, "dressing change", "--kind"), ("burn", "x", "--purpose")],
)
def test_what_is_not_known_is_refused(kind: str | None, purpose: str, where: str) -> None:
    with pytest.raises(InputError, match=where):
        new_note(kind, purpose)


def test_a_wound_must_be_named_where_several_are_open() -> None:
    for wound in (None, "W9"):
        with pytest.raises(InputError, match="--wound"):
            carry(demo(), wound)
    with pytest.raises(InputError, match="no open wound"):
        carry(History.of({"woundfhir": 1, "patient": {}}), None)


# -- the command -------------------------------------------------------------------------------------------


def test_the_command_writes_a_note_and_never_over_another(tmp_path: Path) -> None:
    args = ["new", "--kind", "skin tear", "--site", "forearm", "-o", str(tmp_path / "note.yaml")]
    assert run(args) == 0 and run(args) == 2
    assert run(["check", str(tmp_path / "note.yaml"), "--fail-on", "never"]) == 0
    assert run(["new"]) == 2 and run(["new", str(tmp_path / "nowhere.yaml")]) == 2


def test_the_schema_for_editors_fits_the_notes_and_finds_a_wrong_structure(tmp_path: Path) -> None:
    where = tmp_path / "record.schema.json"
    assert run(["catalogue", "--json-schema", "-o", str(where)]) == 0
    schema = json.loads(where.read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    note, _ = filled(new_note("burn", "full assessment", site="forearm", schema="record.schema.json"), answers("burn"))
    assert note.splitlines()[0] == "# yaml-language-server: $schema=record.schema.json"
    validator = jsonschema.Draft202012Validator(schema)
    good = yaml.load(note, Loader=yaml.BaseLoader)
    assert list(validator.iter_errors({**good, "woundfhir": 1})) == []
    assert list(validator.iter_errors({**good, "woundfhir": 1, "wounds": "a wound"})) != []


def test_explain_note_says_how_a_note_is_written() -> None:
    result = CliRunner().invoke(cli, ["explain", "note"], standalone_mode=False)
    assert result.exception is None
    for words in ("woundfhir new", "{absent: not assessed}", "woundfhir check", "4.1 cm", "status: draft"):
        assert words in result.stdout
    example = result.stdout.partition("\n\nA short note:\n\n")[2].partition("\n\n")[0]
    assert parse(example.encode(), "example.yaml").history.data.get("extra") is None


def test_a_sites_defaults_are_filled_in_and_marked_and_hold_nothing_else(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "defaults.toml"
    file.write_text('setting = "home"\nmeasure_method = "ruler"\n', "utf-8")
    args = ["new", "--kind", "burn", "--purpose", "full assessment", "--defaults", str(file)]
    assert run(args) == 0
    said = capsys.readouterr().out
    assert "  setting: home  # carried from the site's defaults: still right?\n" in said
    one = parse(said.encode(), "n").history.visits[0]
    assert one["setting"] == "home" and one["wounds"][0]["assessment"] == {"measure_method": "ruler"}
    file.write_text('infection_signs = "none"\n', "utf-8")
    assert run(args) == 2 and "infection_signs" in capsys.readouterr().err
