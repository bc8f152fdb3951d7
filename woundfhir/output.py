"""Everything that goes out: a history in each form."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.dialects.names import Name as Dialect
from woundfhir.intake import formats
from woundfhir.intake.given import file_name
from woundfhir.record import History
from woundfhir.storage import save

Json = Any


def render(history: History, form: str, dialect: Dialect | None = None) -> bytes:
    """Return a history as bytes.

    Parameters
    ----------
    history
        One client's record.
    form
        The name of a format: ``record`` (YAML), ``record-json``, ``csv``, ``fhir-json`` and ``fhir-xml`` (a
        collection Bundle), ``ndjson``.
    dialect
        Of a format of FHIR: as for ``to_fhir``.

    Raises
    ------
    InputError
        For an unknown format, for one that is only read, and for a dialect of a format that is no FHIR.

    Examples
    --------
    >>> render(History.of({"woundfhir": 1, "patient": {"born": "1948-03"}}), "csv").decode()
    'woundfhir,patient.born\\r\\n1,1948-03\\r\\n'
    """
    return formats.named(form).speaking(dialect).write(history)


def render_resource(resource: Mapping[str, Json]) -> bytes:
    """Return one FHIR resource as readable JSON."""
    from woundfhir.r4 import jsonio

    return jsonio.encode_readable(resource)


def dumps(history: History, *, format: formats.Name = "record-json", dialect: Dialect | None = None) -> str:
    """Return a history as the text of a file: the opposite of ``loads``, exact to the last digit.

    Parameters
    ----------
    history
        One client's record.
    format
        ``record`` (YAML), ``record-json``, ``csv``, ``fhir-json`` and ``fhir-xml`` (a collection Bundle), ``ndjson``
        (FHIR resources, one a line).
    dialect
        Of a format of FHIR: as for ``to_fhir``.

    Returns
    -------
    str
        The same history gives the same text. Written to a file as UTF-8 it is what ``write`` writes.

    Examples
    --------
    >>> dumps(History.of({"woundfhir": 1, "patient": {"born": "1948-03"}}), format="csv")
    'woundfhir,patient.born\\r\\n1,1948-03\\r\\n'
    """
    return render(history, format, dialect).decode()


def write(
    history: History,
    path: str | os.PathLike[str],
    *,
    format: formats.Name | None = None,
    dialect: Dialect | None = None,
    force: bool = False,
) -> None:
    """Write a history to a file, whole or not at all.

    Parameters
    ----------
    history
        One client's record.
    path
        The file.
    format
        As for ``dumps``; without it the ending of the file says it, and else it is the plain record.
    dialect
        Of a format of FHIR: as for ``to_fhir``.
    force
        Write over a file that exists.

    Raises
    ------
    InputError
        When the file exists and ``force`` is not given, when it cannot be written, and when its ending stands for
        several formats and ``format`` is not given.

    Examples
    --------
    >>> import tempfile
    >>> import woundfhir
    >>> history = woundfhir.History.of({"woundfhir": 1, "patient": {"born": "1948-03"}})
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     woundfhir.write(history, f"{folder}/record.yaml")
    ...     woundfhir.read(f"{folder}/record.yaml").history == history
    True
    """
    file = file_name(path)
    found = formats.chosen(format, file) or formats.named("record")
    save(found.speaking(dialect).write(history), file, force=force)
