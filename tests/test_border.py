"""Every public function against everything that a program may hand it by mistake, and that it changes nothing.

The functions are found by ``woundfhir.__all__``, their parameters by their signatures: a new name is covered by itself.
"""

from __future__ import annotations

import dataclasses
import inspect
import io
import itertools
import traceback
from collections.abc import Callable, Iterator
from copy import deepcopy
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

import woundfhir
from woundfhir import History
from woundfhir.demo import story
from woundfhir.errors import Fault, InputError, WoundfhirError
from woundfhir.r4 import jsonio

#: Stands for whatever is a client's own. It may be in no message.
MARK = "Zacharias-4711"
FUNCTIONS = {
    name: getattr(woundfhir, name) for name in woundfhir.__all__ if inspect.isfunction(getattr(woundfhir, name))
}
CALLS: dict[str, Callable[..., Any]] = {**FUNCTIONS, "History.of": History.of}
SAMPLE = woundfhir.loads(story().decode())
ANOTHER = History.of({"woundfhir": 1, "patient": SAMPLE.patient, "visits": [{"id": "V99"}]})
BUNDLE = woundfhir.bundle(SAMPLE, "collection")
#: What stands beside a wrong argument: one visit is as sound as eight, and read fifty times for each parameter.
ONE_VISIT = History.of({**SAMPLE.data, "visits": SAMPLE.visits[:1]})
OF_ONE_VISIT = woundfhir.bundle(ONE_VISIT, "collection")


class Odd:
    """An object whose every word is a client's."""

    def __repr__(self) -> str:
        return MARK


class Broken(io.RawIOBase):
    """A file that breaks while it is read."""

    def read(self, size: int = -1) -> bytes:
        raise OSError(5, "Input/output error", MARK)


def endless() -> dict[str, Any]:
    made: dict[str, Any] = {"name": MARK}
    made["self"] = made
    return made


def deep() -> list[Any]:
    made: list[Any] = [MARK]
    for _ in range(5000):
        made = [made]
    return made


def closed() -> Any:
    made = io.BytesIO(MARK.encode())
    made.close()
    return made


_RECORD = {"woundfhir": 1, "patient": {"name": {"text": MARK}, "born": "1948-03"}}
#: What it is -> how it is made, in a folder of its own.
WRONG: dict[str, Callable[[Path], Any]] = {
    "None": lambda _: None,
    "int": lambda _: 4711,
    "float": lambda _: 4.711,
    "infinity": lambda _: float("inf"),
    "Decimal NaN": lambda _: Decimal("NaN"),
    "bool": lambda _: True,
    "empty text": lambda _: "",
    "text": lambda _: MARK,
    "sentence": lambda _: f"The wound of {MARK} is 4.2 cm long",
    "lines": lambda _: f"{MARK}\n{MARK}\n",
    "zero byte": lambda _: f"{MARK}\0",
    "half a character": lambda _: f"{MARK}\ud800",
    "huge text": lambda _: MARK * 100_000,
    "half a record": lambda _: '{"woundfhir": 1, "patient": {"name": "' + MARK,
    "record with a wrong part": lambda _: f'{{"woundfhir": 1, "patient": ["{MARK}"]}}',
    "yaml with a wrong part": lambda _: f"woundfhir: 1\npatient: [{MARK}]\n",
    "csv with a wrong part": lambda _: f"woundfhir,patient.born,{MARK}\n1,{MARK},{MARK},{MARK}\n",
    "xml with a wrong part": lambda _: f'<Patient xmlns="http://hl7.org/fhir"><active value="{MARK}"><{MARK}/>',
    "resource with a wrong part": lambda _: {"resourceType": "Observation", "status": {MARK: MARK}, "code": [MARK]},
    "unknown resource": lambda _: {"resourceType": MARK, "name": MARK},
    "resourceType of a wrong kind": lambda _: {"resourceType": [MARK]},
    "bundle of nothing": lambda _: {"resourceType": "Bundle", "type": MARK, "entry": [MARK, {"resource": MARK}]},
    "record as dict with an object": lambda _: {"woundfhir": 1, "patient": {"born": Odd()}},
    "record as dict with bytes": lambda _: {"woundfhir": 1, "patient": {"name": MARK.encode()}},
    "record as dict, wrong": lambda _: {"woundfhir": MARK, "patient": {"born": [MARK]}, "wounds": {MARK: MARK}},
    "record as dict": lambda _: deepcopy(_RECORD),
    "bytes": lambda _: MARK.encode(),
    "bytes that are no text": lambda _: b"\xff\xfe\x00" + MARK.encode() + b"\x80",
    "bytearray": lambda _: bytearray(MARK, "ascii"),
    "memoryview": lambda _: memoryview(MARK.encode()),
    "empty list": lambda _: [],
    "list": lambda _: [MARK, 4711, None],
    "list of lists": lambda _: deep(),
    "tuple": lambda _: (MARK,),
    "set": lambda _: {MARK},
    "empty dict": lambda _: {},
    "dict": lambda _: {MARK: MARK},
    "dict of odd keys": lambda _: {4711: MARK, None: MARK, Odd(): MARK},
    "dict that holds itself": lambda _: endless(),
    "object": lambda _: object(),
    "odd object": lambda _: Odd(),
    "class": lambda _: Odd,
    "function": lambda _: lambda: MARK,
    "generator": lambda _: (one for one in [MARK]),
    "date": lambda _: date(1948, 3, 9),
    "folder": lambda folder: folder,
    "folder as text": str,
    "missing file": lambda folder: folder / "missing.yaml",
    "closed file": lambda _: closed(),
    "broken file": lambda _: Broken(),
    "text file": lambda _: io.StringIO(MARK),
    "file that is no text": lambda _: io.TextIOWrapper(io.BytesIO(b"\xff" + MARK.encode()), "utf-8"),
    "history without a record": lambda _: History({}),
    "history made by hand": lambda _: History({"woundfhir": 1, "patient": MARK, "wounds": [{MARK: MARK}], "visits": 3}),
    "history changed by hand": lambda _: History({**SAMPLE.data, "visits": [{"id": 5, "wounds": [MARK]}]}),
    "history of another client": lambda _: History.of(_RECORD),
    "the content of a file": lambda _: jsonio.encode({**_RECORD, "wounds": MARK}).decode(),
}


def sound(parameter: inspect.Parameter, folder: Path, whole: bool) -> Any:
    """Return an argument that a parameter takes, by what its annotation says."""
    hint = str(parameter.annotation)
    history, bundle = (SAMPLE, BUNDLE) if whole else (ONE_VISIT, OF_ONE_VISIT)
    if "History" in hint:
        return deepcopy(history if parameter.name != "b" else ANOTHER)
    if parameter.name == "path":
        return folder / "written.yaml"
    if parameter.name == "rows":
        return [{"chart": "17", "seen": date(2026, 3, 2), "wound": "heel", "long": 4.2}]
    if parameter.name == "mapping":
        columns = {"chart": "patient.identifiers", "seen": "visit.at", "wound": "wound.id", "long": "assessment.length"}
        return {"table": 1, "column": [{"name": name, "to": to} for name, to in columns.items()]}
    if parameter.name == "raw":
        return deepcopy(history.data)
    return deepcopy(bundle) if parameter.name in ("resources", "given") else jsonio.encode(bundle)


def parameters(function: Callable[..., Any]) -> dict[str, inspect.Parameter]:
    return dict(inspect.signature(function).parameters)


def arguments(function: Callable[..., Any], folder: Path, *, whole: bool = True) -> dict[str, Any]:
    needed = {name: one for name, one in parameters(function).items() if one.default is inspect.Parameter.empty}
    return {name: sound(one, folder, whole) for name, one in needed.items()}


def run(function: Callable[..., Any], given: dict[str, Any]) -> Any:
    result = function(**given)
    return list(itertools.islice(result, 100)) if inspect.isgenerator(result) else result


def of_ours(error: BaseException) -> Iterator[str]:
    """Yield what a log of the error could hold: its words, what stands behind it, and the locals of our frames."""
    yield str(error)
    yield repr(error.args)
    yield "".join(traceback.format_exception(error))
    assert error.__cause__ is None
    for frame, _ in traceback.walk_tb(error.__traceback__):
        if "woundfhir/woundfhir" in frame.f_code.co_filename.replace("\\", "/") or frame.f_globals.get(
            "__name__", ""
        ).startswith("woundfhir."):
            yield repr({name: one for name, one in frame.f_locals.items() if name not in ("function", "hints")})


CASES = [(name, parameter, wrong) for name, one in CALLS.items() for parameter in parameters(one) for wrong in WRONG]


@pytest.mark.parametrize(("name", "parameter"), sorted({case[:2] for case in CASES}))
def test_no_wrong_argument_gets_a_value_into_a_message(
    name: str, parameter: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    function = CALLS[name]
    for what, make in WRONG.items():
        folder = tmp_path / what.replace(" ", "-")
        folder.mkdir()
        monkeypatch.chdir(folder)
        given = {**arguments(function, folder, whole=False), parameter: make(folder)}
        try:
            run(function, given)
        except WoundfhirError as error:
            assert not isinstance(error, Fault), (what, str(error))
            for text in of_ours(error):
                assert MARK not in text, (what, text[:2000])
                assert len(text) < 20_000, what
            assert error.__context__ is None, what


@pytest.mark.parametrize("name", sorted(CALLS))
def test_misspelt_and_missing_arguments_are_pythons_type_error(name: str, tmp_path: Path) -> None:
    with pytest.raises(TypeError, match="unexpected keyword argument 'optoin'"):
        CALLS[name](**arguments(CALLS[name], tmp_path), optoin=1)
    with pytest.raises(TypeError, match="missing a required argument"):
        CALLS[name]()


def boxes(value: Any, seen: set[int]) -> Iterator[Any]:
    """Yield every dict and list that can be reached from a result."""
    if id(value) in seen:
        return
    seen.add(id(value))
    if isinstance(value, dict | list):
        inside = list(value.values()) if isinstance(value, dict) else list(value)
        yield value
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        inside = [getattr(value, one.name) for one in dataclasses.fields(value)]
    else:
        inside = list(value) if isinstance(value, tuple) else []
    for one in inside:
        yield from boxes(one, seen)


def shown(result: Any) -> str:
    return repr(result)


@pytest.mark.parametrize("name", sorted(CALLS))
def test_nothing_that_goes_in_is_changed_and_nothing_that_comes_out_is_shared(name: str, tmp_path: Path) -> None:
    function = CALLS[name]
    given = arguments(function, tmp_path)
    before = deepcopy(given)
    first = run(function, given)
    assert given == before
    said = shown(first)
    for box in list(boxes(first, set())):
        box.clear()
    assert given == before, "a part of the result is a part of what went in"
    again = {**given, "force": True} if "force" in parameters(function) else given
    assert shown(run(function, again)) == said, "a part of the result is a part of a cache"
    assert given == before


def test_a_fault_of_ours_says_where_and_no_value() -> None:
    def broken(history: History) -> None:
        raise KeyError(MARK)

    from woundfhir.border import guarded

    with pytest.raises(Fault) as caught:
        guarded(broken)(SAMPLE)
    assert all(MARK not in text for text in of_ours(caught.value))
    assert str(caught.value).startswith("a fault of ours: KeyError (")


def test_a_generator_is_guarded_at_each_step() -> None:
    def steps(count: int) -> Iterator[int]:
        yield count
        raise ValueError(MARK)

    from woundfhir.border import guarded

    found = guarded(steps)(3)
    assert next(found) == 3
    with pytest.raises(Fault) as caught:
        next(found)
    assert all(MARK not in text for text in of_ours(caught.value))
    with pytest.raises(InputError, match="steps, count: it is of type str; expected int"):
        guarded(steps)("3")  # type: ignore[arg-type]


def test_what_a_result_shows_of_itself_holds_no_value() -> None:
    marker = "MARK4711"
    record = {
        "woundfhir": 1,
        "patient": {"name": {"family": marker}, "identifiers": [{"system": "urn:x", "value": marker}]},
        "wounds": [{"id": "W1", "place": marker}],
    }
    fhir = {"resourceType": "Patient", "id": marker, "name": [{"family": marker}], "maritalStatus": {"text": marker}}
    for given in (record, fhir):
        found = woundfhir.read(given)
        for shown in (
            found,
            found.history,
            found.report,
            [found.history],
            woundfhir.merge(found.history, found.history),
        ):
            assert marker not in repr(shown), type(shown)
