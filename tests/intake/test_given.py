"""What a Python program may give: content, paths, open files, decoded data; and what is none of these.

Common practice of Python (os.PathLike, the buffer protocol, io); no source outside. The record says a birth date.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.intake.foreign.inputs import client, length
from tests.intake.two_clients import ref
from woundfhir import InputError, read, read_many
from woundfhir.intake import source
from woundfhir.intake.given import loads

NOTE = "woundfhir: 1\npatient: {born: 1948-03}\n"
DATA = {"woundfhir": 1, "patient": {"born": "1948-03"}}


def born(found: Any) -> list[str]:
    return [one.history.patient["born"] for one in found]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "note.yaml").write_text(NOTE, "utf-8")
    (tmp_path / "picture.png").write_bytes(b"\x89PNG")
    return tmp_path


class Named(io.BytesIO):
    name = "note.yaml"


FORMS: dict[str, Callable[[Path], Any]] = {
    "text": lambda _: NOTE,
    "bytes": lambda _: NOTE.encode(),
    "a bytearray": lambda _: bytearray(NOTE.encode()),
    "a memoryview": lambda _: memoryview(NOTE.encode()),
    "a path": lambda folder: folder / "note.yaml",
    "a path as text": lambda folder: str(folder / "note.yaml"),
    "a folder": lambda folder: folder,
    "a folder as text": str,
    "an open file": lambda _: io.BytesIO(NOTE.encode()),
    "an open file with a name": lambda _: Named(NOTE.encode()),
    "an open text": lambda _: io.StringIO(NOTE),
    "a dict": lambda _: DATA,
    "a resource": lambda _: client(),
}


@pytest.mark.parametrize("name", FORMS)
def test_each_form_is_read_alone_and_in_a_list(name: str, folder: Path) -> None:
    assert read(FORMS[name](folder)).history.patient["born"] == "1948-03"
    assert born(read_many(FORMS[name](folder))) == ["1948-03"]
    assert born(read_many([NOTE, FORMS[name](folder)])) == ["1948-03", "1948-03"]


@pytest.mark.parametrize("more", [0, 1])
def test_an_open_text_is_read_up_to_the_limit_and_refused_beyond_it(more: int, monkeypatch: pytest.MonkeyPatch) -> None:
    text = NOTE.rstrip("}\n") + " " * more + "}"  # half of it would be no record; of odd and of even length
    monkeypatch.setattr(source, "LIMIT", len(text))
    assert read(io.StringIO(text)).history.patient["born"] == "1948-03"
    monkeypatch.setattr(source, "LIMIT", len(text) - 1)
    with pytest.raises(InputError, match="at most"):
        read(io.StringIO(text))


@pytest.mark.parametrize("content", [NOTE, NOTE.encode(), bytearray(NOTE.encode()), memoryview(NOTE.encode())])
def test_content_is_loaded(content: Any) -> None:
    assert loads(content).patient == loads(content, format="record").patient == {"born": "1948-03"}
    with pytest.raises(InputError, match="content"):
        loads(content, format="fhir-json")


@pytest.mark.parametrize("given", [Path("note.yaml"), DATA, [client()], io.StringIO(NOTE), None, 5])
def test_what_is_no_content_is_not_loaded(given: Any) -> None:
    with pytest.raises(InputError, match="For a path or decoded data take `read`"):
        loads(given)


REFUSED: dict[str, tuple[Any, str]] = {
    "a number": (5, "it is of type int"),
    "nothing": (None, "it is None"),
    "no resource": ([], "a list of FHIR resources, each a dict"),
    "a list of texts": ([NOTE], "or holds one of a wrong type"),
    "a resource and a text": ([client(), NOTE], "or holds one of a wrong type"),
    "a file that is not there": (Path("nowhere.yaml"), "nowhere.yaml: there is no such file"),
    "the name of a file that is not there": ("nowhere.yaml", "nowhere.yaml: there is no such file"),
    "words": ("Ann Doe is better", "neither the content of one nor the name of a file that is there"),
    "no words": ("", "neither the content of one nor the name of a file that is there"),
    "two lines with an ending": ("Ann Doe\nnote.yaml", "neither the content of one nor the name"),
    "half a character": ("\ud800", "Take out halves of characters"),
    "a name with a zero byte": (Path("note\x00.yaml"), "there is no such file"),
    "a name that is too long": (Path("n" * 5000), "it cannot be read (File name too long)"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_none_of_them_is_refused_and_not_repeated(name: str) -> None:
    given, words = REFUSED[name]
    with pytest.raises(InputError) as caught:
        read(given)
    assert words in str(caught.value) and "Ann Doe" not in str(caught.value)


@pytest.mark.parametrize("count", [0, 2])
def test_a_folder_is_read_as_one_record_where_it_holds_one(count: int, tmp_path: Path) -> None:
    for number in range(count):
        (tmp_path / f"{number}.yaml").write_text(NOTE, "utf-8")
    words = "it holds 2 records" if count else "a folder with records in it"
    with pytest.raises(InputError, match=words):
        read(tmp_path)
    if count:
        assert born(read_many(tmp_path)) == ["1948-03", "1948-03"]


def test_each_of_several_is_called_by_its_name_else_by_its_number(folder: Path) -> None:
    given = [DATA, NOTE.encode(), folder / "note.yaml", Named(NOTE.encode()), NOTE]
    names = [one.name for one in read_many(given)]
    assert names == ["input", "input 2", str(folder / "note.yaml"), "note.yaml", "text"]


def test_resources_given_one_by_one_are_one_input() -> None:
    found = list(read_many([client(), length("l", 4)]))
    assert [one.history.patient["born"] for one in found] == ["1948-03"]
    assert len(found[0].history.visits) == 1
    allergy = {"resourceType": "AllergyIntolerance", "id": "a", "patient": ref("Patient/p"), "code": {"text": "honey"}}
    assert [len(one.history.patient["allergies"]) for one in read_many([client(), allergy])] == [1]


@pytest.mark.parametrize("given", [5, None])
def test_what_cannot_be_gone_through_is_refused(given: Any) -> None:
    with pytest.raises(InputError, match="read_many, given: it is "):
        list(read_many(given))


def test_a_record_has_a_report_and_says_which_keys_it_does_not_have() -> None:
    history, report = read({**DATA, "odd": 1, "visits": [{"id": "V1", "odd": "x"}]})
    assert {one.path for one in report.items} == {"odd", "visits[0].odd"} == {one["place"] for one in history.extra}
    assert (report.understood, len(report)) == (2, 2)
    assert len(read(DATA).report) == 0


def test_what_a_program_gave_is_not_changed() -> None:
    came = [client(), length("l", 4, of=ref("Patient/p"))]
    kept = [dict(one) for one in came]
    history, _ = read(came)
    history.patient["born"] = "1950"
    assert came == kept
