"""Tables as ward clerks and exports write them, invented, with what must come out of each, listed by hand.

Each is a case of its own: the bytes, the mapping, the answers by client (``visit/wound/path`` -> text), the cells that
must be named (row, column), how many cells are kept aside. What stands here was written before the reader was tried.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Any

import openpyxl


@dataclass
class Messy:
    """One table."""

    name: str
    content: bytes
    mapping: str
    clients: list[dict[str, str]]
    wrong: list[tuple[int, int | None]] = field(default_factory=list)
    kept: int = 0
    said: tuple[str, ...] = ()


def columns(*pairs: tuple[str, str] | tuple[str, str, str]) -> str:
    """Tables of columns in TOML: name, where it goes, and more lines."""
    out = []
    for name, to, *more in pairs:
        written = f"[{', '.join(chr(34) + one + chr(34) for one in to.split(' '))}]" if " " in to else f'"{to}"'
        out.append("\n".join(["[[column]]", f'name = "{name}"', f"to = {written}", *more]))
    return "\n".join(out)


def workbook(fill: Callable[[Any], None], *more: str) -> bytes:
    """A workbook with one filled sheet, and empty ones."""
    book = openpyxl.Workbook()
    fill(book.active)
    for name in more:
        book.create_sheet(name)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


SYSTEM = 'system = "urn:example:chart"'
HEAD = 'table = 1\ndates = "day first"\nzone = "America/Toronto"\n'

PLAIN = Messy(
    "english-comma",
    b"Chart #,Client,DOB,Visit Date,Time,Wound,Length (cm),Width (cm),Pain,Odour?,Comments\r\n"
    b'1001,"Alpha, Ann",09/03/1948,02/03/2026,10:05,L heel,4.2,3.1,3/10,none,"dry, intact"\r\n'
    b'1001,"Alpha, Ann",09/03/1948,09/03/2026,9:40 am,L heel,4.0,3.0,2/10,N/A,\r\n'
    b'1002,"Beta, Bob",01/12/1950,02/03/2026,2:05 PM,sacrum,6,5.5,11/10,strong,\r\n',
    HEAD
    + columns(
        ("Chart #", "patient.identifiers", SYSTEM),
        ("Client", "patient.name"),
        ("DOB", "patient.born"),
        ("Visit Date", "visit.at"),
        ("Time", "visit.time"),
        ("Wound", "wound.id"),
        ("Length (cm)", "assessment.length"),
        ("Width (cm)", "assessment.width"),
        ("Pain", "assessment.pain_at_rest"),
        ("Odour?", "assessment.odour"),
    ),
    [
        {
            "patient/born": "1948-03-09",
            "patient/name/text": "Alpha, Ann",
            "patient/identifiers/0/value": "1001",
            "patient/identifiers/0/system": "urn:example:chart",
            "2026-03-02T10:05/at": "2026-03-02T10:05:00-05:00",
            "2026-03-02T10:05/L heel/assessment/length": "4.2 cm",
            "2026-03-02T10:05/L heel/assessment/width": "3.1 cm",
            "2026-03-02T10:05/L heel/assessment/pain_at_rest": "3",
            "2026-03-02T10:05/L heel/assessment/odour": "none",
            "2026-03-09T09:40/L heel/assessment/length": "4.0 cm",
            "2026-03-09T09:40/L heel/assessment/pain_at_rest": "2",
            "2026-03-09T09:40/L heel/assessment/odour/absent": "N/A",
        },
        {
            "patient/born": "1950-12-01",
            "2026-03-02T14:05/at": "2026-03-02T14:05:00-05:00",
            "2026-03-02T14:05/sacrum/assessment/length": "6 cm",
            "2026-03-02T14:05/sacrum/assessment/odour": "strong",
        },
    ],
    wrong=[(4, 9)],
    kept=1,
)

FRENCH = Messy(
    "french-semicolon-windows",
    (
        "Relevé des plaies;;;;;;;;\r\nUnité 3, mars 2026;;;;;;;;\r\n\r\n"
        "N° dossier;Né(e) le;Sexe;Date;Plaie;Dimensions (cm);Douleur;Odeur;Diabète\r\n"
        "A-17;9/3/1948;F;2/3/2026 14h30;talon gauche;4,2 x 3,1;3/10;aucune;O\r\n"
        "A-17;9/3/1948;F;9/3/2026 8 h 05;talon gauche;4 x 3 x 0,5;-;nauséabonde;N\r\n"
        "B-22;1950;H;2/3/2026;siège;env. 6 x 5;néant;;oui\r\n"
        "Total;;;;3;;;;\r\n"
    ).encode("cp1252"),
    HEAD
    + columns(
        ("N° dossier", "patient.identifiers", SYSTEM),
        ("Né(e) le", "patient.born"),
        ("Sexe", "patient.sex"),
        ("Date", "visit.at"),
        ("Plaie", "wound.id"),
        ("Dimensions (cm)", "assessment.length assessment.width assessment.depth"),
        ("Douleur", "assessment.pain_at_rest", 'words = {"néant" = "0"}'),
        ("Odeur", "assessment.odour", 'words = {"aucune" = "none"}'),
        ("Diabète", "client.diabetes"),
    ),
    [
        {
            "patient/sex": "female",
            "patient/born": "1948-03-09",
            "2026-03-02T14:30:00-05:00/talon gauche/assessment/length": "4.2 cm",
            "2026-03-02T14:30:00-05:00/talon gauche/assessment/width": "3.1 cm",
            "2026-03-02T14:30:00-05:00/client/diabetes": "yes",
            "2026-03-02T14:30:00-05:00/talon gauche/assessment/odour": "none",
            "2026-03-09T08:05:00-04:00/talon gauche/assessment/depth": "0.5 cm",
            "2026-03-09T08:05:00-04:00/talon gauche/assessment/odour": "nauséabonde",
            "2026-03-09T08:05:00-04:00/client/diabetes": "no",
        },
        {
            "patient/sex": "male",
            "patient/born": "1950",
            "2026-03-02/siège/assessment/length": "env. 6 cm",
            "2026-03-02/siège/assessment/width": "5 cm",
            "2026-03-02/siège/assessment/pain_at_rest": "0",
        },
    ],
    said=("semicolons", "Windows-1252", "row 4", "above the header, not read: rows 1, 2", "totals, not read: row 8"),
)

UNITS_ROW = Messy(
    "units-row-and-repeated-header",
    b"MRN\tDate\tWound\tL\tW\tD\n\t(yyyy-mm-dd)\t\tmm\tmm\tmm\n"
    b"7\t2026-03-02\tW1\t42\t31\t<5\n\n7\t2026-03-09\tW1\t4O\t30\t5-6\n"
    b"MRN\tDate\tWound\tL\tW\tD\n7\t2026-03-16\tW1\t38\t~29\t5\n",
    "table = 1\n"
    + columns(
        ("MRN", "patient.identifiers", 'system = "none"'),
        ("Date", "visit.at"),
        ("Wound", "wound.id"),
        ("L", "assessment.length"),
        ("W", "assessment.width"),
        ("D", "assessment.depth"),
    ),
    [
        {
            "2026-03-02/W1/assessment/length": "42 mm",
            "2026-03-02/W1/assessment/depth": "<5 mm",
            "2026-03-09/W1/assessment/width": "30 mm",
            "2026-03-09/W1/assessment/depth": "5-6 mm",
            "2026-03-16/W1/assessment/width": "~29 mm",
            "2026-03-16/W1/assessment/length": "38 mm",
        }
    ],
    wrong=[(5, 4)],
    said=("tabs", "the header again: row 6", "units of the columns: row 2"),
)

LONG = Messy(
    "long-one-finding-a-row",
    b"Client ID|Visit|When|Wound|Item|Result|Unit\n"
    b"C1|V1|02-Mar-2026|W1|Length|4,25|cm\nC1|V1|02-Mar-2026|W1|Width|31|mm\nC1|V1|02-Mar-2026|W1|Exudate|M|\n"
    b"C1|V1|02-Mar-2026|W1|Mood|cheerful|\nC2|V1|3 mars 2026|W1|Length|two|cm\nC2|V1|3 mars 2026|W1|Odour|Y|\n"
    b"C2|V1|3 mars 2026|W1|Pain|4|\n",
    'table = 1\ndecimal = "comma"\n'
    + columns(
        ("Client ID", "patient.identifiers", SYSTEM), ("Visit", "visit.id"), ("When", "visit.at"), ("Wound", "wound.id")
    )
    + '\n[long]\nname = "Item"\nvalue = "Result"\nunit = "Unit"\n'
    + "\n".join(
        f'[[item]]\nname = "{name}"\nto = "{to}"\n{more}'
        for name, to, more in (
            ("length", "assessment.length", ""),
            ("Width", "assessment.width", ""),
            ("Exudate", "assessment.exudate_amount", 'words = {M = "moderate"}'),
            ("Odour", "assessment.odour", ""),
            ("Pain", "assessment.pain_at_rest", ""),
        )
    ),
    [
        {
            "V1/at": "2026-03-02",
            "V1/W1/assessment/length": "4.25 cm",
            "V1/W1/assessment/width": "31 mm",
            "V1/W1/assessment/exudate_amount": "moderate",
        },
        {"V1/at": "2026-03-03", "V1/W1/assessment/pain_at_rest": "4"},
    ],
    wrong=[(6, 6), (7, 6)],
    kept=2,
)

SIDE_BY_SIDE = Messy(
    "several-wounds-in-one-row",
    b",,Wound 1,,,Wound 2,,\nID,Date,Site,L,W,Site,L,W\n"
    b"9,03/02/2026,heel,4.0,3.0,ankle,1.5,1.0\n9,03/09/2026,heel,3.9,2.9,,,\n",
    'table = 1\nheader_rows = 2\ndates = "month first"\nwound = ["Wound 1 / Site", "Wound 2 / Site"]\n'
    + columns(
        ("ID", "patient.identifiers", SYSTEM),
        ("Date", "visit.at"),
        ("Wound 1 / Site", "wound.site", "wound = 1"),
        ("Wound 1 / L", "assessment.length", 'wound = 1\nunit = "cm"'),
        ("Wound 1 / W", "assessment.width", 'wound = 1\nunit = "cm"'),
        ("Wound 2 / Site", "wound.site", "wound = 2"),
        ("Wound 2 / L", "assessment.length", 'wound = 2\nunit = "cm"'),
        ("Wound 2 / W", "assessment.width", 'wound = 2\nunit = "cm"'),
    ),
    [
        {
            "heel:site": "heel",
            "ankle:site": "ankle",
            "2026-03-02/heel/assessment/length": "4.0 cm",
            "2026-03-02/ankle/assessment/length": "1.5 cm",
            "2026-03-02/ankle/assessment/width": "1.0 cm",
            "2026-03-09/heel/assessment/length": "3.9 cm",
        }
    ],
)

IDENTITY = Messy(
    "a-client-who-contradicts",
    b"HCN,Name,Sex,DOB,Date,L\n11,Ann Alpha,F,1948-03-09,2026-03-02,4\n11,Ann Alpha,F,1948-03-10,2026-03-09,3\n"
    b"12,Bob Beta,M,1950-01-01,2026-03-02,2\n,,,,2026-03-09,9\n11,Ann Alpha,M,1948-03-09,2026-03-16,2\n",
    "table = 1\none_wound = true\n"
    + columns(
        ("HCN", "patient.identifiers", SYSTEM),
        ("Name", "patient.name"),
        ("Sex", "patient.sex"),
        ("DOB", "patient.born"),
        ("Date", "visit.at"),
        ("L", "assessment.length", 'unit = "cm"'),
    ),
    [
        {"patient/born": "1948-03-09", "2026-03-02/wound 1/assessment/length": "4 cm"},
        {"patient/sex": "male", "2026-03-02/wound 1/assessment/length": "2 cm"},
    ],
    wrong=[(3, 4), (5, None), (6, 3)],
)

BROKEN = Messy(
    "broken-rows-mixed-encodings",
    b"id,date,wound,note,l\n1,2026-03-02,W,caf\xc3\xa9,4\n1,2026-03-03,W,caf\xe9,5\n"
    b'1,2026-03-04,W,"open quote,6\n1,2026-03-05,W,x,y,7\n1,2026-03-06,W,"two\nlines",8\n1,2026-03-07,W,last,9\n',
    "table = 1\n"
    + columns(
        ("ID", "patient.identifiers", SYSTEM),
        ("DATE", "visit.at"),
        ("wound", "wound.id"),
        ("note", "note"),
        ("l", "assessment.length", 'unit = "cm"'),
    ),
    [
        {
            "2026-03-02/W/note": "café",
            "2026-03-03/W/note": "café",
            "2026-03-03/W/assessment/length": "5 cm",
            "2026-03-06/W/note": "two\nlines",
            "2026-03-06/W/assessment/length": "8 cm",
            "2026-03-07/W/assessment/length": "9 cm",
        }
    ],
    wrong=[(4, None), (5, None)],
    said=("Windows-1252 (1 line)",),
)

UTF16 = Messy(
    "utf-16-export",
    "Klient\tDatum\tWunde\tLänge\r\n5\t2026-03-02\tFuß\t2,5 cm\r\n".encode("utf-16"),
    "table = 1\n"
    + columns(
        ("Klient", "patient.identifiers", SYSTEM),
        ("Datum", "visit.at"),
        ("Wunde", "wound.id"),
        ("Länge", "assessment.length"),
    ),
    [{"2026-03-02/Fuß/assessment/length": "2.5 cm"}],
    said=("UTF-16",),
)

TICKS = Messy(
    "tick-boxes-and-shares",
    "ID;Datum;Wound;Redness;Warmth;Granulation %;Slough;Tissue 2;Probe\n"
    "1;2026-03-02;A;x;;80;20 %;;O\n1;2026-03-03;A;x;x;120;10;granulation 90%, slough 10%;maybe\n".encode("utf-8-sig"),
    "table = 1\n"
    + columns(
        ("ID", "patient.identifiers", SYSTEM),
        ("Datum", "visit.at"),
        ("Wound", "wound.id"),
        ("Redness", "assessment.infection_signs", 'words = {x = "redness"}'),
        ("Warmth", "assessment.infection_signs", 'words = {x = "warmth"}'),
        ("Granulation %", "assessment.tissue.granulation", 'unit = "%"'),
        ("Slough", "assessment.tissue.slough", 'unit = "%"'),
        ("Probe", "assessment.probe_to_bone"),
    ),
    [
        {
            "2026-03-02/A/assessment/infection_signs/0": "redness",
            "2026-03-02/A/assessment/tissue/granulation": "80 %",
            "2026-03-02/A/assessment/tissue/slough": "20 %",
            "2026-03-02/A/assessment/probe_to_bone": "yes",
            "2026-03-03/A/assessment/infection_signs/1": "warmth",
        }
    ],
    wrong=[(3, 6), (3, 9)],
    kept=1,
)

CONFLICT = Messy(
    "one-visit-said-twice",
    b"sep=;\nID;Date;Wound;Nurse;L\n1;2026-03-02;Heel;N. One;4\n1;2026-03-02;HEEL;N. One;5\n"
    b"1;2026-03-02;heel;N. Two;4\n1;;heel;N. Two;3\n1;2026-03-02;;N. One;2\n",
    "table = 1\n"
    + columns(
        ("ID", "patient.identifiers", SYSTEM),
        ("Date", "visit.at"),
        ("Wound", "wound.id"),
        ("Nurse", "visit.by.name"),
        ("L", "assessment.length", 'unit = "cm"'),
    ),
    [
        {
            "2026-03-02/Heel/assessment/length": "4 cm",
            "2026-03-02/by/name": "N. One",
            "row 6/Heel/assessment/length": "3 cm",
        }
    ],
    wrong=[(4, 5), (5, 4), (6, None), (7, 5)],
)

FILLED_DOWN = Messy(
    "the-client-once-and-blank-below",
    b"Client,Born,Date,Wound,L\nA1,1948,2026-03-02,W1,4\n,,2026-03-09,W1,3\nB2,,2026-03-02,W1,2\n,,2026-03-09,,1\n",
    "table = 1\n"
    + columns(
        ("Client", "patient.identifiers", SYSTEM + "\nfill_down = true"),
        ("Born", "patient.born", "fill_down = true"),
        ("Date", "visit.at"),
        ("Wound", "wound.id"),
        ("L", "assessment.length", 'unit = "cm"'),
    ),
    [{"patient/born": "1948", "2026-03-09/W1/assessment/length": "3 cm"}, {"2026-03-02/W1/assessment/length": "2 cm"}],
    wrong=[(5, 5)],
)

NAMES_ONLY = Messy(
    "no-number-of-the-client",
    b"Family,Given,Born,Date,Site,L\nAlpha,Ann,1948-03-09,2026-03-02,heel,4\n Alpha ,ANN,1948-03-09,2026-03-09,heel,3\n"
    b"Alpha,Ann,1950-01-01,2026-03-02,heel,9\n",
    'table = 1\nclient = ["Family", "Given", "Born"]\nwound = ["Site"]\n'
    + columns(
        ("Family", "patient.name.family"),
        ("Given", "patient.name.given"),
        ("Born", "patient.born"),
        ("Date", "visit.at"),
        ("Site", "wound.site"),
        ("L", "assessment.length", 'unit = "cm"'),
    ),
    [
        {"patient/name/family": "Alpha", "heel:site": "heel", "2026-03-09/heel/assessment/length": "3 cm"},
        {"patient/born": "1950-01-01", "2026-03-02/heel/assessment/length": "9 cm"},
    ],
    wrong=[(3, 2)],
)

SUPPLIES = Messy(
    "a-row-for-each-supply",
    b"Client;Date;Wound;Item;Size;Qty;Price\nC;2026-03-02;W;gauze;10 x 10 cm;2;0,10\nC;2026-03-02;W;tape;;1;0,20\n"
    b"C;2026-03-02;W;gauze;10 x 10 cm;2;0,10\n",
    "table = 1\n"
    + columns(
        ("Client", "patient.identifiers", SYSTEM),
        ("Date", "visit.at"),
        ("Wound", "wound.id"),
        ("Item", "supplies.+.item"),
        ("Size", "supplies.+.size"),
        ("Qty", "supplies.+.quantity"),
    ),
    [
        {
            "2026-03-02/W/supplies/0/item": "gauze",
            "2026-03-02/W/supplies/0/size": "10 x 10 cm",
            "2026-03-02/W/supplies/0/quantity": "2",
            "2026-03-02/W/supplies/1/item": "tape",
            "2026-03-02/W/supplies/2/quantity": "2",
        }
    ],
    kept=3,
)


def _excel(sheet: Any) -> None:
    sheet.append(["Wound list, exported"])
    sheet.append([])
    sheet.append(["Client no.", "Visit", "Start", "Wound", "Size", None, "Granulation", "Healed?", "Sum"])
    sheet.append([None, None, None, None, "Length", "Width", None, None, None])
    sheet.append([1234567, datetime(2026, 3, 2), time(10, 5), "W1", 4.2, 0.1 + 0.2, 0.8, True, "=E5*F5"])
    sheet.append([1234567, 46091, time(9, 0), "W1", date(2026, 5, 4), 3, 0.75, "#N/A", 1])
    sheet["G5"].number_format = sheet["G6"].number_format = "0%"
    sheet.merge_cells("E3:F3")


EXCEL = Messy(
    "excel-types-merged-header-formulas",
    workbook(_excel, "Empty"),
    'table = 1\nheader_rows = 2\nzone = "America/Toronto"\n'
    + columns(
        ("Client no.", "patient.identifiers", SYSTEM),
        ("Visit", "visit.at"),
        ("Start", "visit.time"),
        ("Wound", "wound.id"),
        ("Size / Length", "assessment.length", 'unit = "cm"'),
        ("Size / Width", "assessment.width", 'unit = "cm"'),
        ("Granulation", "assessment.tissue.granulation"),
        ("Healed?", "assessment.probe_to_bone"),
        ("Sum", "assessment.area", 'unit = "cm2"'),
    ),
    [
        {
            "patient/identifiers/0/value": "1234567",
            "2026-03-02T10:05/at": "2026-03-02T10:05:00-05:00",
            "2026-03-02T10:05/W1/assessment/length": "4.2 cm",
            "2026-03-02T10:05/W1/assessment/width": "0.3 cm",
            "2026-03-02T10:05/W1/assessment/tissue/granulation": "80 %",
            "2026-03-02T10:05/W1/assessment/probe_to_bone": "yes",
            "row 6/W1/assessment/width": "3 cm",
            "row 6/W1/assessment/tissue/granulation": "75 %",
            "row 6/W1/assessment/area": "1 cm2",
        }
    ],
    wrong=[(5, 9), (6, 2), (6, 5), (6, 8)],
    said=("the sheet is Sheet, the only one with cells of 2", "row 4"),
)

POINT = Messy(
    "thousands-and-points",
    b"ID;Date;W;Vol;Len\n1;2026-03-02;a;1,250;4.5\n1;2026-03-03;a;2.5;4,5\n1;2026-03-04;a;1 250;.5\n",
    'table = 1\ndecimal = "point"\n'
    + columns(
        ("ID", "patient.identifiers", SYSTEM),
        ("Date", "visit.at"),
        ("W", "wound.id"),
        ("Vol", "assessment.volume", 'unit = "cm3"'),
        ("Len", "assessment.length", 'unit = "cm"'),
    ),
    [
        {
            "2026-03-02/a/assessment/volume": "1250 cm3",
            "2026-03-03/a/assessment/volume": "2.5 cm3",
            "2026-03-04/a/assessment/length": "0.5 cm",
        }
    ],
    wrong=[(3, 5)],
)

MESSY = [
    *(PLAIN, FRENCH, UNITS_ROW, LONG, SIDE_BY_SIDE, IDENTITY, BROKEN, UTF16, TICKS, CONFLICT),
    *(FILLED_DOWN, NAMES_ONLY, SUPPLIES, EXCEL, POINT),
]
