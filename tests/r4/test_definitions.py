"""Our table of R4 against two that nobody here made: R4's JSON Schema, and the metadata of fhir.resources (R4B)."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.r4 import r4core
from woundfhir.r4 import definitions

_ROOT = Path(__file__).resolve().parents[2]
_ABSTRACT = ("Element", "BackboneElement", "Resource", "DomainResource")


def _pairs() -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield each of our types with the properties of its definition in the schema, found along the references."""
    schema = r4core.schema()["definitions"]
    names = {name: name for name in definitions._table()["types"] if "." not in name and name not in _ABSTRACT}
    done: set[str] = set()
    while names:
        name, theirs = names.popitem()
        done.add(name)
        properties = schema[theirs]["properties"]
        yield name, properties
        for key, element in definitions.elements(name).items():
            if "." in element.type and element.type not in done:
                found = properties[key].get("items", properties[key])["$ref"]
                names[element.type] = found.rpartition("/")[2]
    assert done >= set(definitions._table()["types"]) - set(_ABSTRACT)


def test_the_elements_of_every_type_are_those_of_the_r4_json_schema() -> None:
    compared = 0
    for name, theirs in _pairs():
        ours = definitions.elements(name)
        names = {key for key, says in theirs.items() if not key.startswith("_") and "const" not in says}
        # Two slips of the schema against the definitions: it forgets ...Meta in a choice of all types, and it gives
        # modifierExtension to the inner types that are plain Elements (Timing.repeat).
        assert {key for key in set(ours) - names if not key.endswith("Meta")} == set(), name
        assert names - set(ours) <= {"modifierExtension"}, name
        for key, element in ours.items():
            if key not in theirs:
                continue
            assert element.many == (theirs[key].get("type") == "array"), f"{name}.{key}"
            if element.type != "canonical" and key != "id" and not element.attribute:  # slips there as well
                assert ("_" + key in theirs) == element.parted, f"{name}.{key}"
        compared += len(ours)
    assert compared > 8000


def test_the_required_codes_are_those_of_the_r4_json_schema() -> None:
    compared, only_theirs = 0, set()
    for name, theirs in _pairs():
        for key, element in definitions.elements(name).items():
            enum = theirs.get(key, {}).get("enum") or theirs.get(key, {}).get("items", {}).get("enum")
            if enum is None or element.type != "code":
                continue
            if not element.codes:
                only_theirs.add(f"{name}.{key}")
                continue
            ours = set().union(*definitions.codes(element.codes).values())
            # the schema alone has FHIR version 3.0.2
            assert set(enum) - {"3.0.2"} <= ours, (
                f"{name}.{key}"
            )  # the schema leaves out codes below others in a hierarchy
            compared += 1
    assert only_theirs == {"Expression.language"}  # extensible in the definitions
    assert compared > 200


def test_elements_and_reference_targets_agree_with_fhir_resources() -> None:
    """R4B differs in few types; for those that this toolkit writes, the elements must be the same.

    Reference targets: R4B widened some, never narrowed.
    """
    from fhir.resources.R4B import get_fhir_model_class

    written = (
        "Patient,Practitioner,PractitionerRole,Organization,AllergyIntolerance,Condition,BodyStructure,Encounter,"
        "Observation,Procedure,SupplyDelivery,CarePlan,Goal,DocumentReference,Provenance,Bundle,Composition,CareTeam,"
        "Questionnaire,QuestionnaireResponse,OperationOutcome,Basic"
    )
    for name in written.split(","):
        fields = get_fhir_model_class(name).model_fields
        theirs = {
            f.alias or key: f for key, f in fields.items() if not key.endswith("__ext") and key != "fhir_comments"
        }
        ours = definitions.elements(name)
        assert {key for key in theirs if not key.startswith("_")} == set(ours), name
        for key, element in ours.items():
            extra: Any = theirs[key].json_schema_extra or {}
            targets = extra.get("enum_reference_types")
            if element.type == "Reference" and targets != ["Resource"]:
                assert set(element.targets) <= set(targets or ()), f"{name}.{key}"


def test_the_order_is_that_of_the_definitions() -> None:
    """HL7 FHIR R4, observation: the order of the XML template."""
    names = [name for name in definitions.elements("Observation") if not name.startswith(("value", "effective"))]
    assert names[:4] == ["id", "meta", "implicitRules", "language"]
    assert names[4:8] == ["text", "contained", "extension", "modifierExtension"]
    assert names[-5:] == ["device", "referenceRange", "hasMember", "derivedFrom", "component"]


def test_the_committed_table_is_what_the_tool_makes() -> None:
    package = r4core.path()
    tool = _ROOT / "tools" / "build_wire_table.py"
    done = subprocess.run(
        [sys.executable, str(tool), "--check", "--package", str(package)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
