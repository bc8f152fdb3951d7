"""The text report: the verdict first, then by wound, most important first, each with what to write and why."""

from __future__ import annotations

from pathlib import Path

from tests.checklist.casebook import record
from tests.report.samples import FOUR, clean, judged
from woundfhir.checklist import judge
from woundfhir.checklist.one_note import of_note
from woundfhir.intake.given import read
from woundfhir.record import History
from woundfhir.report import Judged, render
from woundfhir.report.text import of_verdicts, verdict

EXPECTED = """\
2 safety, 4 to add, 2 to look at.

a note.yaml: 2 notes, 1 draft: gaps there are information; checklist four 1; policy ontario 1.

Safety
  Look at, safety: Wound W1, note V1: Is this <right> & checked?
      Write what XX01 asks for.
      Why: A reason.
      Source: A source 2020 (seen)
      [site XX01] visits[0].wounds[0].assessment.length
  Look at, safety: Wound 2, note V2 (draft): Is this <right> & checked?
      [site XX01] visits[1].wounds[0].assessment.length

Wound W1
  Look at: Note V1: Two answers do not fit.
      Write what XX02 asks for.
      [site XX02] visits[0].wounds[0].assessment.length
  Add: Note V1: Length: not written.
      Write what XX03 asks for.
      [site XX03] visits[0].wounds[0].assessment.length
  Add, expected: Note V1: Cause: not written.
      Write what XX04 asks for.
      [site XX04] visits[0].wounds[0].assessment.length

Wound 2
  Look at: Note V2 (draft): Two answers do not fit.
      [site XX02] visits[1].wounds[0].assessment.length
  Add: Note V2 (draft): Length: not written.
      [site XX03] visits[1].wounds[0].assessment.length
  Add, expected: Note V2 (draft): Cause: not written.
      [site XX04] visits[1].wounds[0].assessment.length

"""


def test_the_whole_report() -> None:
    said = render([judged()], "text").decode()
    assert said.startswith(EXPECTED)
    closing = said[len(EXPECTED) :]
    assert (
        "{absent: reason}" in closing
        and "explain CODE" in closing
        and "licensed practitioner decide" in " ".join(closing.split())
    )


def test_a_clean_record_is_complete_and_says_by_what_it_was_judged() -> None:
    assert render([clean()], "text").decode() == (
        "Complete.\n\nclean.yaml: 1 note; checklist four 1; policy ontario 1.\n"
    )


def test_a_record_without_notes_is_not_called_complete() -> None:
    empty = History.of({"woundfhir": 1, "patient": {"born": "1948"}})
    nothing = Judged("empty.yaml", judge(empty, checklist=FOUR), empty)
    assert render([nothing], "text").decode().splitlines()[0] == "No note to judge."


def test_verdicts_count_what_is_to_add_and_what_is_to_look_at() -> None:
    found = list(judged().verdict.findings)
    assert verdict(one for one in found if one.severity == "required") == "2 to add."
    assert verdict(one for one in found if one.severity == "caution") == "2 safety."
    assert verdict(found) == "2 safety, 4 to add, 2 to look at."


def test_several_inputs_have_one_verdict_and_each_its_own() -> None:
    lines = render([judged(), clean()], "text").decode().splitlines()
    assert lines[0] == "2 safety, 4 to add, 2 to look at."
    assert any(line.startswith("a note.yaml:") and line.endswith("2 safety, 4 to add, 2 to look at.") for line in lines)
    assert any(line.startswith("clean.yaml:") and line.endswith("Complete.") for line in lines)


def test_values_are_one_line_and_only_shown_when_asked_for() -> None:
    assert "Found" not in render([judged()], "text").decode()
    assert "      Found: <4> cm\n" in render([judged(show_values=True)], "text").decode()


def test_rules_left_out_stand_at_the_end_with_their_reason() -> None:
    said = render([judged(ignore={"XX03": "measured at the clinic"})], "text").decode()
    assert "Left out\n  [site XX03] 2 findings: measured at the clinic\n" in said
    assert said.startswith("2 safety, 2 to add, 2 to look at.")


def test_colour_adds_escapes_and_changes_no_word() -> None:
    import re

    plain, coloured = render([judged()], "text").decode(), render([judged()], "text", colour=True).decode()
    assert "\x1b[" in coloured and "\x1b[" not in plain
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == plain


def test_no_line_is_wider_than_a_terminal_unless_one_word_is() -> None:
    for line in render([judged()], "text").decode().splitlines():
        assert len(line) <= 100 or " " not in line.strip()


def test_nothing_is_repeated() -> None:
    """Each sentence of what to write, why and who says so stands once in a report, whatever the number of findings."""
    path = Path(__file__).parents[1] / "checklist" / "notes" / "11-honey-wrong.yaml"
    one = read(path).history
    said = " ".join(render([Judged("note", judge(one), one)], "text").decode().split())
    assert said.count("Local policy and the licensed practitioner decide.") == 1
    for finding in judge(one).findings:
        assert said.count(f"Why: {finding.why}") <= 1, finding.rule


def test_answers_that_nobody_has_are_counted_in_the_verdict() -> None:
    """Issue 11, safety 4: a note full of "unknown" is not complete."""
    unknown = {key: {"absent": "unknown"} for key in ("odour", "pain_at_rest", "exudate_type")}
    history = History.of(record({"assessment": {**unknown, "infection_signs": {"absent": "too painful"}}}))
    found = judge(history)
    assert found.findings == ()
    said = "Complete as far as known: 3 answered unknown, 1 left out with a reason."
    assert of_verdicts([found]) == of_verdicts([of_note(found, history, "last")]) == said
    # A question that does not arise is no open one.
    history = History.of(record({"assessment": {"exudate_colour": {"absent": "not applicable"}}}))
    assert of_verdicts([judge(history)]) == "Complete."
