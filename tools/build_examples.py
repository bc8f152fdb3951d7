"""Write the examples in every form from their stories, or check that they are what the toolkit writes.

Usage: ``python tools/build_examples.py [--check]``.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))  # the toolkit of this checkout, whichever is installed: before it is imported

from woundfhir.demo import story  # noqa: E402
from woundfhir.handover import bundle  # noqa: E402
from woundfhir.handover.sheet.page import sheet_html  # noqa: E402
from woundfhir.intake.source import parse  # noqa: E402
from woundfhir.output import render, render_resource  # noqa: E402
from woundfhir.site import Site  # noqa: E402

EXAMPLES = ROOT / "examples"


def files() -> dict[str, bytes]:
    """Return the content of every generated file by its path below ``examples/``."""
    out: dict[str, bytes] = {}
    for name, content, forms in (
        ("skin-tear", (EXAMPLES / "skin-tear" / "story.yaml").read_bytes(), True),
        ("leg-and-sacrum", story(), False),
    ):
        history = parse(content, f"{name}/story.yaml").history
        if forms:
            out[f"{name}/story.json"] = render(history, "record-json")
            out[f"{name}/story.fhir.json"] = render(history, "fhir-json")
            out[f"{name}/story.fhir.xml"] = render(history, "fhir-xml")
            out[f"{name}/story.ndjson"] = render(history, "ndjson")
            out[f"{name}/document.json"] = render_resource(bundle(history, "document"))
        else:
            out[f"{name}/story.yaml"] = content
        out[f"{name}/story.csv"] = render(history, "csv")
        out[f"{name}/sheet.html"] = sheet_html(history)
    clinic = EXAMPLES / "site"
    out["site/site.toml"] = (ROOT / "woundfhir" / "site" / "example.toml").read_bytes()
    with Site(clinic):
        note = parse((clinic / "note.yaml").read_bytes(), "site/note.yaml").history
        out["site/note.fhir.json"] = render(note, "fhir-json")
    return out


def main() -> int:
    """Write, or with ``--check`` compare; return the exit code."""
    wrong = []
    for name, content in files().items():
        path = EXAMPLES / name
        if "--check" in sys.argv:
            if not path.exists() or path.read_bytes() != content:
                wrong.append(name)
        else:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
    for name in wrong:
        print(f"examples/{name} is not what the toolkit writes: run python tools/build_examples.py")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
