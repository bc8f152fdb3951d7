"""Man pages of the command line, out of what its ``--help`` says (``commands``): roff with the macros of man(7)."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir import __version__
from woundfhir.cli import VERBS
from woundfhir.guide.commands import Verb, program, verbs
from woundfhir.guide.commands import lines as every

_CODES = (
    ("0", "Clean."),
    ("1", "Findings: a person must look."),
    ("2", "It could not run; one message says why."),
    ("3", "A fault of the program."),
    ("130", "Stopped by Ctrl-C."),
)


def man_pages() -> dict[str, bytes]:
    """Return a man page for the program and one for each verb, by the name of the file.

    Examples
    --------
    >>> man_pages()["woundfhir-check.1"].splitlines()[0].startswith(b'.TH "WOUNDFHIR')
    True
    """
    out = {"woundfhir.1": _program()}
    for name in VERBS:
        first, *below = verbs(name)
        lines = [*_head(f"woundfhir-{name}", first.line), *_body(first)]
        for one in below:
            lines += [f".SH {_quoted('woundfhir ' + one.name)}", *_body(one, sections=False)]
        out[f"woundfhir-{name}.1"] = _file([*lines, *_end()])
    return out


def _program() -> bytes:
    lines = [*_head("woundfhir", "wound care notes to and from HL7 FHIR R4"), ".SH SYNOPSIS", ".B woundfhir"]
    lines += [r"\fICOMMAND\fR [\fIOPTIONS\fR] ...", ".SH DESCRIPTION"]
    for part in program().text:
        lines += [".PP", _text(part)]
    lines.append(".SH COMMANDS")
    for name, line in every():
        lines += [".TP", rf"\fBwoundfhir\-{_text(name)}\fR(1)", _text(line)]
    return _file([*lines, *_end()])


def _head(name: str, line: str) -> list[str]:
    title = f".TH {_quoted(name.upper())} {_quoted('1')} {_quoted('')} {_quoted('woundfhir ' + __version__)}"
    return [f"{title} {_quoted('User Commands')}", ".SH NAME", rf"{_text(name)} \- {_text(line)}"]


def _body(verb: Verb, *, sections: bool = True) -> Iterator[str]:
    if sections:
        yield ".SH SYNOPSIS"
    yield rf"\fBwoundfhir {_text(verb.name)}\fR {_text(verb.usage)}"
    if sections:
        yield ".SH DESCRIPTION"
    for part in verb.text:
        yield from _laid_out(part.strip("\n")) if part.startswith("\n") else (".PP", _text(part))
    if verb.examples:
        yield ".SH EXAMPLES" if sections else ".PP"
        yield from _laid_out(verb.examples)
    if verb.options:
        yield ".SH OPTIONS" if sections else ".PP"
    for names, words in verb.options:
        yield from (".TP", rf"\fB{_text(names)}\fR", _text(words))


def _laid_out(lines: str) -> Iterator[str]:
    yield from (".PP", ".nf", *(_text(line) for line in lines.splitlines()), ".fi")


def _end() -> Iterator[str]:
    yield ".SH EXIT STATUS"
    for number, words in _CODES:
        yield from (".TP", rf"\fB{number}\fR", _text(words))
    yield ".SH NOTES"
    yield _text(
        "A documentation aid: it does not diagnose and does not recommend treatment. Local policy and the licensed "
        "practitioner come first."
    )


def _file(lines: list[str]) -> bytes:
    return ("\n".join(line for line in lines if line) + "\n").encode()


def _quoted(text: str) -> str:
    return f'"{_text(text)}"'


def _text(text: str) -> str:
    r"""Return a line of text as roff shows it.

    Examples
    --------
    >>> print(_text("--to 'x' \\y"))
    \-\-to \(aqx\(aq \ey
    """
    said = text.replace("\\", "\\e").replace("-", "\\-").replace("'", "\\(aq").replace("`", "\\(ga")
    said = said.replace("~", "\\(ti").replace("^", "\\(ha").replace('"', "\\(dq")
    return f"\\&{said}" if said.startswith(".") else said
