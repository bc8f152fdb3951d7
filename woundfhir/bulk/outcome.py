"""What a run over many clients found."""

from __future__ import annotations

from dataclasses import dataclass


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
