"""What a status of CDA says in R4's own code systems, and what names a document without an id."""

from __future__ import annotations

from tests.cda.cases import CASES
from woundfhir.cda.read import read

_OF_LATEX = (
    b'extension="A-1"/><code code="ASSERTION" codeSystem="2.16.840.1.113883.5.4"/><statusCode code="completed"/>'
)
_ID = b'<id root="1.3.6.1.4.1.99999.1.5"/>'


def test_a_nullified_allergy_is_entered_in_error_in_the_code_system_of_r4() -> None:
    whole = CASES["allergies"].content
    assert whole.count(_OF_LATEX) == 1
    found = read(whole.replace(_OF_LATEX, _OF_LATEX.replace(b"completed", b"nullified")))
    latex = next(
        one for one in found.resources if one.get("code", {}).get("coding", [{}])[0].get("code") == "111088007"
    )
    system = "http://terminology.hl7.org/CodeSystem/allergyintolerance-verification"
    assert latex["verificationStatus"] == {"coding": [{"system": system, "code": "entered-in-error"}]}
    assert "clinicalStatus" not in latex


def test_two_documents_without_an_id_name_their_resources_apart() -> None:
    one = CASES["allergies"].content.replace(_ID, b"")
    other = one.replace(b"Invented5", b"Invented6")
    assert one != other and _ID not in one
    names = [{f"{made['resourceType']}/{made['id']}" for made in read(of).resources} for of in (one, one, other)]
    assert names[0] == names[1]
    assert "Practitioner" in str(names[0] ^ names[2])
