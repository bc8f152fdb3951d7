"""What the page knows while it runs: its folder, who is writing in which browser, what time it is."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from threading import Lock
from typing import TYPE_CHECKING

from woundfhir.page.folder import Folder
from woundfhir.record import History
from woundfhir.record.dates import named_zone

if TYPE_CHECKING:
    from woundfhir.jose.keys import Key

#: Wrong pairing codes until no other is taken.
TRIES = 5
#: So many forms are remembered with where they led.
_REMEMBERED = 500


@dataclass(frozen=True, slots=True)
class Keys:
    """Keys in files that were named when the page was started; no key is ever given to the page itself.

    Attributes
    ----------
    sign, encrypt_for
        Our own private key, and the public one of the next team: for what is handed over.
    verify, opens
        The public key of the team that sends, and our own private one: for what is taken in.
    """

    sign: Key | None = None
    encrypt_for: Key | None = None
    verify: Key | None = None
    opens: Key | None = None


def clock() -> datetime:
    """Return the time, with the offset of this machine."""
    return datetime.now().astimezone()


def new_code() -> str:
    """Return a pairing code: eight digits."""
    return f"{secrets.randbelow(10**8):08}"


@dataclass
class Page:
    """One running page.

    Attributes
    ----------
    folder
        The clients.
    secret
        What a browser that was let in shows in its cookie.
    once
        What the address holds that lets the first browser in; empty once it was used.
    code
        What the next browser beside this machine is paired with; None: none is let in.
    printed
        Shows a new code to whoever started the page.
    now
        The clock.
    people
        Who writes in a browser: what its cookie holds -> author as the record has it.
    keys
        Keys for what is handed over and taken in.
    """

    folder: Folder
    secret: str = field(default_factory=secrets.token_urlsafe, repr=False)
    once: str = field(default_factory=secrets.token_urlsafe, repr=False)
    code: str | None = field(default=None, repr=False)
    printed: Callable[[str], None] = field(default=lambda code: None, repr=False)
    now: Callable[[], datetime] = clock
    people: dict[str, Mapping[str, str]] = field(default_factory=dict, repr=False)
    keys: Keys = field(default_factory=Keys, repr=False)
    tries: int = 0
    lock: Lock = field(default_factory=Lock, repr=False)
    _sent: dict[str, str] = field(default_factory=dict, repr=False)
    _sending: Lock = field(default_factory=Lock, repr=False)

    def once_only(self, sent: str, work: Callable[[], str]) -> str:
        """Do what a form asks, and return where it leads; the same form sent again only leads there again.

        A button is touched twice, and the way back shows a form that was sent already.

        Parameters
        ----------
        sent
            What tells this form from every other one that was sent.
        work
            Does it; where it raises, the form can be sent again.
        """
        with self._sending:
            if sent not in self._sent:
                self._sent[sent] = work()
                while len(self._sent) > _REMEMBERED:
                    del self._sent[next(iter(self._sent))]
            return self._sent[sent]

    def let_in(self, shown: str) -> bool:
        """Whether what an address holds lets a browser in; it does so once."""
        with self.lock:
            good = bool(self.once) and secrets.compare_digest(shown.encode(), self.once.encode())
            if good:
                self.once = ""
            return good

    def paired(self, shown: str) -> bool:
        """Whether a pairing code is the one that was printed; after ``TRIES`` wrong ones none is.

        A code lets one device in: the next one is given to ``printed``.
        """
        with self.lock:
            if self.code is None or self.tries >= TRIES:
                return False
            good = secrets.compare_digest("".join(shown.split()).encode(), self.code.encode())
            self.tries += not good
            if good:
                self.code = new_code()
                self.printed(self.code)
            return good

    def instant(self, history: History | None = None) -> str:
        """Return the time to the minute as a note writes it, in the zone of a record where it names one."""
        now = self.now()
        zone = named_zone(history.data.get("zone")) if history is not None and history.data.get("zone") else None
        return (now.astimezone(zone) if zone is not None else now).isoformat(timespec="minutes")
