"""``check`` of many clients as a stream; the oracle is the way that reads an input as a whole."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest

from tests.bulk.clients import CLIENTS, client, lines
from woundfhir.output import dumps

Json = Any


@pytest.fixture(params=["ndjson", "record-ndjson"])
def many(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    path = tmp_path / "many.ndjson"
    records = "".join(dumps(client(number), format="record-ndjson") for number in range(CLIENTS)).encode()
    path.write_bytes(lines(*range(CLIENTS)) if request.param == "ndjson" else records)
    return path


def read(out: str) -> list[Json]:
    return [json.loads(line) for line in out.splitlines()]


@pytest.mark.parametrize("workers", [1, 2])
def test_the_findings_are_those_of_the_whole(said: Any, many: Path, workers: int) -> None:
    code, out, _ = said("check", many, "--format", "json", "--ignore", "CO11=local policy")
    streamed = said("check", many, "--format", "ndjson", "--ignore", "CO11=local policy", "--workers", workers)
    assert streamed[0] == code == 1
    assert read(streamed[1]) == json.loads(out)["findings"] != []
    assert len({one["input"] for one in read(streamed[1])}) == CLIENTS
    assert "7 clients, 14 visits" in streamed[2]


def test_ndjson_is_the_same_whether_or_not_it_is_a_stream(said: Any, many: Path) -> None:
    whole = said("check", many, "--format", "ndjson")
    assert said("check", many, "--format", "ndjson", "--workers", 2)[:2] == whole[:2]


def test_resources_of_a_client_are_judged_together_wherever_they_stand(said: Any, tmp_path: Path) -> None:
    folder = tmp_path / "scattered"
    folder.mkdir()
    text = lines(*range(CLIENTS)).splitlines(keepends=True)
    random.Random(7).shuffle(text)
    for number in range(3):
        (folder / f"{number}.ndjson").write_bytes(b"".join(text[number::3]))
    (tmp_path / "one.ndjson").write_bytes(lines(*range(CLIENTS)))
    orders = []
    for source in (folder, tmp_path / "one.ndjson"):
        by_client: dict[str, list[str]] = {}
        for one in read(said("check", source, "--format", "ndjson", "--workers", 2)[1]):
            by_client.setdefault(one["input"], []).append(f"{one['rule']} {one['wound']} {one['message']}")
        orders.append(sorted(sorted(found) for found in by_client.values()))
    assert orders[0] == orders[1]
    assert len(orders[0]) == CLIENTS


def test_text_has_the_short_report_of_each_client_under_its_name(said: Any, many: Path, tmp_path: Path) -> None:
    code, out, _ = said("check", many, "--workers", 2)
    assert code == 1
    assert said("check", many, "--workers", 1)[1] == out
    reports = out.split("\n\n")[:-1]
    assert len(reports) == CLIENTS
    for number, report in enumerate(reports):
        alone = tmp_path / f"{number}.ndjson"
        alone.write_bytes(lines(number))
        name, _, rest = report.partition("\n")
        assert name.startswith(str(many))
        if "client" in name.removeprefix(str(many)):
            assert rest + "\n" == said("check", alone)[1]


def test_a_broken_line_is_listed_and_the_others_are_judged(said: Any, many: Path, tmp_path: Path) -> None:
    good = said("check", many, "--format", "ndjson", "--fail-on", "never", "--workers", 2)
    assert good[0] == 0
    many.write_bytes(many.read_bytes() + b'{"resourceType": \n' if b'"resourceType"' in many.read_bytes() else
                     many.read_bytes() + b'{"woundfhir": \n')  # fmt: skip
    last = len(many.read_bytes().splitlines())
    errors, out = tmp_path / "errors.tsv", tmp_path / "out.txt"
    ended = said("check", many, "--format", "ndjson", "--workers", 2, "-o", out)
    assert ended[0] == 2
    assert f"line {last}" in ended[2]
    assert not out.exists()
    ended = said("check", many, "--format", "ndjson", "--fail-on", "never", "--errors", errors, "-o", out)
    assert (ended[0], out.read_text()) == (1, good[1])
    _, line = errors.read_text().splitlines()
    assert line.split("\t")[:2] == [str(many), str(last)]


@pytest.mark.parametrize("more", [("--format", "json"), ("--patient", "1"), ("--visit", "last")])
def test_options_that_a_stream_does_not_serve_are_refused(
    said: Any, many: Path, tmp_path: Path, more: tuple[str, ...]
) -> None:
    code, out, err = said("check", many, "--errors", tmp_path / "errors.tsv", *more)
    assert (code, out) == (2, "")
    assert "--errors: expected --format text or ndjson" in err
    assert not (tmp_path / "errors.tsv").exists()
