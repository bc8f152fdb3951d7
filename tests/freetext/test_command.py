"""``woundfhir read-text``: exit codes, what stands on which stream, refusals."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from woundfhir.cli import cli, run

CLEAN = "Size 4.1 x 3 x 0.4 cm. Odour: none. Periwound intact."


def call(text: str, *args: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(cli, ["read-text", "-", *args], input=text.encode(), standalone_mode=False)
    assert result.exception is None
    return int(result.return_value or 0), result.stdout, result.stderr


def test_a_text_that_is_all_read_gives_0_and_each_answer_its_words() -> None:
    code, out, err = call(CLEAN)
    assert code == 0 and err == "5 certain, 0 likely, 0 to ask; hazards to ask about: 0; pieces not read: 0.\n"
    assert '      length: 4.1 cm  # "Size 4.1 x 3 x 0.4 cm"\n' not in out  # its words begin at the numbers
    assert '      length: 4.1 cm  # "4.1 x 3 x 0.4 cm"\n' in out and '      odour: none  # "Odour: none"\n' in out


def test_a_hazard_stands_first_in_the_draft_and_on_standard_error_and_gives_1() -> None:
    code, out, err = call(CLEAN + " Redness spreading past the pen mark.")
    assert code == 1 and "# ASK NOW, Signs of infection: " in out and err.startswith("Ask now, Signs of infection: ")
    assert "pen mark" not in err  # no word of the client on standard error


def test_what_is_less_than_certain_or_not_read_stands_in_comments_and_gives_1() -> None:
    code, out, _ = call("Pain 3/10. Gave tea.")
    assert code == 1
    assert "    # pain_at_rest: '3'  # likely, at rest, or at the change?: \"Pain 3/10\"\n" in out
    assert '# Not read: "Gave tea"\n' in out


def test_json_holds_the_draft_the_readings_and_the_rest() -> None:
    code, out, _ = call(CLEAN + " Fever.", "--format", "json")
    said = json.loads(out)
    assert code == 1 and said.keys() == {"version", "note", "readings", "hazards", "unread"}
    first = said["readings"][0]
    assert (first["path"], first["value"], first["certainty"]) == ("assessment.length", "4.1 cm", "certain")
    assert [one["key"] for one in said["hazards"]] == ["infection"]


def test_the_draft_goes_to_a_file_and_never_over_another(tmp_path: Path) -> None:
    (tmp_path / "note.txt").write_text(CLEAN, "utf-8")
    args = ["read-text", str(tmp_path / "note.txt"), "-o", str(tmp_path / "draft.yaml")]
    assert run(args) == 0 and run(args) == 2
    assert run(["check", str(tmp_path / "draft.yaml"), "--fail-on", "never"]) == 0


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"x" * 30_000])
def test_what_cannot_be_read_is_refused_in_one_line(
    content: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "note.txt").write_bytes(content)
    assert run(["read-text", str(tmp_path / "note.txt")]) == 2
    assert run(["read-text", str(tmp_path / "nowhere.txt")]) == 2
    said = capsys.readouterr()
    assert said.out == "" and len(said.err.splitlines()) == 2
