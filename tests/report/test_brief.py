"""The short report: at most seven lines, safety first, what does not fit counted; and one note out of many."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.checklist.samples import demo, entry, record, visit
from tests.report.samples import clean, judged
from tests.report.test_check_command import call
from woundfhir.checklist import Finding, Verdict, check, judge
from woundfhir.checklist.one_note import of_note
from woundfhir.errors import InputError
from woundfhir.intake.given import read
from woundfhir.report import Judged, render
from woundfhir.report.brief import LINES

NOTES = Path(__file__).parents[1] / "checklist" / "notes"
STRANGERS = sorted((NOTES.parent / "strangers").glob("s*.yaml"))
EVERY = sorted(path for path in NOTES.glob("*.yaml") if "expected" not in path.name)


def brief(*reports: Judged) -> list[str]:
    return render(reports, "text", brief=True).decode().splitlines()


def of(path: Path) -> Judged:
    one = read(path).history
    return Judged(path.name, judge(one), one)


def test_the_whole_short_report() -> None:
    assert brief(judged()) == [
        "2 safety, 4 to add, 2 to look at.",
        "Safety, W1 and wound 2, V1 and V2: Is this <right> & checked? [site XX01]",
        "Look at, W1 and wound 2, V1 and V2: Two answers do not fit. [site XX02]",
        "Add, W1 and wound 2, V1 and V2: length",
        "Add, expected, W1 and wound 2, V1 and V2: cause",
        "`woundfhir check --all` lists everything, with what to write and why.",
    ]
    assert brief(clean()) == ["Complete."]


@pytest.mark.parametrize("path", EVERY, ids=lambda path: path.stem)
def test_any_note_fits_into_seven_lines_and_what_does_not_fit_is_counted(path: Path) -> None:
    one = of(path)
    lines = brief(one)
    assert len(lines) <= LINES and all(len(line) <= 100 for line in lines)
    safety = [found for found in one.verdict.findings if found.severity == "caution"]
    shown = {code for line in lines for code in re.findall(r"\[(?:[a-z ]+ )?([\w.-]+)\]", line)}
    hidden = sum(1 for found in safety if found.rule not in shown)
    assert (f"({hidden} safety)" in lines[-1]) is (hidden > 0)
    if hidden:  # nothing less important took the place of a safety prompt
        assert not any(line.startswith(("Add", "Look at")) for line in lines)


def test_a_hurried_note_says_everything_that_is_required_in_seven_lines() -> None:
    said = " ".join(brief(of(NOTES / "03-hurried-dressing-change.yaml")))
    for words in ("odour", "signs of infection", "next change", "exudate type", "pain at rest"):
        assert words in said


def test_several_inputs_have_one_line_each_those_with_safety_prompts_first() -> None:
    lines = brief(*(of(path) for path in EVERY))
    assert len(lines) == LINES and re.fullmatch(r"and \d+ more inputs; `woundfhir check --all` .*", lines[-1])
    assert "safety" in lines[1]


def test_rules_left_out_are_not_left_out_in_silence() -> None:
    assert brief(judged(ignore={"XX01": "why"}))[-1] == "Left out on request, 2 findings: `--all` gives the reasons."


def findings(verdict: Verdict) -> set[Finding]:
    return {*verdict.findings, *verdict.elsewhere}


@pytest.mark.parametrize("which", ["last", "V1", "V5"])
def test_one_note_has_its_own_findings_and_the_others_are_counted(which: str) -> None:
    history = demo()
    whole = judge(history)
    one = of_note(whole, history, which)
    note = "V8" if which == "last" else which
    assert findings(one) == findings(whole) and len(one.findings) + len(one.elsewhere) == len(whole.findings)
    assert {found.visit for found in one.findings} <= {None, note}
    assert note not in {found.visit for found in one.elsewhere}


def test_a_note_that_is_not_there_replaced_or_in_error_is_refused() -> None:
    history = record(visit(id="a"), visit(id="b", replaces="a", status="amended"))
    for which in ("a", "nowhere", "LAST"):
        with pytest.raises(InputError, match="--visit"):
            of_note(judge(history), history, which)
    assert of_note(judge(history), history, "last").notes == 1
    with pytest.raises(InputError, match="The record has none"):
        of_note(judge(record()), record(), "last")


def test_the_last_note_may_be_a_draft() -> None:
    history = record(visit(id="V1", at="2026-03-02"), visit(id="V2", at="2026-03-03", status="draft"))
    last = of_note(judge(history), history, "last")
    assert last.drafts == 1 and any(found.draft for found in last.findings)


def test_a_safety_prompt_on_another_note_still_waits_and_exits_1(tmp_path: Path) -> None:
    from woundfhir.demo import story

    (tmp_path / "story.yaml").write_bytes(story())
    code, out, _ = call(str(tmp_path / "story.yaml"), "--visit", "last")
    assert code == 1 and out.splitlines()[0] == "Complete. On other notes: 1 safety."
    assert call(str(tmp_path / "story.yaml"), "--visit", "last", "--fail-on", "never")[0] == 0


def test_a_piece_of_foam_left_in_the_wound_is_no_clean_note(tmp_path: Path) -> None:
    care = {"packing": [{"material": "gauze strip", "pieces_in": "2"}]}
    out = {"packing": [{"material": "gauze strip", "pieces_out": "1", "pieces_in": "0"}]}
    history = record(visit(entry(care=care), at="2026-03-02"), visit(entry(care=out), at="2026-03-04"))
    (tmp_path / "foam.json").write_text(history.json(), "utf-8")
    code, said, _ = call(str(tmp_path / "foam.json"), "--visit", "last")
    assert code == 1 and " safety" in said.splitlines()[0] and said.splitlines()[1].startswith("Safety, W1")


def test_a_file_gets_everything_and_brief_only_on_request(tmp_path: Path) -> None:
    note = str(NOTES / "03-hurried-dressing-change.yaml")
    whole, short = tmp_path / "whole.txt", tmp_path / "short.txt"
    call(note, "-o", str(whole))
    call(note, "-o", str(short), "--brief")
    assert len(whole.read_text("utf-8").splitlines()) > 50 and len(short.read_text("utf-8").splitlines()) <= LINES
    assert call(note, "--all")[1] == whole.read_text("utf-8")


@pytest.mark.parametrize("path", STRANGERS, ids=lambda path: path.stem)
def test_of_many_safety_prompts_each_is_named_in_seven_lines(path: Path) -> None:
    """Where whole sentences do not fit, each prompt stands in few words: none hides behind a number."""
    _, said, _ = call(str(path))
    assert len(said.splitlines()) <= LINES and " safety)" not in said, said
    flat = " ".join(said.split()).casefold()
    prompts = [one for one in check(read(path).history) if one.severity == "caution"]
    assert all(
        re.sub("^(the|an?) ", "", one.message.split(": ")[0].split(", ")[0].split(" and ")[0].rstrip("?.").casefold())
        in flat
        for one in prompts
    )
