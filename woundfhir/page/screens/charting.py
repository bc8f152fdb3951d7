"""One wound at one visit: shown, changed touch by touch, signed; an amendment of a signed note."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from starlette.responses import HTMLResponse, JSONResponse, Response

from woundfhir.chart.views import WoundView
from woundfhir.checklist.one_more import OneMore
from woundfhir.errors import InputError
from woundfhir.handover.summary.wound import WoundSummary
from woundfhir.page import touches
from woundfhir.page.bedside import on_a_form, scope_of
from woundfhir.page.draft import (
    REASON,
    SUFFIX,
    VISIT,
    Conflict,
    Draft,
    aside,
    begin,
    changing,
    drafts,
    read,
    throw_away,
)
from woundfhir.page.fields import every_list
from woundfhir.page.folder import Client
from woundfhir.page.last import before
from woundfhir.page.missing import missing
from woundfhir.page.noted import as_draft, as_it_stands, note, reason_of, refuse_amended, with_note, wounds_of
from woundfhir.page.screens.common import Asked, goto, wound_of
from woundfhir.page.shape import shape
from woundfhir.page.sight import Sight
from woundfhir.page.visit import Shown, steps, walk
from woundfhir.record import History, dates
from woundfhir.storage import locked

Json = Any


def show(asked: Asked) -> Response:
    """The form of one wound."""
    one, wound, draft = _placed(asked)
    by, at = _signature(asked, one)
    begun = wound.id in draft.values  # a wound that is only looked at does not come into the note
    if begun and touches.stable(_sight(asked, one, wound, draft), by, at):
        with changing(one.drafts, draft.id) as draft:
            touches.stable(_sight(asked, one, wound, draft), by, at)
    return _form(asked, one, wound, draft, [])


def _form(asked: Asked, one: Client, wound: WoundView, draft: Draft, conflicts: list[Conflict]) -> Response:
    sight = _sight(asked, one, wound, draft)
    shown = steps(sight)
    summary = WoundSummary(wound)
    return asked.show(
        "visit.html",
        client=one,
        wound=wound,
        summary=summary,
        draft=draft,
        steps=shown,
        shape=shape(sight),
        lists=every_list(field for step in shown for part in step.parts for field in part.fields),
        begun=wounds_of(draft),
        wounds=[WoundSummary(each) for each in one.view().wounds if not each.in_error],
        numbers={each.id: number for number, each in enumerate(one.view().wounds)},
        patient=one.history().patient,
        found=_found(asked, one, wound, draft) if not asked.query("quick") else None,
        targets=_targets(one, draft),
        conflicts=conflicts,
        care=any(part.care and part.state == "ask" for step in shown for part in step.parts),
    )


def _placed(asked: Asked) -> tuple[Client, WoundView, Draft]:
    one = asked.client
    return one, wound_of(asked), read(one.drafts / f"{asked.draft}{SUFFIX}")


def _signature(asked: Asked, one: Client) -> tuple[str, str]:
    """Who changes something, and when."""
    return str(asked.author.get("name", "")), asked.page.instant(one.history())


def _sight(asked: Asked, one: Client, wound: WoundView, draft: Draft) -> Sight:
    history, view = one.history(), one.view()
    visit = note(draft, history, asked.author, asked.page.instant(history), wound.id)
    entry = as_it_stands(view, history, visit, wound.id)
    also = tuple(one for one in asked.query("open").split(",") if one)
    amended = draft.head.get("replaces", "")
    last = one.kept(f"last {wound.index} {amended}", lambda: before(view, wound, amended))
    packing = one.kept(f"packing {wound.index}", lambda: WoundSummary(wound).packing)
    return Sight(draft, wound.id, entry, last, packing, also)


def _found(asked: Asked, one: Client, wound: WoundView, draft: Draft) -> Any:
    history = one.history()
    visit = note(draft, history, asked.author, asked.page.instant(history))
    number = next((n for n, each in enumerate(visit.get("wounds", ())) if each["wound"] == wound.id), None)
    amended = visit.get("replaces")
    before = one.kept(f"one more {amended}", lambda: OneMore(history, amended))
    return missing(before.verdict(visit), number)


# -- touches ---------------------------------------------------------------------------------------


def change(asked: Asked) -> Response:
    """Take in what was touched or typed; nothing that somebody else has changed since is written over."""
    one, wound, _ = _placed(asked)
    seen = asked.number("seen")
    by, at = _signature(asked, one)
    with changing(one.drafts, asked.draft) as draft:
        was = steps(_sight(asked, one, wound, draft)) if asked.by_script else []
        conflicts = []
        for scope, sent in _sent(asked, wound.id).items():
            conflicts += draft.send(scope, sent, seen, by, at)
        if do := asked.text("do"):
            touches.do(do, _sight(asked, one, wound, draft), by, at)
        touches.stable(_sight(asked, one, wound, draft), by, at)
    if asked.by_script:
        return _parts(asked, one, wound, draft, conflicts, was)
    if conflicts:
        return _form(asked, one, wound, draft, conflicts)
    return goto("c", one.key, "d", draft.id, asked.path["wound"], anchor=asked.text("here"))


def _sent(asked: Asked, wound: str) -> dict[str, dict[str, list[str]]]:
    """What the form holds: scope -> field -> values; a field that is named and has none was emptied."""
    out: dict[str, dict[str, list[str]]] = {}
    for name in dict.fromkeys(asked.form.get("_n", [])):
        if not on_a_form(name):
            raise InputError("the form", "a field of this page", "Load the page again")
        out.setdefault(scope_of(name, wound), {})[name] = asked.form.get(name, [])
    return out


def _parts(
    asked: Asked, one: Client, wound: WoundView, draft: Draft, conflicts: list[Conflict], was: Iterable[Shown]
) -> Response:
    """What has changed on the screen: the step that was touched, and every step that shows other fields now."""
    sight = _sight(asked, one, wound, draft)
    now, seen = steps(sight), shape(sight)
    looks = {step.key: _look(step) for step in was}
    touched = {*asked.form.get("whole", []), *([asked.text("step")] if asked.text("do") else [])}
    if asked.text("do").partition(":")[0] in ("take", "keep"):  # what stands now is shown wherever it stands
        touched = {step.key for step in now}
    values = {"client": one, "draft": draft, "wound": wound, "shape": seen}
    changed = {
        step.key: asked.part("step.html", step=step, **values)
        for step in now
        if step.key in touched or looks.get(step.key) != _look(step)
    }
    said = asked.part("conflicts.html", conflicts=conflicts, **values) if conflicts else ""
    care = any(part.care and part.state == "ask" for step in now for part in step.parts)
    places = {"area": asked.part("area.html", shape=seen), "drawn": seen.face}
    return JSONResponse({"number": draft.number, "steps": changed, "conflicts": said, "care": care, "places": places})


def _look(step: Shown) -> list[Any]:
    return [
        (
            part.key,
            part.state,
            part.said,
            part.more,
            [(one.name, one.offers, len(one.choices), one.answered) for one in walk(part.fields)],
        )
        for part in step.parts
    ]


def lacks(asked: Asked) -> Response:
    """What the note lacks, as it stands: a part of the screen."""
    one, wound, draft = _placed(asked)
    found = _found(asked, one, wound, draft)
    return HTMLResponse(
        asked.part("missing.html", found=found, client=one, draft=draft, wound=wound, targets=_targets(one, draft))
    )


def _targets(one: Client, draft: Draft) -> list[int]:
    """The numbers in the record of the wounds of a note, in its order."""
    numbers = {each.id: number for number, each in enumerate(one.view().wounds)}
    return [numbers[wound] for wound in wounds_of(draft) if wound in numbers]


# -- the end ---------------------------------------------------------------------------------------


def sign(asked: Asked) -> Response:
    """Sign the note: it goes into the record; what is missing is shown before."""
    if (done := _signed_already(asked)) is not None:
        return _to_signed(asked, done)
    one, wound, draft = _placed(asked)
    if not asked.author:
        return goto_who(asked)
    if draft.head.get("replaces") and not (reason := asked.text("reason") or reason_of(draft)):
        return asked.show(
            "sign.html",
            client=one,
            draft=draft,
            wound=wound,
            found=_found(asked, one, wound, draft),
            targets=_targets(one, draft),
        )
    found = _found(asked, one, wound, draft)
    if found.number and not asked.text("sure"):
        return asked.show("sign.html", client=one, draft=draft, wound=wound, found=found, targets=_targets(one, draft))
    with locked(one.drafts, patience=10):
        draft = read(one.drafts / f"{asked.draft}{SUFFIX}")
        if draft.number != (asked.number("seen") or draft.number):
            return asked.show(
                "sign.html",
                client=one,
                draft=draft,
                wound=wound,
                found=found,
                changed=True,
                targets=_targets(one, draft),
            )
        if draft.head.get("replaces"):
            draft.of(VISIT)[REASON] = [reason]
        written = asked.page.instant(one.history())
        after = one.change(lambda history: with_note(history, note(draft, history, asked.author, written)))
        aside(one.drafts, draft.id, "signed")
    return _to_signed(asked, after.visits[-1]["id"])


def _signed_already(asked: Asked) -> str | None:
    """Return the note that a draft has become: the button was touched twice, or an old screen is still open."""
    one = asked.client
    if (one.drafts / f"{asked.draft}{SUFFIX}").exists():
        return None
    kept = sorted(one.drafts.glob(f"{asked.draft}-*.signed"), key=lambda path: path.stat().st_mtime)
    at = dates.moment(read(kept[-1]).head.get("at")) if kept else None
    visits = reversed(one.history().visits)
    return next((each["id"] for each in visits if at is not None and dates.moment(each.get("at")) == at), None)


def _to_signed(asked: Asked, note: str) -> Response:
    from urllib.parse import quote

    response = goto("c", asked.client.key)
    response.headers["location"] += f"?signed={quote(note)}"
    return response


def goto_who(asked: Asked) -> Response:
    """Ask who is writing first, and come back."""
    from urllib.parse import quote

    response = goto("who")
    response.headers["location"] += f"?back={quote(asked.request.url.path.removesuffix('/sign'))}"
    return response


def discard(asked: Asked) -> Response:
    """Throw a draft away; its file stays under another name."""
    throw_away(asked.client.drafts, asked.draft)
    return goto("c", asked.client.key)


def amend(asked: Asked) -> Response:
    """Begin an amendment: a draft that holds all that a signed note says, and will take its place."""
    one = asked.client
    history = one.history()
    visit = next((each for each in history.visits if each["id"] == asked.path["visit"]), None)
    if visit is None:
        raise InputError("the address", "a note of this client", "Go back to the client")
    refuse_amended(history, visit["id"])
    begun = next((each for each in drafts(one.drafts) if each.head.get("replaces") == visit["id"]), None)
    if begun is not None:
        first = next((each["id"] for each in history.wounds if each["id"] in begun.values), None)
        return goto("c", one.key, "d", begun.id, str(_number_of(history, first)))
    head = {"at": str(visit.get("at", "")), "by": str(asked.author.get("name", "")), "replaces": visit["id"]}
    draft = begin(one.drafts, head)
    with changing(one.drafts, draft.id) as held:
        for scope, flat in as_draft(visit).items():
            held.put(scope, flat, head["by"], asked.page.instant(history))
            held.of(scope)
    first = next((each["wound"] for each in visit.get("wounds", ())), None)
    return goto("c", one.key, "d", draft.id, str(_number_of(history, first)))


def _number_of(history: History, wound: str | None) -> int:
    return next((number for number, each in enumerate(history.wounds) if each["id"] == wound), 0)
