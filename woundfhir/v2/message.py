"""A file of HL7 v2 messages: decoded, parted, and each value with its place; the library ``hl7`` splits segments."""

from __future__ import annotations

import re
from functools import cached_property, partial
from typing import Any

from woundfhir.errors import InputError
from woundfhir.r4.origin import NO_PLACE, Fate, Leaf, Position, Source

#: MSH-18 (HL7 table 0211; memory) -> Python's name of the encoding.
CHARSETS = {
    "": "utf-8", "ASCII": "ascii", "UNICODE UTF-8": "utf-8", "UNICODE": "utf-8", "UTF-8": "utf-8",
    "8859/1": "iso-8859-1", "8859/2": "iso-8859-2", "8859/15": "iso-8859-15",
}  # fmt: skip
_ENDS = re.compile(r"\r\n|\n|\r")
_KNOWN = re.compile(r"[FSTREHN]|\.br|X(?:[0-9A-Fa-f]{2})+")
_BUILT = Fate("bookkeeping", "the form of an HL7 v2 message")
#: Fields that number, type or route, and say nothing of a client.
_FORM = frozenset(("MSH-1", "MSH-2", "OBX-1", "OBX-2", "OBR-1", "PID-1", "PV1-1", "NTE-1", "MSH-12", "MSH-11", "MSH-9"))
_BATCH = ("FHS", "BHS", "BTS", "FTS")


class Segment:
    """One segment: its name, its place, and its fields by number."""

    def __init__(self, name: str, fields: Any, at: Position, message: Any) -> None:
        self.name, self.fields, self.at, self.message = name, fields, at, message

    def repetitions(self, field: int) -> int:
        """How often a field stands."""
        return len(self.fields[field]) if field < len(self.fields) else 0

    def get(self, field: int, component: int = 1, part: int = 1, repetition: int = 0) -> Leaf | None:
        """Return a value without its escapes; None for an empty one, and for the explicit delete (two quotes)."""
        found = self._raw(field, component, part, repetition)
        if found is None or found[0].strip() in ("", '""'):
            return None
        return Leaf(self._plain(found[0]).strip(), (found[1],))

    def deleted(self, field: int) -> bool:
        """Whether a field says that its value is deleted."""
        found = self._raw(field, 1, 1, 0)
        return found is not None and found[0].strip() == '""'

    def _plain(self, text: str) -> str:
        parts = text.split(self.message.esc)
        if len(parts) % 2 == 0 or not all(map(_KNOWN.fullmatch, parts[1::2])):
            return text  # what nobody knows stands as it came; the library would write it into the log of the program
        return str(self.message.unescape(text, {"H": "", "N": ""})).replace("\r", "\n")

    def _raw(self, field: int, component: int, part: int, repetition: int) -> tuple[str, Position] | None:
        return self._texts.get((field, repetition, component, part))

    @cached_property
    def _texts(self) -> dict[tuple[int, int, int, int], tuple[str, Position]]:
        """Field, repetition, component and part -> the text with its escapes, and its place."""
        return {numbers: (text, at) for at, numbers, text in self.leaves()}

    def leaves(self) -> list[tuple[Position, tuple[int, int, int, int], str]]:
        """Return every value: its place, its numbers, and its text with escapes."""
        out = []
        for number, field in enumerate(self.fields):
            if number == 0:
                continue
            many = [field] if isinstance(field, str) else list(field)
            for index, one in enumerate(many):
                parts = [one] if isinstance(one, str) else list(one)
                start = (*self.at, f"-{number}", *((f"({index + 1})",) if len(many) > 1 else ()))
                for place, component in enumerate(parts, 1):
                    inner = [component] if isinstance(component, str) else [str(text) for text in component]
                    for deep, text in enumerate(inner, 1):
                        dotted = (f".{place}",) if len(parts) > 1 or len(inner) > 1 else ()
                        at = (*start, *dotted, *((f".{deep}",) if len(inner) > 1 else ()))
                        if text.strip():
                            out.append((at, (number, index, place, deep), text))
        return out


def messages(content: bytes, source: Source) -> list[list[Segment]]:
    """Return the messages in a file, each a list of segments; every value is noted in ``source``.

    Raises
    ------
    InputError
        For bytes in no known encoding, and for what the delimiters of no message part.
    """
    lines = [line for line in _ENDS.split(_text(content)) if line.strip(" \x0b\x1c")]
    groups: list[list[str]] = []
    for line in lines:
        line = line.strip("\x0b\x1c").lstrip()
        if line.startswith("MSH"):
            groups.append([line])
        elif line[:3] in _BATCH or not groups:
            if line[:3] not in _BATCH:
                raise InputError("line 1", "a segment MSH, FHS or BHS first", "Send the file from its first line")
        else:
            groups[-1].append(line)
    if not groups:
        raise InputError("HL7 v2", "a message: a segment MSH", "Send the messages, and not the batch alone")
    return [_message(group, number, source) for number, group in enumerate(groups, 1)]


def header_fields(content: bytes) -> list[bytes]:
    """Return the fields of the segment MSH that bytes begin with, its name first; none where it breaks off."""
    head = re.split(rb"[\r\n]", content, maxsplit=1)[0]
    return head.split(head[3:4]) if len(head) > 3 else []


def _text(content: bytes) -> str:
    content = content.removeprefix(b"\xef\xbb\xbf")
    start = content.find(b"MSH")
    fields = header_fields(content[max(start, 0) :])
    name = fields[17].split(b"~")[0].strip().decode("ascii", "replace").upper() if len(fields) > 17 else ""
    if name not in CHARSETS:
        raise InputError("MSH-18", f"one of {', '.join(filter(None, CHARSETS))}", "Ask the sender for UTF-8")
    try:
        return content.decode(CHARSETS[name])
    except UnicodeDecodeError as error:
        fix = "Name the encoding in MSH-18, or save the file as UTF-8"
        raise InputError(f"byte {error.start}", f"text in {CHARSETS[name].upper()}", fix) from None


def _message(group: list[str], number: int, source: Source) -> list[Segment]:
    import hl7  # here alone: most of what is read is no HL7 v2

    where = f"message {number}"
    if len(group[0]) < 9 or len(set(group[0][3:8])) != 5:
        raise InputError(
            f"{where}, MSH", "five delimiters, each another character", "Ask the sender for whole messages"
        )
    try:
        parsed = hl7.parse("\r".join(group) + "\r")
    except (hl7.HL7Exception, IndexError, ValueError, AttributeError):
        raise InputError(where, "segments parted by the delimiters that MSH names", "Send it again, whole") from None
    found, counts, start = [], dict[str, int](), where
    for text, fields in zip(group, parsed, strict=True):
        name = str(fields[0])
        counts[name] = counts.get(name, 0) + 1
        many = sum(line[:3] == name for line in group) > 1
        if name == "PID" and counts[name] > 1:  # another client: what is of each stays apart
            start = f"{where}, client {counts[name]}"
        at = (start, f", {name}{f'[{counts[name]}]' if many else ''}")
        one = Segment(name, fields, at, parsed)
        source.units[at] = partial(str, text)
        for place, numbers, _ in one.leaves():
            source.leaves[place] = _BUILT if f"{name}-{numbers[0]}" in _FORM else NO_PLACE
        found.append(one)
    return found
