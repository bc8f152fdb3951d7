"""Inputs in the shapes that published guides give wounds, written from their tables before anything read them.

Sources: standards notes, section 1; HL7 FHIR R4 resource pages. Clients and values are invented.
"""

from __future__ import annotations

from tests.intake.foreign.guides import europe, north_america, transfers

GUIDES = {
    made.__name__: made
    for made in (
        europe.nl_wound,
        europe.nl_pressure_ulcer,
        europe.nl_burn,
        europe.nl_materials,
        europe.dk_dimensions,
        europe.dk_kind_by_local_code,
        transfers.au_pressure_injury,
        europe.de_nkduc,
        north_america.us_icd10,
        north_america.us_icd10_leg,
        north_america.us_braden,
        north_america.us_braden_members,
        transfers.us_transfer,
        north_america.us_counts,
        transfers.care_procedures,
        transfers.encounter_and_team,
        transfers.contained_wound,
        transfers.text_only,
        north_america.hl7_two_wounds,
        europe.dk_calculated,
        europe.nl_legacy_members,
        europe.be_referral,
        europe.de_care,
        north_america.pacio_pump,
        north_america.us_core_note,
        north_america.ca_home_visit,
        north_america.ccda_on_fhir,
        transfers.plan_of_others,
    )
}
