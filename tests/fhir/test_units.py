"""Units on the wire (UCUM, The Unified Code for Units of Measure)."""

from __future__ import annotations

from decimal import Decimal

from woundfhir.fhir import to_fhir
from woundfhir.intake.resources import from_fhir
from woundfhir.record import History


def test_an_index_goes_out_as_a_number_of_unit_one() -> None:
    """UCUM writes the unity as 1 (from memory). The record keeps the bare number."""
    pressures = [{"side": "left", "index": "0.90", "toe_index": "<0.7"}, {"side": "right", "index": "low"}]
    entry = {"wound": "W1", "assessment": {"limb_pressure": pressures}}
    visit = {"id": "V1", "at": "2026-03-02", "status": "final", "wounds": [entry]}
    history = History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [visit]})
    made = to_fhir(history)
    one = {"system": "http://unitsofmeasure.org", "code": "1"}
    said = [r["valueQuantity"] for r in made if "valueQuantity" in r]
    said += [c["valueQuantity"] for r in made for c in r.get("component", ()) if "valueQuantity" in c]
    assert said == [{"value": Decimal("0.90"), **one}, {"value": Decimal("0.7"), "comparator": "<", **one}]
    assert from_fhir(made)[0] == history
