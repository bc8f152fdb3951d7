"""What the check of a signature comes to: one answer of ten, what it means and what to do."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Answer(StrEnum):
    """What a check of a signature can come to."""

    OK = "ok"
    CHANGED = "content changed"
    WRONG_KEY = "wrong key"
    NO_MATCH = "content changed or wrong key"
    NO_SIGNATURE = "no signature"
    NO_KEY = "no key"
    EXPIRED = "key expired"
    EARLY = "key not valid yet"
    ALGORITHM = "algorithm not allowed"
    UNREADABLE = "signature not readable"


#: The answers of a signature that is by the key, whether that is in force or not.
HOLDS = (Answer.OK, Answer.EXPIRED, Answer.EARLY)
#: What each answer means, and what to do.
MEANING = {
    Answer.OK: "The content is as the holder of this key signed it.",
    Answer.CHANGED: "The content is not what was signed with this key. Do not rely on it; ask the sender for it again.",
    Answer.WRONG_KEY: "The signature was made with another key. Ask the sender for the right public key.",
    Answer.NO_MATCH: "The content was changed, or another key signed it. Check the key, and ask for the file again.",
    Answer.NO_SIGNATURE: "Ask the sender to sign it, if your site needs one.",
    Answer.NO_KEY: "There is a signature, and it was not checked. Give the sender's public key.",
    Answer.EXPIRED: "The content is as it was signed, but the key has expired. Ask the sender for the new key.",
    Answer.EARLY: "The content is as it was signed, but the key is not valid yet. Ask the sender.",
    Answer.ALGORITHM: "The signature's algorithm gives no proof of who signed. Ask for ES256, EdDSA or RS256.",
    Answer.UNREADABLE: "What stands there is no JWS that this program can check. Ask the sender for it again.",
}

#: What is added where a signature holds and does not cover how numbers are written.
DIGITS = "It does not protect the last zeros of numbers (4.10 may have become 4.1), nor the name of who signed."


@dataclass(frozen=True, slots=True)
class Verdict:
    """The result of a check.

    Attributes
    ----------
    answer
        See ``Answer``.
    algorithm, key_id
        As the signature names them: true only when the answer is ``OK``.
    when
        Signature.when of the Bundle.
    exact
        Whether the last digit of each number (4.10, not 4.1), who, when and why are covered as well.
    expiry_checked
        Whether a time was given to check the key's limits.
    """

    answer: Answer
    algorithm: str | None = None
    key_id: str | None = None
    when: str | None = None
    exact: bool = False
    expiry_checked: bool = False

    @property
    def ok(self) -> bool:
        """Whether the signature holds in every respect."""
        return self.answer is Answer.OK

    @property
    def message(self) -> str:
        """The answer in words."""
        return MEANING[self.answer]

    @property
    def limit(self) -> str:
        """What a signature that holds leaves open, in words; empty where it leaves nothing open."""
        return DIGITS if self.answer in HOLDS and not self.exact else ""
