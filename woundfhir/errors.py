"""Every error that the toolkit raises on purpose has one root, and never carries a patient's value."""

from __future__ import annotations


class WoundfhirError(Exception):
    """Root of all errors raised on purpose."""


class InputError(WoundfhirError):
    """Something that came in cannot be used.

    Parameters
    ----------
    where
        The place: a file, a line, a path in the record.
    expected
        What should stand there.
    fix
        What the reader can do.

    Examples
    --------
    >>> print(InputError("note.json, line 3", "one JSON object", "Close the bracket"))
    note.json, line 3: one JSON object. Close the bracket
    """

    def __init__(self, where: str, expected: str, fix: str) -> None:
        super().__init__(where, expected, fix)
        self.where = where
        self.expected = expected
        self.fix = fix

    def __str__(self) -> str:
        return f"{self.where}: {self.expected}. {self.fix}"

    def at(self, where: str) -> InputError:
        """Return the same error with a place put in front of its own."""
        return InputError(f"{where}, {self.where}" if self.where else where, self.expected, self.fix)
