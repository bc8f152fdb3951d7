"""What is not in every installation: the extras of the package, what each brings, and the line that installs it."""

from __future__ import annotations

from importlib.util import find_spec

from woundfhir.errors import InputError

#: Extra -> package of it -> the module that is imported. (``pyproject.toml`` has the versions.)
EXTRAS = {
    "page": {name: name.replace("-", "_") for name in ("starlette", "uvicorn", "jinja2", "python-multipart")},
    "pdf": {"weasyprint": "weasyprint"},
    "photo": {"pillow": "PIL"},
    "server": {"httpx": "httpx", "starlette": "starlette", "uvicorn": "uvicorn"},
    "signatures": {"cryptography": "cryptography", "joserfc": "joserfc"},
    "spark": {"pyspark": "pyspark", "pyarrow": "pyarrow"},
    "tables": {"pyarrow": "pyarrow"},
}


def missing(extra: str, what: str, other: str = "") -> InputError:
    """Return the error of something that needs an extra which is not installed.

    Parameters
    ----------
    extra
        A key of ``EXTRAS``.
    what
        What needs it, as the person named it: an option, a format, a verb.
    other
        What can be done instead, as a sentence without its full stop.

    Examples
    --------
    >>> print(missing("photo", "1.jpg").fix)
    Install it with: pip install 'woundfhir[photo]'
    """
    packages = ", ".join(EXTRAS[extra])
    found = f"packages that it needs are missing ({packages})"
    fix = f"Install it with: pip install 'woundfhir[{extra}]'"
    if other:
        fix = f"Install it with: pip install 'woundfhir[{extra}]'. {other}"
    return InputError(what, f"the extra {extra}", fix, found=found)


def need(extra: str, what: str, other: str = "") -> None:
    """Raise ``missing(extra, what, other)`` unless all that we import of the extra can be found.

    Raises
    ------
    InputError
        Where a module of it is missing.

    Examples
    --------
    >>> need("signatures", "key.pem")
    """
    if any(find_spec(module) is None for module in EXTRAS[extra].values()):
        raise missing(extra, what, other)
