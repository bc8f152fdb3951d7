"""An audit as a drawing: the share of complete notes by week, and what was found most often."""

from __future__ import annotations

from typing import Any

from woundfhir.audit.count import Audit, data
from woundfhir.audit.tables import per_cent
from woundfhir.drawing.svg import Drawing, wrapped

#: So many weeks are drawn, and so many rules.
WEEKS, RULES = 26, 10
_WIDTH, _LEFT, _RIGHT = 760.0, 60.0, 24.0
_TOP, _TALL = 60.0, 180.0
_ROW = 34.0


def picture(audit: Audit) -> bytes:
    """Return the drawing as SVG: black on white, the same bytes for the same counts."""
    texts = data()["texts"]
    no_day = texts["no_day"]
    weeks = sorted(name for name in audit.parts["week"] if name != no_day)[-WEEKS:]
    rules = sorted(audit.rules, key=lambda code: (-audit.rules[code].found, code))[:RULES]
    below = _TOP + _TALL + 70
    drawing = Drawing(_WIDTH, below + 40 + _ROW * max(1, len(rules)), texts["title"], _described(audit, weeks, rules))
    drawing.text((_LEFT - 36, 28), texts["picture_weeks"], size=15, bold=True)
    _weeks(drawing, audit, weeks)
    drawing.text((_LEFT - 36, below + 8), texts["picture_rules"], size=15, bold=True)
    _rules(drawing, audit, rules, below + 24)
    return drawing.bytes()


def _described(audit: Audit, weeks: list[str], rules: list[str]) -> str:
    counts = audit.parts["week"]
    by_week = ", ".join(f"{name} {per_cent(counts[name].share)}" for name in weeks)
    often = ", ".join(f"{code} {audit.rules[code].found}" for code in rules)
    total = audit.total
    return str(
        data()["texts"]["description"].format(
            complete=total.complete, notes=total.notes, weeks=by_week or "-", rules=often or "-"
        )
    )


def _weeks(drawing: Drawing, audit: Audit, weeks: list[str]) -> None:
    """Bars of the share of complete notes; the number of notes stands at each."""
    bottom = _TOP + _TALL
    for step in (0, 25, 50, 75, 100):
        y = bottom - _TALL * step / 100
        if step:
            drawing.line((_LEFT, y), (_WIDTH - _RIGHT, y), width=0.4, dash="1 4")
        drawing.text((_LEFT - 8, y + 4), f"{step} %", size=11, anchor="end")
    drawing.line((_LEFT, bottom), (_WIDTH - _RIGHT, bottom), width=1.5)
    slot = min(90.0, (_WIDTH - _LEFT - _RIGHT) / max(1, len(weeks)))
    every = max(1, round(62 / slot + 0.49))
    for number, name in enumerate(weeks):
        count = audit.parts["week"][name]
        middle = _LEFT + slot * (number + 0.5)
        tall = _TALL * (count.share or 0.0)
        place: dict[str, Any] = {"x": middle - slot * 0.35, "y": bottom - tall, "width": slot * 0.7, "height": tall}
        drawing.add("rect", **place, fill="#fff", stroke="#000", stroke_width=1.5)
        if slot >= 34:
            said = data()["texts"]["of"].format(complete=count.complete, notes=count.notes)
            drawing.label((middle, bottom - tall - 6), said, size=11, anchor="middle")
        if number % every == 0:
            drawing.text((middle, bottom + 18), name, size=11, anchor="middle")


def _rules(drawing: Drawing, audit: Audit, rules: list[str], top: float) -> None:
    """A bar for each rule, its title above it; a safety prompt's bar is filled."""
    most = max((audit.rules[code].found for code in rules), default=1)
    texts, wide = data()["texts"], _WIDTH - _LEFT - _RIGHT - 60
    for number, code in enumerate(rules):
        one = audit.rules[code]
        y = top + _ROW * number
        title = wrapped(texts["rule"].format(code=code, title=one.title), 11, _WIDTH - _LEFT, most=1)[0]
        drawing.text((_LEFT - 36, y + 10), title, size=11)
        fill = "#000" if one.severity == "caution" else "#fff"
        length = max(2.0, wide * one.found / most)
        drawing.add("rect", x=_LEFT - 36, y=y + 15, width=length, height=9, fill=fill, stroke="#000", stroke_width=1.2)
        drawing.text((_LEFT - 30 + length, y + 24), str(one.found), size=11)
