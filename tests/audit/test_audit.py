"""Many clients' notes in counts: the sums hold, nothing of a client is shown, memory does not grow with the files."""

from __future__ import annotations

import csv
import json
import tracemalloc
from collections import Counter
from io import StringIO
from pathlib import Path

import pytest
from lxml import etree

from tests.checklist.casebook import base
from tests.checklist.samples import demo, entry, record, visit
from tests.report import hidden
from woundfhir.audit import Audit
from woundfhir.audit.page import as_html
from woundfhir.audit.picture import picture
from woundfhir.audit.tables import as_csv, as_json, as_text, per_cent
from woundfhir.checklist import check
from woundfhir.checklist.policy import load
from woundfhir.checklist.site import compose
from woundfhir.cli import run
from woundfhir.intake.source import read_all
from woundfhir.record import History

NOTES = sorted(
    path for path in (Path(__file__).parents[1] / "checklist" / "notes").glob("*.yaml") if "expected" not in path.name
)


def audit(*histories: History) -> Audit:
    made = Audit(compose(None), load("ontario"))
    for one in histories:
        made.take(one)
    return made


@pytest.fixture(scope="module")
def every() -> list[History]:
    return [one.history for one in read_all(NOTES)]


def complete() -> History:
    note = base("change")
    groups = {key: note[key] for key in ("assessment", "care", "plan", "supplies")}
    wounds = [{"id": "W1", **note["wound"]}]
    visits = [{"id": "V1", **note["visit"], "wounds": [{"wound": "W1", **groups}]}]
    return History.of({"woundfhir": 1, "patient": note["patient"], "wounds": wounds, "visits": visits})


def test_the_counts_are_those_of_the_checklist(every: list[History]) -> None:
    made = audit(*every)
    drafts = {"draft"}
    found = [(one, h) for h in every for one in check(h)]
    final = [one for one, h in found if not (one.draft and h.visits and {v.get("status") for v in h.visits} & drafts)]
    assert {code: rule.found for code, rule in made.rules.items()} == Counter(one.rule for one in final)
    assert made.total.safety == sum(one.severity == "caution" for one in final)
    assert made.total.add == sum(one.to_add for one in final)
    assert made.records == len(every) and made.drafts == 1


def test_authors_and_weeks_each_make_up_all_notes(every: list[History]) -> None:
    made = audit(*every)
    for part in ("author", "week"):
        counts = made.parts[part].values()
        assert sum(one.notes for one in counts) == made.total.notes
        assert sum(one.complete for one in counts) == made.total.complete
    assert sum(one.notes for one in made.parts["kind"].values()) >= made.total.notes


def test_a_complete_note_is_one_and_a_draft_is_not_counted() -> None:
    made = audit(complete())
    assert (made.total.notes, made.total.complete, made.total.safety) == (1, 1, 0)
    assert made.parts["author"].keys() == {"RN rn-1"} and made.parts["week"].keys() == {"2026-W10"}
    assert audit(record(visit(status="draft"))).total.notes == 0


def test_findings_are_counted_for_the_kind_of_wound_that_they_are_about() -> None:
    wounds = [{"id": "W1", "kind": "burn"}, {"id": "W2", "kind": "skin tear"}]
    bare = audit(record(visit(entry("W1"), entry("W2")), wounds=wounds)).parts["kind"]
    one = audit(record(visit(entry("W1", assessment={"odour": "none"}), entry("W2")), wounds=wounds)).parts["kind"]
    assert one["burn"].notes == one["skin tear"].notes == 1
    assert (one["burn"].add, one["skin tear"].add) == (bare["burn"].add - 1, bare["skin tear"].add)


def test_a_safety_prompt_that_an_action_answers_is_counted_with_who_and_when() -> None:
    signs = {"infection_signs": ["redness and swelling spreading", "fever"]}
    action = {"done": "spoke with the doctor", "about": ["infection"], "told": ["physician"], "when": "2026-03-01"}
    bare = record(visit(entry(assessment=signs)))
    told = record(visit(entry(assessment=signs, plan={"escalation": [action]})))
    unanswered, answered = audit(bare), audit(told)
    assert answered.total.safety < unanswered.total.safety
    assert answered.total.answered == unanswered.total.safety - answered.total.safety
    assert unanswered.total.answered == 0
    assert unanswered.parts["matter"]["infection"].safety == answered.parts["matter"]["infection"].answered == 1
    nobody = record(visit(entry(assessment=signs, plan={"escalation": [{"done": "called the doctor"}]})))
    assert audit(nobody).total.answered == 0 and audit(nobody).total.safety == unanswered.total.safety


@pytest.mark.parametrize("write", [as_text, as_csv, as_html, as_json, picture])
def test_nothing_of_a_client_and_no_name_of_an_author_is_shown(write: object) -> None:
    made = audit(History.of(hidden.everywhere()), demo())
    said = write(made)  # type: ignore[operator]
    assert not hidden.held(said)
    text = said if isinstance(said, str) else said.decode()
    assert "Example-Rowan" not in text and "Nurse One" not in text and "C-0417" not in text


def test_every_form_says_the_same_numbers(every: list[History]) -> None:
    made = audit(*every)
    rows = list(csv.DictReader(StringIO(as_csv(made).decode())))
    total = made.total
    assert (rows[0]["part"], rows[0]["notes"], rows[0]["complete"]) == ("all", str(total.notes), str(total.complete))
    said = json.loads(as_json(made))
    assert {row["name"]: int(row["found"]) for row in rows if row["part"] == "rule"} == {
        code: one["found"] for code, one in said["rules"].items()
    }
    assert f"Complete: {total.complete} of {total.notes} ({per_cent(total.share)})." in as_text(made)
    for code in made.rules:
        assert f"<td>{code}</td>" in as_html(made).decode()
    assert all(len(line) <= 100 for line in as_text(made).splitlines()[2:-1])


def test_the_page_is_whole_in_itself_and_the_picture_says_what_it_shows(every: list[History]) -> None:
    made = audit(*every)
    page = as_html(made).decode()
    assert "default-src 'none'" in page and "<script" not in page and "<link" not in page and "@import" not in page
    tree = etree.fromstring(picture(made))
    space = "{http://www.w3.org/2000/svg}"
    assert tree.findtext(f"{space}title") and str(made.total.notes) in (tree.findtext(f"{space}desc") or "")
    width = float(tree.get("width", "0"))
    for bar in tree.iter(f"{space}rect"):
        assert 0 <= float(bar.get("x", "0")) <= float(bar.get("x", "0")) + float(bar.get("width", "0")) <= width


@pytest.mark.parametrize("share", [0.0, 0.0001, 0.994, 0.9999, 1.0])
def test_a_share_is_never_whole_where_something_is_missing(share: float) -> None:
    assert (per_cent(share) == "100 %") is (share == 1.0) and (per_cent(share) == "0 %") is (share == 0.0)


def test_an_empty_audit_has_every_form() -> None:
    made = audit()
    assert as_text(made).splitlines()[0] == "No finished note."
    assert as_csv(made) and as_html(made) and as_json(made) and picture(made)


def test_memory_does_not_grow_with_the_number_of_records() -> None:
    """Only counts are kept: ten times the records hold about the same memory afterwards."""
    one = demo()
    made = audit(one)
    held = []
    tracemalloc.start()
    for number in (3, 30):
        for _ in range(number):
            made.take(one)
        held.append(tracemalloc.get_traced_memory()[0])
    tracemalloc.stop()
    assert held[1] < held[0] * 2 + 200_000


# -- the command -------------------------------------------------------------------------------------------


def test_a_folder_of_clients_is_counted_and_a_broken_file_is_named_and_passed_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "clients"
    folder.mkdir()
    (folder / "a.json").write_text(complete().json(), "utf-8")
    (folder / "b.json").write_text(demo().json(), "utf-8")
    (folder / "c.json").write_text("{broken", "utf-8")
    assert run(["audit", str(folder)]) == 1
    said = capsys.readouterr()
    assert said.out.startswith("Records: 2; finished notes: 9; drafts: 0. ") and "c.json" in said.err
    assert "1 files could not be read" in said.out


def test_exit_codes_and_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "good.json").write_text(complete().json(), "utf-8")
    (tmp_path / "bad.json").write_text("{", "utf-8")
    assert run(["audit", str(tmp_path / "good.json")]) == 0
    assert run(["audit", str(tmp_path / "bad.json")]) == 2
    assert run(["audit", str(tmp_path / "nowhere")]) == 2
    args = ["audit", str(tmp_path / "good.json"), "--format", "html", "-o", str(tmp_path / "a.html")]
    svg = str(tmp_path / "a.svg")
    assert run([*args, "--svg", svg]) == 0 and run([*args, "--svg", svg]) == 2
    assert (tmp_path / "a.svg").read_bytes().startswith(b"<svg")
    capsys.readouterr()
