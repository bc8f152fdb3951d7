"""HL7 v2 messages as other systems send them, and what each says, written down by hand before it was read.

They were made from the tables of HL7's v2-to-FHIR mappings (HL7/v2-to-fhir@8c9b414) in the forms of the versions 2.3
to 2.8 (common practice, no source); persons, ids and places are invented. Codes stand in the catalogue or its maps.
Each client: number -> what is said of their wounds: (kind, site, side, findings), in order.
"""

from __future__ import annotations

from typing import Any, NamedTuple

Json = Any


class Client(NamedTuple):
    """What is said of one client."""

    wounds: list[dict[str, Json]]
    born: str | None = None
    conflict: bool = False


class Case(NamedTuple):
    """A file of messages, and what must come of it."""

    text: str
    clients: dict[str, Client]
    report: tuple[tuple[str, str, str], ...] = ()
    never: tuple[str, ...] = ()
    encoding: str = "utf-8"


def msh(
    control: str = "1", version: str = "2.5.1", kind: str = "ORU^R01^ORU_R01", rest: str = "", mode: str = "P"
) -> str:
    return f"MSH|^~\\&|NOTES|HOMECARE|IN|CLINIC|20260304153000-0500||{kind}|{control}|{mode}|{version}{rest}\r"


def pid(number: str, born: str = "19480312", sex: str = "F", rest: str = "") -> str:
    return f"PID|1||{number}^^^HOMECARE&1.3.6.1.4.1.99999.5&ISO^MR||Testcase^Ana^M||{born}|{sex}{rest}\r"


PV1 = "|".join(["PV1", "1", "O", "WC^^^Wound clinic", *[""] * 15, "V-1", *[""] * 24, "20260304140000-0500"]) + "\r"
OBR = "OBR|1|P1|F1^NOTES|39135-9^Wound assessment panel^LN|||202603041415-0500\r"
LENGTH, WIDTH, DEPTH = "39126-8^Length of Wound^LN", "39125-0^Width of Wound^LN", "39127-6^Depth of Wound^LN"
ODOUR, KIND = "72288-4^Odor of Exudate^LN", "72369-0^Kind^L"
PRESSURE = "1163215007^Pressure injury^SCT"
HEEL, SACRUM = "84607009^Skin structure of heel^SCT", "51027004^Skin structure of sacral region^SCT"


def obx(
    number: int, kind: str, code: str, value: str, unit: str = "", sub: str = "", status: str = "F", rest: str = ""
) -> str:
    return f"OBX|{number}|{kind}|{code}|{sub}|{value}|{unit}|||||{status}{rest}\r"


def at(site: str) -> str:
    """OBX-20, behind OBX-11."""
    return "|" * 9 + site


CASES: dict[str, Case] = {
    "one wound, no sub-id": Case(
        msh() + pid("C-1") + PV1 + OBR
        + obx(1, "NM", LENGTH, "4.20", "cm^centimeter^UCUM", rest="|||20260304142000-0500||RN22^Writer^Rae")
        + obx(2, "NM", WIDTH, "3", "cm^centimeter^UCUM")
        + "NTE|1|L|measured head to toe\r"
        + obx(3, "CWE", ODOUR, "447547000^Offensive wound odor^SCT"),
        {"C-1": Client([{"length": "4.20 cm", "width": "3 cm", "odour": "offensive"}], "1948-03-12")},
        (("understood", "message 1, OBX[1]-5", ""), ("kept", "message 1, OBR-2", "")),
    ),
    "two wounds by sub-id, sites in OBX-20": Case(
        msh(version="2.8") + pid("C-2") + OBR
        + obx(1, "NM", LENGTH, "4", "cm", "1", rest=at(HEEL)) + obx(2, "NM", WIDTH, "2", "cm", "1", rest=at(HEEL))
        + obx(3, "NM", LENGTH, "7", "mm", "2", rest=at(SACRUM))
        + obx(4, "NM", WIDTH, "1.5", "[in_i]", "2", rest=at(SACRUM)),
        {"C-2": Client([{"site": "heel", "length": "4 cm", "width": "2 cm"},
                        {"site": "sacrum", "length": "7 mm", "width": "1.5 [in_i]"}])},
    ),
    "two wounds by sub-id alone": Case(
        msh() + pid("C-3") + OBR + obx(1, "NM", LENGTH, "4", "cm", "1") + obx(2, "NM", WIDTH, "2", "cm", "1")
        + obx(3, "NM", LENGTH, "5", "cm", "2") + obx(4, "NM", WIDTH, "3", "cm", "2"),
        {"C-3": Client([{"length": "4 cm", "width": "2 cm"}, {"length": "5 cm", "width": "3 cm"}])},
    ),
    "sub-ids that only number": Case(
        msh() + pid("C-4") + OBR + obx(1, "NM", LENGTH, "4", "cm", "1") + obx(2, "NM", WIDTH, "2", "cm", "2")
        + obx(3, "NM", DEPTH, "1", "mm", "3"),
        {"C-4": Client([{"length": "4 cm", "width": "2 cm", "depth": "1 mm"}])},
    ),
    "a kind of wound among the results": Case(
        msh() + pid("C-5") + OBR + obx(1, "CWE", KIND, PRESSURE, "", "1") + obx(2, "NM", LENGTH, "4", "cm", "1"),
        {"C-5": Client([{"kind": "pressure injury", "length": "4 cm"}])},
    ),
    "old version, other delimiters, numbers as words": Case(
        "MSH$*!?%$NOTES$HOMECARE$$$20260304$$ORU*R01$7$P$2.3\rPID$1$$C-6***HOMECARE$$Testcase*Ana$$19480312$F\r"
        "OBR$1$$F6$39135-9*Panel*LN$$$20260304\rOBX$1$ST$39126-8*Length*LN$$4,2$cm$$$$$F\r"
        "OBX$2$ST$39125-0*Width*LN$$3.1$cm$$$$$F\rOBX$3$TX$39127-6*Depth*LN$$about 3 mm$cm$$$$$F\r",
        {"C-6": Client([{"length": "4.2 cm", "width": "3.1 cm", "depth": "about 3 mm"}], "1948-03-12")},
        (("not-understood", "OBX[3]-6", "beside words"),),
    ),
    "statuses": Case(
        msh() + pid("C-7") + OBR + obx(1, "NM", LENGTH, "4", "cm", status="W")
        + obx(2, "NM", WIDTH, "5", "cm", status="X")
        + obx(3, "NM", DEPTH, "6", "mm", status="D") + obx(4, "CWE", ODOUR, "447547000^Offensive^SCT", status="Q")
        + obx(5, "NM", LENGTH, "8", "cm", status="O"),
        {"C-7": Client([])},
        (("withdrawn", "OBX[1]", "error"), ("withdrawn", "OBX[2]", "cancelled"), ("withdrawn", "OBX[3]", "error"),
         ("not-understood", "OBX[4]", "status"), ("kept", "OBX[5]", "order")),
        never=("4 cm", "5 cm", "6 mm", "8 cm", "offensive"),
    ),
    "a correction of an earlier message": Case(
        "FHS|^~\\&|NOTES\rBHS|^~\\&|NOTES\r" + msh("1") + pid("C-8") + OBR + obx(1, "NM", LENGTH, "40", "cm")
        + obx(2, "NM", WIDTH, "2", "cm") + msh("2") + pid("C-8") + OBR + obx(1, "NM", LENGTH, "4.0", "cm", status="C")
        + "BTS|2\rFTS|1\r",
        {"C-8": Client([{"length": "4.0 cm", "width": "2 cm"}])},
        (("withdrawn", "message 1, OBX[1]", "corrects"),),
        never=("40 cm",),
    ),
    "two clients in one batch": Case(
        "BHS|^~\\&|NOTES\r" + msh("1") + pid("C-9", "19480312") + OBR + obx(1, "NM", LENGTH, "4", "cm")
        + msh("2") + pid("D-9", "19510401", "M") + OBR + obx(1, "NM", LENGTH, "9", "cm") + "BTS|2\r",
        {"C-9": Client([{"length": "4 cm"}], "1948-03-12"), "D-9": Client([{"length": "9 cm"}], "1951-04-01")},
    ),
    "two clients in one message": Case(
        msh() + pid("C-10") + OBR + obx(1, "NM", LENGTH, "4", "cm") + pid("D-10", "19510401") + OBR
        + obx(1, "NM", LENGTH, "9", "cm"),
        {"C-10": Client([{"length": "4 cm"}]), "D-10": Client([{"length": "9 cm"}])},
    ),
    "units that contradict": Case(
        msh() + pid("C-11") + OBR + obx(1, "NM", LENGTH, "4", "cm") + obx(2, "NM", LENGTH, "4", "mm"),
        {"C-11": Client([{"length": {"absent": "two different values came"}}])},
        (("conflict", "OBX[1]", "neither"), ("conflict", "OBX[2]", "neither")),
    ),
    "escapes, characters and repetition": Case(
        msh(rest="||||||8859/1") + pid("C-12").replace("Testcase", "Tést") + OBR
        + obx(1, "FT", "80791-7^Nutrition^LN", "soft\\.br\\diet \\T\\ drinks \\E\\ more\\H\\!\\N\\")
        + obx(2, "CWE", "72301-5^Periwound^LN", "macerated^^L~erythema^^L"),
        {"C-12": Client([{"periwound": ["macerated", "erythema"]}])},
        encoding="iso-8859-1",
    ),
    "nonsense dates, a comparator, nothing": Case(
        msh() + pid("C-13", "00000000") + OBR + obx(1, "SN", DEPTH, "<^2", "mm", rest="|||20260230")
        + obx(2, "NM", LENGTH, '""', "cm") + obx(3, "NM", WIDTH, "", "cm") + obx(4, "NM", WIDTH, "wide", "cm"),
        {"C-13": Client([{"depth": "<2 mm"}], None)},
        (("not-understood", "PID-7", "calendar"), ("not-understood", "OBX[1]-14", "calendar"),
         ("withdrawn", "OBX[2]-6", "deleted"), ("not-understood", "OBX[4]-5", "number")),
        never=("2026-02-30",),
    ),
    "a vital sign founds no wound": Case(
        msh() + pid("C-14") + "OBR|1||F2|8310-5^Body temperature^LN|||20260304\r"
        + obx(1, "NM", "8310-5^Body temperature^LN", "38.2", "Cel^degree Celsius^UCUM"),
        {"C-14": Client([])},
    ),
    "other messages beside": Case(
        msh("1", kind="ADT^A08") + pid("X-1") + msh("2", mode="T") + pid("X-2") + OBR + obx(1, "NM", LENGTH, "99", "cm")
        + msh("3") + OBR + obx(1, "NM", LENGTH, "98", "cm")
        + msh("4") + pid("C-15") + OBR + obx(1, "NM", LENGTH, "4", "cm"),
        {"C-15": Client([{"length": "4 cm"}])},
        (("not-understood", "message 1, PID-3", "another kind"), ("not-understood", "message 2, OBX-5", "testing"),
         ("not-understood", "message 3, OBX-5", "no client")),
        never=("99 cm", "98 cm"),
    ),
}  # fmt: skip
