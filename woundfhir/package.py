"""The FHIR package of our definitions: ``profiles/`` as it was generated, and as one byte-stable archive.

The files come with the wheel. The archive has the form of HL7's packages (a gzipped tar with everything under
``package/``); names are sorted and times are zero, so that the same definitions give the same bytes.
"""

from __future__ import annotations

import gzip
import io
import tarfile

from woundfhir.catalogue import catalogue
from woundfhir.errors import InputError
from woundfhir.shipped import folder


def definitions() -> dict[str, bytes]:
    """Return every file of ``profiles/``, by name in sorted order; where a site holds, those of its package.

    Raises
    ------
    InputError
        When the installation carries none.

    Examples
    --------
    >>> "package.json" in definitions()
    True
    """
    if catalogue().site is not None:
        from woundfhir.definitions.build import files as made

        return made()
    if not (place := folder()).is_dir():
        raise InputError("profiles", "the definitions that come with woundfhir", "Install the package again")
    found = {path.name: path for path in place.iterdir() if path.name.endswith(".json")}
    return {name: found[name].read_bytes() for name in sorted(found)}


def examples() -> dict[str, bytes]:
    """Return the examples of the package by name, in a folder of their own with its index; a site's has none.

    Examples
    --------
    >>> list(examples())[0]
    'example/.index.json'
    """
    if catalogue().site is not None:
        return {}
    from woundfhir.definitions.examples import resources
    from woundfhir.definitions.guide import file_name, index
    from woundfhir.r4.jsonio import encode_readable

    found = {file_name(one): encode_readable(one) for one in resources()}
    found[".index.json"] = encode_readable(index(resources()))
    return {f"example/{name}": content for name, content in sorted(found.items())}


def package_bytes() -> bytes:
    """Return the definitions and the examples as a FHIR package (``.tgz``).

    Examples
    --------
    >>> package_bytes() == package_bytes()
    True
    """
    tar_bytes = io.BytesIO()
    with tarfile.open(fileobj=tar_bytes, mode="w", format=tarfile.USTAR_FORMAT) as tar:
        for name, content in (*definitions().items(), *examples().items()):
            info = tarfile.TarInfo(f"package/{name}")
            info.size = len(content)
            info.mode = 0o644
            tar.addfile(info, io.BytesIO(content))
    out = io.BytesIO()
    with gzip.GzipFile(fileobj=out, mode="wb", mtime=0, filename="") as packed:
        packed.write(tar_bytes.getvalue())
    return out.getvalue()
