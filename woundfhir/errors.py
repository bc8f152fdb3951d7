"""Every error that the toolkit raises on purpose has one root, and never carries a patient's value.

Text that came in (the name of a file, a key) may stand in a message: ``escaped`` keeps it to one line, to characters
that can be seen, and to a length that leaves the rest readable. ``InputError`` does so with all of its parts.
"""

from __future__ import annotations

#: The longest foreign text in a message, in characters; what is longer loses its middle.
WIDTH = 300
#: Blanks that do not break a line are harmless, and common in typeset text.
_BLANKS = {"\u00a0": " ", "\u2007": " ", "\u202f": " "}


def escaped(text: str, width: int = WIDTH) -> str:
    r"""Return text on one line, without characters that control a terminal or cannot be seen.

    Parameters
    ----------
    text
        Anything that came from outside: a file name, a key of the input, a message of a library.
    width
        The most characters to return; a longer text loses its middle, so that a path keeps its file name.

    Returns
    -------
    str
        Line ends, escape sequences, marks of writing direction and lone surrogates are written as ``\n``, ``\x1b``,
        ``\u202e``, ``\udcff``. Escaping twice changes nothing.

    Examples
    --------
    >>> print(escaped("a\nwoundfhir: all is well\x1b[31m"))
    a\nwoundfhir: all is well\x1b[31m
    >>> escaped("x" * 30, width=9)
    'xxxx…xxxx'
    """
    if len(text) > 4 * width:  # nothing is escaped that is cut anyway
        text = f"{text[:width]}…{text[-width:]}"
    if not text.isprintable():
        text = "".join(c if c.isprintable() else _BLANKS.get(c) or c.encode("unicode_escape").decode() for c in text)
    if len(text) <= width:
        return text
    half = (width - 1) // 2
    return f"{text[:half]}…{text[-half:]}"


class WoundfhirError(Exception):
    """Root of all errors raised on purpose.

    Examples
    --------
    >>> import woundfhir
    >>> try:
    ...     woundfhir.read("missing.yaml")
    ... except woundfhir.WoundfhirError as error:
    ...     print(error)
    missing.yaml: there is no such file; expected a file or a folder. Check the name and the folder
    """


class Fault(WoundfhirError):
    """A fault of ours, where nobody foresaw it: the kind of exception and the line of our code, and nothing else."""


class InputError(WoundfhirError):
    """Something that came in cannot be used.

    The message says what is wrong, then what was expected, then what to do.

    Parameters
    ----------
    where
        The place: a file, a line, a path in the record. May be empty.
    expected
        What should stand there.
    fix
        What the reader can do: whole sentences, the last one without its full stop.
    found
        What is wrong, where ``expected`` alone does not say it. Never a value of the input.

    Examples
    --------
    >>> print(InputError("note.json, line 3", "one JSON object", "Close the bracket"))
    note.json, line 3: expected one JSON object. Close the bracket
    >>> print(InputError("note.yaml", "a file", "Check the name and the folder", found="there is no such file"))
    note.yaml: there is no such file; expected a file. Check the name and the folder
    """

    def __init__(self, where: str, expected: str, fix: str, *, found: str = "") -> None:
        super().__init__(where, expected, fix)
        self.where = escaped(where)
        self.expected = expected
        self.fix = fix
        self.found = found

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        wrong = f"{escaped(self.found)}; " if self.found else ""
        return f"{place}{wrong}expected {escaped(self.expected, 2 * WIDTH)}. {escaped(self.fix, 2 * WIDTH)}"

    def at(self, where: str) -> InputError:
        """Return the same error with a place put in front of its own.

        Examples
        --------
        >>> InputError("line 3", "a date", "Write year, month and day").at("notes.csv").where
        'notes.csv, line 3'
        """
        place = f"{where}, {self.where}" if self.where else where
        return InputError(place, self.expected, self.fix, found=self.found)
