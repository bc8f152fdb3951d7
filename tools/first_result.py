"""How long the commands take between the README and a first useful result, for each of the three users.

    python tools/first_result.py            # from a fresh environment, with pip's packages from its index or cache
    python tools/first_result.py --keep DIR  # leave what was made in DIR, to look at it

The commands are those that the README names, on files that nobody here has shaped to the code: a table as a hospital's
database exports it, a Bundle as a server answers a search, a note as a nurse types it. Everything in them is invented.
What a person adds is not measured but counted: the words of the README to read up to there (at 200 a minute: common
practice, no source) and the answers that a mapping asks for.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]

VISITS = """\
assessment_id,mrn,last_name,first_name,dob,assessed_at,wound_no,wound_type,body_site,laterality,length_mm,width_mm,\
depth_mm,pct_granulation,pct_slough,exudate_amt,exudate_type,odor,pain_score,dressing,nurse,comments
1,00831,Sample,Rosa,1944-07-19,2026-11-02 09:40:00,1,Diabetic foot ulcer,Plantar 1st MTP,L,14.0,11.0,3.0,70,30,Mod,\
Serous,N,2,Ca alginate + foam,K. Invented RN,
2,00831,Sample,Rosa,1944-07-19,2026-11-09 10:05:00,1,Diabetic foot ulcer,Plantar 1st MTP,L,12.5,10.0,3.0,80,20,Small,\
Serous,N,1,Ca alginate + foam,K. Invented RN,offloading boot worn
3,00917,Exemplar,Otto,1938-02-02,2026-11-03 14:20:00,1,Pressure Inj Stg 3,Coccyx,,32.0,21.0,9.0,40,60,Large,\
Purulent,Y,6,Gelling fibre,M. Invented RPN,MD called re odour
"""

NOTE = """\
L lateral malleolus venous ulcer 5x3.5cm superficial, no undermining/tunnelling. 60% gran 40% slough, edges attached.
Mod serous exudate, no odor. Periwound macerated. Pain 5/10 w drsg change. NS 100ml cleanse. Tol well. Next change Fri.
"""

#: The answers to what the proposed mapping leaves open, as a person types them.
DECISIONS = {'zone = "decide"': 'zone = "America/Toronto"', 'system = "decide"': 'system = "https://ward.example/mrn"'}

#: The users, what each types after the demo, and the heading under which the README speaks to them.
USERS = {
    "an integrator": (
        "**You connect systems.**",
        [
            "woundfhir map table visits.csv -o visits.toml",
            "woundfhir convert visits.csv --map visits.toml -t ndjson -o visits.ndjson",
            "woundfhir convert bundle.json -o record.yaml",
        ],
    ),
    "a nurse": (
        "**You change dressings.**",
        ["woundfhir read-text words.txt -o draft.yaml", "woundfhir check draft.yaml"],
    ),
    "a transfer team": (
        "**You send clients on, or take them in.**",
        [
            "woundfhir bundle woundfhir-demo/story.yaml -o history.json --sheet sheet.html",
            "woundfhir receive bundle.json",
            "woundfhir receive bundle.json --into clients/77",
            "woundfhir bundle clients/77 -o on.json --sheet on.html",
        ],
    ),
}


def bundle() -> str:
    """Return a Bundle as a server answers a search: the client, a wound, two sizes, what no map knows."""

    def of(kind: str, key: str, **more: object) -> dict[str, object]:
        return {
            "fullUrl": f"https://ehr.example/fhir/{kind}/{key}",
            "resource": {"resourceType": kind, "id": key, **more},
        }

    def coded(system: str, code: str, words: str) -> dict[str, object]:
        return {"coding": [{"system": system, "code": code, "display": words}]}

    client, when = {"reference": "Patient/77"}, "2026-11-18T15:30:00-05:00"
    seen = {"status": "final", "subject": client, "effectiveDateTime": when}
    sizes = [("1", "39126-8", "Length of Wound", 42), ("2", "39125-0", "Width of Wound", 35)]
    entries = [
        of("Patient", "77", identifier=[{"system": "https://ehr.example/mrn", "value": "77-A"}], birthDate="1950-12"),
        of(
            "Condition", "900", code=coded("http://snomed.info/sct", "402863005", "Venous ulcer of leg"), subject=client
        ),
        *(
            of(
                "Observation",
                key,
                code=coded("http://loinc.org", code, words),
                focus=[{"reference": "Condition/900"}],
                valueQuantity={"value": value, "unit": "mm", "system": "http://unitsofmeasure.org", "code": "mm"},
                **seen,
            )
            for key, code, words, value in sizes
        ),
        of("Observation", "3", code={"text": "Wound photo taken by"}, valueString="ward phone", **seen),
    ]
    return json.dumps({"resourceType": "Bundle", "type": "searchset", "entry": entries})


def main() -> int:
    """Install, run each user's commands, print what each took."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--keep", type=Path)
    keep = parser.parse_args().keep
    with tempfile.TemporaryDirectory() as scratch:
        folder = keep or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in (("visits.csv", VISITS), ("words.txt", NOTE), ("bundle.json", bundle())):
            (folder / name).write_text(text, "utf-8")
        print(f"{_run(f'{sys.executable} -m venv .venv && .venv/bin/pip install -q {ROOT}', folder):7.1f} s  install")
        print(f"{_run('woundfhir demo', folder):7.1f} s  woundfhir demo (the first run, which compiles)")
        for user, (heading, commands) in USERS.items():
            _user(folder, user, heading, commands)
    return 0


def _user(folder: Path, user: str, heading: str, commands: list[str]) -> None:
    print(f"\n{user}: {_words(heading)} words of the README, {_words(heading) / 200:.1f} minutes at 200 a minute")
    total = 0.0
    for command in commands:
        total += (took := _run(command, folder))
        print(f"{took:7.1f} s  {command}")
        mapping = folder / "visits.toml"
        if command.startswith("woundfhir map"):
            text = mapping.read_text("utf-8")
            for asked, answer in DECISIONS.items():
                text = text.replace(asked, answer)
            mapping.write_text(text, "utf-8")
            print(f"           (typed by hand: {len(DECISIONS)} answers in visits.toml)")
    print(f"{total:7.1f} s  in all")


def _words(heading: str) -> int:
    """Return how many words stand in the README up to the end of a user's section, without those of other users."""
    text = (ROOT / "README.md").read_text("utf-8")
    start, _, rest = text.partition("## Three users")
    own = rest[rest.index(heading) :]
    ends = [own.find(other) for other, _ in USERS.values() if other != heading] + [own.find("\n## ")]
    return len((start + own[: min(end for end in ends if end > 0)]).split())


def _run(command: str, folder: Path) -> float:
    path = f"{folder.resolve() / '.venv' / 'bin'}{os.pathsep}{os.environ['PATH']}"
    env = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"} | {"PATH": path}
    before = time.perf_counter()
    done = subprocess.run(command, shell=True, cwd=folder, env=env, capture_output=True, text=True, check=False)
    took = time.perf_counter() - before
    if done.returncode not in (0, 1):  # 1: there is something to look at
        sys.exit(f"{command}\n{done.stdout}{done.stderr}")
    return took


if __name__ == "__main__":
    sys.exit(main())
