"""Wounds of two records that a person may know as one: nothing joins them, and so somebody must be asked."""

from __future__ import annotations

from itertools import product

from woundfhir.chart import WoundView, open_record
from woundfhir.record import History


def perhaps_one(known: History, merged: History) -> list[tuple[str, str]]:
    """Return the ids of wounds, one known and one new, at one site and side, whose kinds are not two.

    Parameters
    ----------
    known
        The record here.
    merged
        That record joined to what came.

    Examples
    --------
    >>> wounds = [{"id": one, "kind": "pressure injury", "site": "sacrum"} for one in ("W1", "P-7")]
    >>> known, merged = (History.of({"woundfhir": 1, "patient": {}, "wounds": some}) for some in (wounds[:1], wounds))
    >>> perhaps_one(known, merged)
    [('W1', 'P-7')]
    """
    here = {wound["id"] for wound in known.wounds}
    views = [one for one in open_record(merged).wounds if one.word("wound.site") is not None]
    pairs = product([one for one in views if one.id in here], [one for one in views if one.id not in here])
    return [(old.id, new.id) for old, new in pairs if _alike(old, new)]


def _alike(old: WoundView, new: WoundView) -> bool:
    place = all(old.word(path) == new.word(path) for path in ("wound.site", "wound.side"))
    return place and len({old.word("wound.kind"), new.word("wound.kind")} - {None}) < 2
