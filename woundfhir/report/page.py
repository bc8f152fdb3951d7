"""The report to print: one self-contained HTML page, without script, readable in black and white, in large type."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape
from itertools import groupby

from woundfhir.checklist import Finding, Verdict
from woundfhir.language import ENGLISH, spoken
from woundfhir.report.judged import Judged
from woundfhir.report.text import (
    Fresh,
    answers,
    called,
    elsewhere,
    explained,
    heading,
    of_verdicts,
    one_line,
    overall,
    sentence,
    summary,
)
from woundfhir.report.words import count, say
from woundfhir.report.writers import written_by

# Kinds differ by words, by weight and by the form of the line beside them, so that no colour is needed to tell them.
_STYLE = """
@page { size: letter; margin: 16mm; }
* { box-sizing: border-box; }
body { font: 14pt/1.4 "DejaVu Sans", Verdana, Arial, sans-serif; color: #000; background: #fff; margin: 0 auto;
  max-width: 48rem; padding: 1rem; }
h1 { font-size: 24pt; margin: 0 0 .3rem; }
h2 { font-size: 18pt; margin: 1.6rem 0 .4rem; border-bottom: 3px solid #000; break-after: avoid; }
h3 { font-size: 16pt; margin: 1.2rem 0 .4rem; break-after: avoid; }
p { margin: .25rem 0; }
ul { list-style: none; margin: 0; padding: 0; }
li { padding: .5rem 0 .5rem .8rem; margin: .5rem 0; break-inside: avoid; }
.caution { border-left: 10px double #000; }
.sense { border-left: 8px solid #000; }
.required { border-left: 4px solid #000; }
.recommended { border-left: 4px dotted #000; }
.called { font-weight: bold; }
.box { display: inline-block; width: 1em; height: 1em; border: 2px solid #000; margin-right: .5em;
  vertical-align: -.12em; }
.small { font-size: 11pt; }
code { font: 11pt "DejaVu Sans Mono", Consolas, monospace; overflow-wrap: anywhere; }
@media screen { body { padding: 2rem 1rem; } }
"""


def render(reports: Sequence[Judged]) -> str:
    """Return the report as one HTML page that needs nothing else.

    Parameters
    ----------
    reports
        One verdict for each input.

    Returns
    -------
    str
        HTML 5. Each finding has a box to tick by hand.
    """
    return "".join(f"{line}\n" for line in _page(reports))


def _page(reports: Sequence[Judged]) -> Iterator[str]:
    yield "<!DOCTYPE html>"
    yield f'<html lang="{"en-CA" if spoken() is ENGLISH else spoken().tag}">'
    yield "<head>"
    yield '<meta charset="utf-8">'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">'
    # No address may be asked for anything, whatever stands in the page.
    yield "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
    yield f"<title>{escape(say('title'))}</title>"
    yield f"<style>{_STYLE}</style>"
    yield "</head>"
    yield "<body>"
    yield "<main>"
    yield f"<h1>{escape(overall(reports))}</h1>"
    yield f'<p class="small">{escape(say("subtitle"))}</p>'
    fresh = Fresh()
    for one in reports:
        yield from _input(one, fresh, several=len(reports) > 1)
    yield f'<p class="small">{escape(say("excuse"))} {escape(say("caution"))}</p>'
    yield "</main>"
    yield "</body>"
    yield "</html>"


def _input(one: Judged, fresh: Fresh, *, several: bool) -> Iterator[str]:
    yield "<section>"
    yield f"<h2>{escape(one.name)}</h2>"
    own = f" {of_verdicts([one.verdict])}" if several else ""
    yield f"<p>{escape(summary(one.verdict))}.{escape(own)}</p>"
    for name, found in groupby(one.verdict.findings, key=heading):
        yield f"<h3>{escape(name)}</h3>"
        yield "<ul>"
        for finding in found:
            yield from _finding(finding, fresh)
        yield "</ul>"
    yield from _answered(one.verdict)
    yield from _left_out(one.verdict)
    if one.verdict.elsewhere:
        yield f"<p>{escape(elsewhere(one.verdict))}</p>"
    yield from _notes(one)
    yield "</section>"


def _finding(finding: Finding, fresh: Fresh) -> Iterator[str]:
    yield f'<li class="{finding.severity}">'
    label = say("with_label", label=called(finding), words="").strip()
    yield (f'<p><span class="box"></span><span class="called">{escape(label)}</span> {escape(sentence(finding))}</p>')
    if finding.value is not None:
        yield f"<p>{escape(say('found', value=one_line(finding.value)))}</p>"
    for text, tone in explained(finding, fresh):
        yield f'<p class="small">{escape(text)}</p>' if tone else f"<p>{escape(text)}</p>"
    yield f'<p class="small"><code>{escape(finding.reference)}</code></p>'
    yield "</li>"


def _notes(one: Judged) -> Iterator[str]:
    """Who wrote each note that something was found on, and when: once, so that the right person can mend it."""
    found = written_by(one)
    if not found:
        return
    yield f"<h3>{escape(say('notes_by'))}</h3>"
    yield "<ul>"
    for line in found:
        yield f"<li>{escape(line)}</li>"
    yield "</ul>"


def _answered(judged: Verdict) -> Iterator[str]:
    """What an action answers, folded."""
    if not judged.answered:
        return
    yield f"<h3>{escape(say('answered'))}</h3>"
    yield "<ul>"
    for one in judged.answered:
        yield f"<li>{escape(sentence(one))} {escape(answers(one))} <code>{escape(one.reference)}</code></li>"
    yield "</ul>"


def _left_out(judged: Verdict) -> Iterator[str]:
    if not judged.left_out:
        return
    yield f"<h3>{escape(say('left_out'))}</h3>"
    yield "<ul>"
    for one in judged.left_out:
        why = say("left_out_rule", findings=count("findings", len(one.findings)), reason=one.reason)
        yield f"<li><code>{escape(one.reference)}</code> {escape(why)}</li>"
    yield "</ul>"
