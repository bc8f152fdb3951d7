"""Many clients on a cluster: the pure functions of ``woundfhir.bulk``, handed to Apache Spark (extra ``spark``).

Spark reads, parts, brings together, repeats and writes; what is done with a client's lines is what one machine does.
``read`` gives clients as DataFrames; ``python -m woundfhir.spark`` runs whole jobs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from woundfhir.spark.reading import Read, read
    from woundfhir.spark.setting import Setting
    from woundfhir.spark.work import Client, Clients

_HOMES = {"read": "reading", "Read": "reading", "Setting": "setting", "Client": "work", "Clients": "work"}

__all__ = ["Client", "Clients", "Read", "Setting", "read"]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
