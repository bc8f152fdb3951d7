"""What a run over many clients found, and what takes its bytes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


class Sink(Protocol):
    """What takes bytes as they come."""

    def write(self, content: bytes) -> None:
        """Take what comes next."""


@dataclass(slots=True, kw_only=True)
class Outcome:
    """What a run found so far."""

    asks: bool = False
    left_aside: bool = False
    weighs: bool = False
    clients: int = 0
    visits: int = 0
    refused: int = 0
    #: Groups of lines that are done, and clients among them whom nothing names.
    groups: int = 0
    nameless: int = 0
