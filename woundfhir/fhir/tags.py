"""The tags (Meta.tag) of our own: what they say and in which code systems their codes stand.

The addresses are older than the definitions of the systems, and stay, so that what was sent before is known again.
"""

from __future__ import annotations

from woundfhir.catalogue import BASE

#: In which dialect a resource is written, and the system of its tag.
DIALECT = f"{BASE}/dialect"
#: What became of a resource that was sent, and the system of its tag.
SENT = f"{BASE}/sent"
LEFT_THE_RECORD = "left-the-record"
#: What each code says.
OF_SENT = {LEFT_THE_RECORD: "Left the record of the sender; no note of theirs withdrew it"}
