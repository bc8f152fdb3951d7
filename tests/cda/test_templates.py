"""The wound templates of C-CDA, row by row: each, as its table says it, and what of it the record must say.

Source of the rows: HL7/CDA-ccda@364e89a (fsh-tank/input/fsh/Entry and Section), template 70 from a public FSH of the
older templates. Codes of wounds and findings stand in the catalogue or its maps. Each row stands in a document of its
own, whose other parts are the least that a document needs.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import pytest

from tests.cda.test_documents import answers
from woundfhir.intake.inputs import Input
from woundfhir.intake.source import parse
from woundfhir.intake.traced import TracedLosses

Json = Any
ROOT = "2.16.840.1.113883.10.20.22.4."
SCT, LOINC = 'codeSystem="2.16.840.1.113883.6.96"', 'codeSystem="2.16.840.1.113883.6.1"'
_HEAD = (
    '<ClinicalDocument xmlns="urn:hl7-org:v3" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"><id root="1.2.3"/>'
    '<recordTarget><patientRole><id root="1.2.3.4" extension="A"/></patientRole></recordTarget>'
    "<component><structuredBody><component><section>{}</section></component></structuredBody></component>"
    "</ClinicalDocument>"
)
_ASSERTION = '<code code="ASSERTION" codeSystem="2.16.840.1.113883.5.4"/>'
_DONE = '<statusCode code="completed"/>'


class Row(NamedTuple):
    """One row of the table."""

    entry: str
    wounds: tuple[tuple[str | None, ...], ...] = ()
    assessment: tuple[tuple[str, Json], ...] = ()
    care: tuple[tuple[str, Json], ...] = ()
    kept: str = ""


def template(number: str, extension: str = "") -> str:
    return f'<templateId root="{ROOT}{number}"{f""" extension="{extension}" """ if extension else ""}/>'


def observation(number: str, code: str, rest: str, identity: str = "", attributes: str = "") -> str:
    known = f'<id root="1.2.3.5" extension="{identity}"/>' if identity else ""
    start = f'<observation classCode="OBS" moodCode="EVN"{attributes}>'
    return f"{start}{template(number) if number else ''}{known}{code}{_DONE}{rest}</observation>"


def part(kind: str, inner: str) -> str:
    return f'<entryRelationship typeCode="{kind}">{inner}</entryRelationship>'


def wound(*inner: str, code: str = "1163215007", site: str = "") -> str:
    value = f'<effectiveTime><low value="20260201"/></effectiveTime><value xsi:type="CD" code="{code}" {SCT}/>'
    return observation("114", _ASSERTION, value + site + "".join(inner), "W")


def supply(mood: str, *inner: str) -> str:
    return (
        f'<supply classCode="SPLY" moodCode="{mood}">{template("50", "2014-06-09")}<id root="1.2.3.6" extension="S"/>'
        f'{_DONE}<effectiveTime xsi:type="IVL_TS"><high value="20260302"/></effectiveTime><quantity value="2"/>'
        f"{''.join(inner)}</supply>"
    )


_WORDS = '<value xsi:type="CD" nullFlavor="OTH"><originalText>{}</originalText></value>'
_AT = '<effectiveTime value="20260302"/>'
_SITE = (
    f'<targetSiteCode code="84607009" {SCT}><qualifier><name code="272741003" {SCT}/>'
    f'<value code="24028007" {SCT}/></qualifier></targetSiteCode>'
)
_HEEL = (("pressure injury", "heel", "right"),)
_NAMED = (("pressure injury", None, None),)
_REASON = part("RSON", '<act classCode="ACT" moodCode="EVN"><id root="1.2.3.5" extension="W"/></act>')
_PRODUCT = (
    f'<participant typeCode="{{}}"><participantRole classCode="MANU">{template("37")}<id root="1.2.3.7"/>'
    "<playingDevice>"
    '<code code="f" codeSystem="1.2.3.8" displayName="foam dressing"/></playingDevice><scopingEntity>'
    '<id root="1.2.3.9"/></scopingEntity></participantRole></participant>'
)
_STAGE = f'<value xsi:type="CD" code="1163222004" {SCT}/>'


def measured(code: str, system: str, unit: str) -> str:
    return wound(
        part("COMP", observation("133", f'<code code="{code}" {system}/>',
                                 f'{_AT}<value xsi:type="PQ" value="2.50" unit="{unit}"/>'))
    )  # fmt: skip


ROWS: dict[str, Row] = {
    "114 wound": Row(wound(site=_SITE), _HEEL),
    "114 wound, a kind in words": Row(
        observation("114", _ASSERTION, _WORDS.format("graze")),
        (("graze", None, None),),
    ),
    "133 length, LOINC": Row(measured("39126-8", LOINC, "[in_i]"), _NAMED, (("length", "2.50 [in_i]"),)),
    "133 width, LOINC": Row(measured("39125-0", LOINC, "cm"), _NAMED, (("width", "2.50 cm"),)),
    "133 depth, LOINC": Row(measured("39127-6", LOINC, "mm"), _NAMED, (("depth", "2.50 mm"),)),
    "133 length, SNOMED CT": Row(measured("401238003", SCT, "cm"), _NAMED, (("length", "2.50 cm"),)),
    "133 width, SNOMED CT": Row(measured("401239006", SCT, "cm"), _NAMED, (("width", "2.50 cm"),)),
    "134 characteristic": Row(
        wound(part("COMP", observation("134", _ASSERTION, f'{_AT}<value xsi:type="CD" code="447547000" {SCT}/>'))),
        _NAMED,
        (("odour", "offensive"),),
    ),
    "134 characteristic of another list": Row(
        wound(part("COMP", observation("134", _ASSERTION, f'{_AT}<value xsi:type="CD" code="307491001" {SCT}/>'))),
        _NAMED,
        (("exudate_type", "purulent"),),
    ),
    "76 number of pressure ulcers": Row(
        wound(part("COMP", observation(
            "76", f'<code code="2264892003" {SCT}><translation code="75277-4" {LOINC}/></code>',
            '<value xsi:type="INT" value="3"/>'
            + part("SUBJ", observation("", f'<code code="91150-3" {LOINC}/>', _STAGE)),
        ))),
        _NAMED,
        kept="/entryRelationship",
    ),
    "77 highest stage": Row(
        wound(part("COMP", observation("77", f'<code code="420905001" {SCT}/>', _STAGE))),
        _NAMED,
        (("pressure_injury_stage", "stage 3"),),
    ),
    "70 pressure ulcer, and its sizes": Row(
        observation("70", _ASSERTION, f'<value xsi:type="CD" code="420324007" {SCT}/>{_SITE}' + "".join(
            part("COMP", observation("", f'<code code="{code}" {SCT}/>',
                                     f'<value xsi:type="PQ" value="{n}" unit="cm"/>'))
            for code, n in (("401238003", 3), ("401239006", 2), ("425094009", 1)))),
        _HEEL,
        (("length", "3 cm"), ("width", "2 cm"), ("depth", "1 cm")),
    ),
    "70 pressure ulcer, negated": Row(
        observation("70", _ASSERTION, _STAGE, attributes=' negationInd="true"'), kept="/entry/observation"
    ),
    "50 supply, given": Row(wound() + "</entry><entry>" + supply("EVN", _PRODUCT.format("PRD"), _REASON), _NAMED,
                            care=(("supplies", [{"item": "foam dressing", "quantity": "2"}]),)),
    "50 supply, intended": Row(wound() + "</entry><entry>" + supply("INT", _PRODUCT.format("PRD"), _REASON), _NAMED,
                               kept="/entry[2]/supply"),
    "135 organizer of equipment": Row(
        wound() + f'</entry><entry><organizer classCode="CLUSTER" moodCode="EVN">{template("135")}'
        f'<id root="1.2.3.4.1"/>'
        f"{_DONE}<component>{supply('EVN', _PRODUCT.format('PRD'), _REASON)}</component></organizer>", _NAMED,
        care=(("supplies", [{"item": "foam dressing", "quantity": "2"}]),)),
    "14 procedure": Row(
        wound() + f'</entry><entry><procedure classCode="PROC" moodCode="EVN">{template("14", "2014-06-09")}'
        f'<id root="1.2.3.4.2"/>'
        f'<code code="225116006" {SCT} displayName="Irrigation of wound"/>{_DONE}{_AT}{_REASON}</procedure>', _NAMED,
        care=(("cleansing", {"note": "Irrigation of wound"}),)),
    "14 procedure, intended": Row(
        wound() + f'</entry><entry><procedure classCode="PROC" moodCode="INT">{template("14", "2014-06-09")}'
        f'<id root="1.2.3.4.2"/>'
        f'<code code="225116006" {SCT}/><statusCode code="active"/>{_AT}{_REASON}</procedure>', _NAMED,
        kept="/entry[2]/procedure"),
    "3 concern with a wound in the problem list": Row(
        f'<act classCode="ACT" moodCode="EVN">{template("3")}<id root="1.2.3.4.3"/><code code="CONC" '
        f'codeSystem="2.16.840.1.113883.5.6"/><statusCode code="active"/>'
        + part("SUBJ", observation("4", f'<code code="55607006" {SCT}/>',
                                   f'<value xsi:type="CD" code="1163215007" {SCT}/>{_SITE}', "P")) + "</act>", _HEEL),
}  # fmt: skip


def read(row: Row) -> Input:
    return parse(_HEAD.format(f"<entry>{row.entry}</entry>").encode(), "row.xml")


@pytest.mark.parametrize("name", ROWS)
def test_a_template_is_read_as_its_table_says(name: str) -> None:
    row, one = ROWS[name], read(ROWS[name])
    assert tuple(tuple(w.get(key) for key in ("kind", "site", "side")) for w in one.history.wounds) == row.wounds
    found = answers(one.history, "assessment")
    assert {key: value for (_, key), value in found.items()} == dict(row.assessment)
    done = answers(one.history, "care") | answers(one.history, "supplies")
    assert {key: value for (_, key), value in done.items()} == dict(row.care)
    assert isinstance(one.report, TracedLosses)
    left = ["".join(at) for at, fate in one.report.fates.items() if fate.kind not in ("understood", "reworded")]
    assert any(row.kept in place and place.endswith("/@value" if "76" in name else "/@code") for place in left)
