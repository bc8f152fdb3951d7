"""Everything that goes out: a history in each form, and files written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from woundfhir.errors import InputError
from woundfhir.record import History

Json = Any
FORMS = ("record", "record-json", "fhir-json", "fhir-xml", "ndjson", "csv")


def render(history: History, form: str) -> bytes:
    """Return a history as bytes.

    Parameters
    ----------
    history
        One client's record.
    form
        ``record`` (YAML), ``record-json``, ``csv``, ``fhir-json`` and ``fhir-xml`` (a collection Bundle), ``ndjson``.

    Raises
    ------
    InputError
        For an unknown form.

    Examples
    --------
    >>> render(History.of({"woundfhir": 1, "patient": {"born": "1948-03"}}), "record").decode()
    "woundfhir: 1\\npatient:\\n  born: 1948-03\\nwounds: []\\nvisits: []\\n"
    """
    from woundfhir.record import files, table

    if form == "record":
        return files.to_yaml(history)
    if form == "record-json":
        return files.to_json(history)
    if form == "csv":
        return table.to_csv(history)
    if form == "ndjson":
        from woundfhir.fhir import to_fhir
        from woundfhir.r4 import ndjson

        return ndjson.write(to_fhir(history))
    if form in ("fhir-json", "fhir-xml"):
        from woundfhir.handover import bundle

        def make(told: History) -> dict[str, Json]:
            return bundle(told, "collection")

        made = make(history)
        return render_resource(made) if form == "fhir-json" else render_xml(made, history, make)
    raise InputError("--to", "one of " + ", ".join(FORMS), "Choose one of them")


def render_xml(made: Mapping[str, Json], history: History, make: Callable[[History], Mapping[str, Json]]) -> bytes:
    """Return the Bundle that was made of a history as readable XML.

    What came in JSON and R4 does not define has no form in XML: it goes along with the rest of what was kept.

    Parameters
    ----------
    made
        The Bundle.
    history
        The record that it was made of.
    make
        Makes the Bundle again, of that record with more kept in it.
    """
    from woundfhir.fhir.losses import keep_undefined
    from woundfhir.r4 import xmlio

    undefined: list[xmlio.Unknown] = []
    content = xmlio.encode(made, unknown=undefined)
    if not undefined:
        return content
    told = History({**history.data}, history.source)
    keep_undefined(told, undefined)
    return xmlio.encode(make(told), unknown=[])


def render_resource(resource: Mapping[str, Json]) -> bytes:
    """Return one FHIR resource as readable JSON."""
    from woundfhir.r4 import jsonio

    return jsonio.encode_readable(resource)


def write(history: History, path: str | Path, form: str = "record", *, force: bool = False) -> None:
    """Write a history to a file, whole or not at all.

    Raises
    ------
    InputError
        When the file exists and ``force`` is not given, or cannot be written.
    """
    save(render(history, form), Path(path), force=force)


def refuse_taken(path: Path, force: bool) -> None:
    """Refuse a file that exists, unless it may be written over."""
    if path.exists() and not force:
        raise InputError(str(path), "a name that is not taken", "Choose another name, or add --force")


def save(content: bytes, path: Path, *, force: bool = False) -> None:
    """Write bytes to a file through a neighbour, so that a reader never sees half of it.

    Raises
    ------
    InputError
        When the file exists and ``force`` is not given, or cannot be written.
    """
    refuse_taken(path, force)
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            Path(name).chmod(0o644)
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise InputError(str(path), "a place that can be written", f"The system says: {error.strerror}") from None
