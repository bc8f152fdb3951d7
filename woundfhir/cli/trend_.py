"""``woundfhir trend``: how a wound's size has changed, as a table, as data, as a chart."""

from __future__ import annotations

import csv
import io
import sys
import textwrap
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from woundfhir.cli import narrow, options
from woundfhir.cli.texts import words
from woundfhir.errors import InputError
from woundfhir.language import decimal_mark

if TYPE_CHECKING:
    from woundfhir.handover.numbers import Numbers
    from woundfhir.intake.inputs import Input
    from woundfhir.measures.course import Course, Point
    from woundfhir.record import History

    OfClient = tuple[Input, list[tuple[History, Course, Numbers]]]

Json = Any


@click.command()
@options.inputs
@options.patient
@options.strict
@options.guard_formulas
@click.option("--wound", "wounds", multiple=True)
@click.option("--policy", show_default="ontario, or that of --site")
@click.option("--format", "form", type=click.Choice(["text", "json", "csv"]), default="text", show_default=True)
@click.option("--svg", type=click.Path(path_type=Path))
@options.force
def command(
    inputs: tuple[str, ...],
    patient: str | None,
    strict: bool,
    wounds: tuple[str, ...],
    policy: str | None,
    form: str,
    svg: Path | None,
    force: bool,
) -> int:
    """Show the course of each wound in IN: sizes, change, breaks, cut-offs with their source."""
    from woundfhir.intake.choosing import chosen
    from woundfhir.intake.source import read_all

    clients = [one for one in chosen(read_all(inputs), patient) if one.of_client]
    code = options.exit_code(*clients, strict=strict)
    for one in clients:
        options.tell_losses(one.name, one.losses, one.report)
    _refuse_unknown(clients, wounds)
    found = [(one, _courses(one.history, wounds, policy)) for one in clients]
    if svg is not None:
        _draw([of_wound for _, several in found for of_wound in several], svg, force)
    if svg != options.STDOUT:
        {"json": _as_json, "csv": _as_csv}.get(form, _as_text)(found)
    return code


def _as_json(found: list[OfClient]) -> None:
    from woundfhir.r4 import jsonio

    rows = []
    for number, (one, courses) in enumerate(found, 1):
        named = {"client": number, "record": one.name} if len(found) > 1 else {}
        rows += [{**named, **_data(course, numbers)} for _, course, numbers in courses]
    click.echo(jsonio.encode_readable({"version": 1, "wounds": rows}).decode(), nl=False)


def _as_csv(found: list[OfClient]) -> None:
    courses = [(number, course) for number, (_, several) in enumerate(found, 1) for _, course, _ in several]
    click.echo(_csv(courses, len(found) > 1), nl=False)


def _as_text(found: list[OfClient]) -> None:
    for number, (one, courses) in enumerate(found, 1):
        if len(found) > 1:
            options.tell(words("trend.client", number=number, all=len(found), name=one.name))
        for of_wound in courses:
            _print(*of_wound)


def _wanted(history: History, wounds: tuple[str, ...]) -> list[str]:
    return [wound["id"] for wound in history.wounds if not wounds or wound["id"] in wounds]


def _refuse_unknown(clients: list[Input], wounds: tuple[str, ...]) -> None:
    ids = [wound["id"] for one in clients for wound in one.history.wounds]
    if missing := [wound for wound in wounds if wound not in ids]:
        raise InputError(
            "--wound",
            "the id of a wound of this record" if len(clients) == 1 else "the id of a wound of one of these records",
            f"It holds {len(ids)} wound(s); {len(missing)} named here is not among them",
        )


def _courses(history: History, wounds: tuple[str, ...], policy: str | None) -> list[tuple[History, Course, Numbers]]:
    from woundfhir.chart import open_record
    from woundfhir.handover.course import course_of
    from woundfhir.handover.numbers import numbers_of

    record = open_record(history)
    return [
        (history, course_of(history, wound, policy), numbers_of(record, wound, policy))
        for wound in _wanted(history, wounds)
    ]


def _draw(found: list[tuple[History, Course, Numbers]], path: Path, force: bool) -> None:
    from woundfhir.handover.course import pictures

    if len(found) != 1:
        raise InputError("--svg", "one wound", "Choose it with --wound, and its client with --patient")
    history, course, _ = found[0]
    chart, face = pictures(history, course)
    files = {path: chart}
    if face is not None and path != options.STDOUT and path.name:
        files[path.with_name(f"{path.stem}-clock{path.suffix}")] = face
    options.emit_all(files, force)


def _print(history: History, course: Course, numbers: Numbers) -> None:
    from woundfhir.handover.course import called
    from woundfhir.handover.numbers import numbers_rows
    from woundfhir.measures.words import cut_off_text
    from woundfhir.record.labels import Labels

    wound = history.wound(course.wound) or {}
    names = Labels(history)
    options.tell(words("trend.wound", wound=names.wound(course.wound), name=called(wound, ", ")))
    if not course.points:
        click.echo(f"  {words('trend.nothing')}")
    else:
        _table(course)
        _change(course)
    for label, said in numbers_rows(numbers):
        _labelled(label, said)
    for threshold, reached in course.thresholds:
        missed = words("trend.not_reached") if reached is False else None
        said = words("trend.cut_off_words", words=cut_off_text(threshold, reached, missed), source=threshold.source)
        _row("cut_off", said)
    for remark in course.remarks:
        _row("look_at", words("trend.remark", visit=names.visit(remark.visit), words=remark.message))
    click.echo("")


def _change(course: Course) -> None:
    from woundfhir.drawing import spark
    from woundfhir.measures.rounding import percent_text, volume_text

    ascii_only = (getattr(sys.stdout, "encoding", "") or "").lower().replace("-", "") != "utf8"
    newest = course.points[-1]
    _row("area", spark([p.area for p in course.points], ascii_only=ascii_only))
    _row("measured", newest.way)
    since, rate = percent_text(course.since_first), _rate(course.advance)
    _row("since_first", words("trend.since_first_words", change=since, rate=rate))
    _row("last_weeks", f"{percent_text(course.last_four_weeks)}{_halving(course.half_life)}")
    if newest.volume is not None:
        _row("volume", words("trend.volume_words", volume=volume_text(newest.volume, newest.volume_digits)))
    _row("projection", _projection(course))


def _row(key: str, said: str) -> None:
    _labelled(words(f"trend.{key}"), said)


def _labelled(label: str, said: str) -> None:
    """Write words behind their label, in lines that fit."""
    parts = textwrap.wrap(said, narrow.width() - 15, break_long_words=False, break_on_hyphens=False)
    for number, part in enumerate(parts or [said]):
        options.tell(f"  {'' if number else label:<12} {part}")


def _table(course: Course) -> None:
    from woundfhir.measures.points import compared
    from woundfhir.measures.rounding import area_number, length_text, percent_text

    breaks: dict[str, list[str]] = {}
    for one in course.breaks:
        breaks.setdefault(one.before, []).append(one.reason)
    head = [words(f"trend.head_{key}") for key in ("date", "length", "width", "depth", "area", "since")]
    click.echo("  {:<10} {:>9} {:>9} {:>9} {:>12}   {}".format(*head))
    before: dict[str, Point] = {}
    for place, point in enumerate(course.points):
        for reason in breaks.get(point.visit, ()):
            options.tell(f"  ---------- {reason} ----------")
        last = before.get(point.way)
        percent = None if last is None else compared(last, point)[0]
        moved = "" if percent is None else percent_text(percent)
        asked = words("trend.asked") if place in course.larger else ""
        length, width, depth = (length_text(value, digits) or "-" for value, digits in point.sides)
        area = decimal_mark(f"{area_number(point.area, point.area_digits):f}")
        options.tell(f"  {point.date} {length:>9} {width:>9} {depth:>9} {area:>12}   {moved}{asked}".rstrip())
        before[point.way] = point


def _halving(weeks: Decimal | None) -> str:
    return "" if weeks is None else words("trend.halving", weeks=decimal_mark(f"{weeks:.1f}"))


def _rate(value: Decimal | None) -> str:
    from woundfhir.measures.rounding import percent_text

    if value is None:
        return percent_text(None)
    return words("trend.rate", value=decimal_mark(f"{value:.2f}"))


def _projection(course: Course) -> str:
    made = course.projection
    if made.days is None:
        return words("trend.no_projection", reason=made.reason)
    return words("trend.line", days=f"{made.days:.0f}")


def _data(course: Course, numbers: Numbers) -> dict[str, Json]:
    from woundfhir.measures.rounding import area_number
    from woundfhir.measures.rounding import to_places as _round

    made = course.projection
    return {
        "wound": course.wound,
        "points": [
            {
                "visit": p.visit,
                "at": p.at,
                **_sizes(p),
                "volume_cm3": None if p.volume is None else area_number(p.volume, p.volume_digits),
                "way": p.way,
            }
            for p in course.points
        ],
        "breaks": [{"before": b.before, "reason": b.reason} for b in course.breaks],
        "percent_since_first": _round(course.since_first),
        "percent_since_last": _round(course.since_last),
        "percent_four_weeks": _round(course.four_weeks),
        "percent_last_four_weeks": _round(course.last_four_weeks),
        "advance_cm_per_week": _round(course.advance, 4),
        "log_rate_per_week": _round(course.rate, 6),
        "half_life_weeks": _round(course.half_life, 2),
        "larger_than_before": [course.points[place].visit for place in course.larger],
        "arithmetical_projection": {"days": _round(made.days, 1), "r": _round(made.r, 4), "reason": made.reason},
        "cut_offs": [
            {"percent": t.percent, "weeks": t.weeks, "source": t.source, "reached": reached}
            for t, reached in course.thresholds
        ],
        "days_open": None if numbers.open is None else {"least": numbers.open.least, "most": numbers.open.most},
        "infection_signs": None
        if numbers.signs is None
        else {"local": numbers.signs.local, "deep": numbers.signs.deep, "at": numbers.signs_at},
        "push_total": None if numbers.push is None else {"total": numbers.push, "at": numbers.push_at},
        "remarks": [{"code": r.code, "visit": r.visit, "message": r.message} for r in course.remarks],
    }


def _sizes(point: Point) -> dict[str, Decimal | None]:
    """Sides in cm as charted, with the digits charted where they were converted; the area as every reader sees it."""
    from woundfhir.measures.rounding import area_number, rounded

    keys = ("length_cm", "width_cm", "depth_cm")
    made = {
        key: None if value is None else rounded(value, digits)
        for key, (value, digits) in zip(keys, point.sides, strict=True)
    }
    return {**made, "area_cm2": area_number(point.area, point.area_digits)}


def _csv(courses: Iterable[tuple[int, Course]], several: bool) -> str:
    from woundfhir.record.guarded import cells

    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(
        [
            *(["client"] if several else []),
            "wound",
            "visit",
            "at",
            "length_cm",
            "width_cm",
            "depth_cm",
            "area_cm2",
            "way",
        ]
    )
    for number, course in courses:
        for p in course.points:
            sizes = ("" if v is None else f"{v:f}" for v in _sizes(p).values())
            writer.writerow(cells([*([number] if several else []), course.wound, p.visit, p.at, *sizes, p.way]))
    return out.getvalue()
