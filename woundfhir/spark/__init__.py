"""Many clients on a cluster: the pure functions of ``woundfhir.bulk``, handed to Apache Spark (extra ``spark``).

Spark reads, parts, brings together, repeats and writes; what is done with a client's lines is what one machine does.
``read`` (files) and ``read_rows`` (a table as a DataFrame) give clients; ``python -m woundfhir.spark`` runs whole jobs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from woundfhir.spark.reading import read
    from woundfhir.spark.rows import read_rows
    from woundfhir.spark.setting import Setting
    from woundfhir.spark.work import Client, Clients, Read

_HOMES = {
    "read": "reading",
    "Read": "work",
    "read_rows": "rows",
    "Setting": "setting",
    "Client": "work",
    "Clients": "work",
}

__all__ = ["Client", "Clients", "Read", "Setting", "read", "read_rows"]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
