"""What leaves this repository: the wheel, what it needs, under which licences, and how large that is.

    python tools/check_package.py                       # all checks; needs the extra "package"
    python tools/check_package.py --sbom woundfhir.cdx.json  # and write a software bill of materials (CycloneDX)
    python tools/check_package.py --imports             # import every module with what this Python has installed

The wheel is built twice, in folders, with permissions and in time zones that differ, and must be the same bytes. It is
installed without extras into a new environment, whose size has a limit, whose parts and licences the bill lists, and
in which every module can be imported or names the extra that it needs. The bill is of one environment, with the
versions that were resolved there, so it is no part of the wheel: whoever deploys woundfhir makes one of theirs, by
``cyclonedx-py environment PYTHON``.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib
import json
import os
import pkgutil
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from importlib.metadata import Distribution, PackageNotFoundError, distribution, distributions
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[1]
#: Largest installation without extras, in MB (10^6 bytes), without bytecode, pip and setuptools.
LIMIT = 55
#: Extras that serve users; the others serve whoever works on woundfhir.
EXTRAS = ("pdf", "photo", "server", "page", "tables", "spark", "signatures")
#: Licences that a dependency may have: SPDX, with the names that older metadata give them.
ALLOWED = {
    "MIT": ("MIT License", "The MIT License (MIT)", "MIT licensed, as found in the LICENSE file"),
    "MIT-0": (),
    "MIT-CMU": ("HPND",),
    "BSD-2-Clause": (),
    "BSD-3-Clause": ("BSD License", "BSD", "BSD 3-Clause License", "3-Clause BSD License", "Modified BSD License"),
    "0BSD": (),
    "Apache-2.0": ("Apache Software License", "Apache License 2.0", "Apache 2.0", "Apache License, Version 2.0"),
    "PSF-2.0": ("Python Software Foundation License", "PSF"),
    "ISC": ("ISC License (ISCL)",),
    "Zlib": (),
    "CC0-1.0": (),
    "Unlicense": (),
    "MPL-2.0": ("Mozilla Public License 2.0 (MPL 2.0)", "Mozilla Public License 2.0"),
}
_NAMES = {name.casefold() for key, others in ALLOWED.items() for name in (key, *others)}
#: Names of the metadata -> why a dependency without one of these licences is taken all the same.
TAKEN = {"pyphen": "of WeasyPrint (extra pdf): under GPL 2, LGPL 2.1 or MPL 1.1, as one chooses; not shipped with us"}


def licences(one: Distribution) -> list[str]:
    """Return the licences of a distribution by its metadata: the SPDX expression, else classifiers, else the text."""
    if expression := one.metadata.get("License-Expression"):
        return [expression]
    named = [
        text.rpartition(" :: ")[2] for text in one.metadata.get_all("Classifier", []) if text.startswith("License ::")
    ]
    named = [text for text in named if text != "OSI Approved"]
    return named or [(one.metadata.get("License") or "none named").strip().splitlines()[0]]


def allowed(licence: str) -> bool:
    """Whether a licence, or one side of each OR in an SPDX expression, is on the list.

    Examples
    --------
    >>> allowed("MIT"), allowed("Apache-2.0 OR GPL-3.0-only"), allowed("MIT AND GPL-3.0-only")
    (True, True, False)
    """
    if licence.casefold() in _NAMES:
        return True
    if " AND " in licence and "(" not in licence:
        return all(allowed(part) for part in licence.split(" AND "))
    if " OR " in licence:
        return any(allowed(part) for part in re.split(r" OR ", licence.strip("()")))
    return False


def needed(extras: tuple[str, ...], path: list[str] | None = None) -> Iterator[Distribution]:
    """Yield what woundfhir needs at run time with some extras, and what that needs; what is not installed is left."""
    have = {canonicalize_name(one.name): one for one in (distributions(path=path) if path else distributions())}
    open_, seen = [("woundfhir", extras)], set()
    while open_:
        name, wanted = open_.pop()
        if (name, wanted) in seen or name not in have:
            continue
        seen.add((name, wanted))
        if name != "woundfhir" and sum(name == known for known, _ in seen) == 1:
            yield have[name]
        for text in have[name].requires or []:
            asked = Requirement(text)
            if asked.marker is None or any(asked.marker.evaluate({"extra": extra}) for extra in (*wanted, "")):
                open_.append((canonicalize_name(asked.name), tuple(sorted(asked.extras))))


def check_licences(extras: tuple[str, ...] = EXTRAS) -> list[str]:
    """Return what is wrong with the licences of what is installed here."""
    found = list(needed(extras))
    print(f"licences: {len(found)} dependencies at run time")
    return [
        f"{one.name}: {' / '.join(licences(one))} is on no list (tools/check_package.py)"
        for one in found
        if one.name not in TAKEN and not all(map(allowed, licences(one)))
    ]


def check_imports() -> list[str]:
    """Return the modules that cannot be imported here, but for the want of a package that an extra brings."""
    import woundfhir

    asked = [Requirement(text) for text in distribution("woundfhir").requires or []]
    optional = {"markupsafe"}  # of Jinja2
    optional |= {canonicalize_name(one.name) for one in asked if one.marker and any(_of(one, key) for key in EXTRAS)}
    wrong, without, count = [], 0, 0
    for one in pkgutil.walk_packages(woundfhir.__path__, "woundfhir.", onerror=lambda _: None):
        if one.name.endswith("__main__"):
            continue
        count += 1
        try:
            importlib.import_module(one.name)
        except Exception as error:
            missing = isinstance(error, ModuleNotFoundError) and canonicalize_name(str(error.name)) in optional
            without += 1
            if not missing and "pip install" not in str(error):
                wrong.append(f"{one.name}: {type(error).__name__}: {error}")
    print(f"imports: {count} modules, of which {without} need an extra that is not installed")
    return wrong


def _of(one: Requirement, extra: str) -> bool:
    return one.marker is not None and one.marker.evaluate({"extra": extra}) and not one.marker.evaluate({"extra": ""})


def build(place: Path, zone: str, mask: int) -> Path:
    """Return the wheel of what is committed, built in a folder of its own."""
    source, out = place / "source", place / "out"
    source.mkdir(parents=True)
    content = subprocess.run(["git", "archive", "HEAD"], cwd=ROOT, check=True, capture_output=True).stdout
    subprocess.run(["tar", "-x", "-m"], cwd=source, input=content, check=True, umask=mask)
    command = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-cache-dir", "-w", str(out), str(source)]
    subprocess.run(command, check=True, umask=mask, env=os.environ | {"TZ": zone})
    return next(out.glob("*.whl"))


def check_wheel(place: Path, sbom: Path | None) -> list[str]:
    """Return what is wrong with the wheel, and with an installation of it without extras."""
    first = build(place / "a", "UTC", 0o022)
    second = build(place / "another-folder", "Pacific/Chatham", 0o077)
    digests = [hashlib.sha256(one.read_bytes()).hexdigest() for one in (first, second)]
    print(f"wheel: {first.stat().st_size:,} bytes, sha256 {digests[0]}")
    wrong = [] if digests[0] == digests[1] else [f"two builds of the wheel differ: {digests}"]
    venv = place / "venv"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(venv)], check=True)
    python = str(venv / "bin" / "python")
    pip = [sys.executable, "-m", "pip", "--python", python, "install", "-q", "--no-compile", str(first)]
    subprocess.run(pip, check=True)
    site = next(venv.glob("lib/python*/site-packages"))
    sizes = {
        one: sum(file.stat().st_size for file in ([one] if one.is_file() else one.rglob("*")) if file.is_file())
        for one in site.iterdir()
    }
    size = sum(sizes.values()) / 1e6
    largest = sorted(sizes.items(), key=lambda pair: -pair[1])[:8]
    print(f"size: {size:.1f} MB; {', '.join(f'{one.name} {of / 1e6:.1f}' for one, of in largest)}")
    if size > LIMIT:
        wrong.append(f"an installation without extras has {size:.1f} MB; the limit is {LIMIT}")
    if sbom is not None:
        write_sbom(python, sbom)
    inside = (
        "import sys; sys.path.append(sys.argv[1]); import check_package as c; print(chr(10).join(c.check_imports()))"
    )
    subprocess.run([*pip[:-1], "packaging"], check=True)
    said = subprocess.run(
        [python, "-c", inside, str(ROOT / "tools")], cwd=place, text=True, capture_output=True, check=True
    )
    summary, *missing = said.stdout.strip().splitlines()
    print(f"without extras, {summary}")
    program = str(venv / "bin" / "woundfhir")
    subprocess.run([program, "demo"], cwd=place, check=True, capture_output=True)
    listed = subprocess.run([program, "profiles"], cwd=place, check=True, capture_output=True, text=True).stdout
    if set(listed.split()) != {path.name for path in (ROOT / "profiles").glob("*.json")}:
        wrong.append("the wheel does not bring the definitions of profiles/")
    if not (venv / "share" / "man" / "man1" / "woundfhir-check.1").is_file():
        wrong.append("the wheel brings no man pages")
    return [*wrong, *missing]


def write_sbom(python: str, out: Path) -> None:
    """Write the bill of materials of an environment; the same environment gives the same bytes."""
    command = [sys.executable, "-m", "cyclonedx_py", "environment", "--output-reproducible", "--of", "JSON"]
    subprocess.run([*command, "--pyproject", str(ROOT / "pyproject.toml"), "-o", str(out), python], check=True)
    parts = json.loads(out.read_text("utf-8"))["components"]
    print(f"bill of materials: {len(parts)} components, {out}")


def main() -> int:
    """Run the checks; 1 where something is wrong."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--imports", action="store_true")
    parser.add_argument("--sbom", type=Path)
    given = parser.parse_args()
    if given.imports:
        wrong = check_imports()
    else:
        try:
            distribution("woundfhir")
        except PackageNotFoundError:
            parser.error("install woundfhir first, with its extras: the licences are those of what is installed")
        with tempfile.TemporaryDirectory() as place:
            wrong = [*check_licences(), *check_wheel(Path(place), given.sbom)]
    for line in wrong:
        print(f"WRONG {line}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
