"""What two validators that nobody here made say of our good and broken resources.

1. R4's own JSON Schema (fhir.schema.json of hl7.fhir.r4.core 4.0.1) through jsonschema: elements, JSON kinds, some
   codes; it knows no invariants and no references.
2. pyrofile-validator 0.3.0 with the definitions of the same package.

What each finds of the broken set stands case by case in ``cases/broken.json`` (``schema``, ``pyrofile``), so that
nobody takes their silence for a pass. What ours finds is in test_cases.py: all of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from importlib.metadata import version
from typing import Any

import pytest

from tests.r4 import r4core
from tests.r4.structure.cases import BROKEN, GOOD, Case

Json = Any
Opinion = Callable[[dict[str, Json]], set[tuple[str, str, str]]]
_PYROFILE = "0.3.0"
#: False alarms on good resources: bdl-8 on an entry without fullUrl (R4's expression is then empty, which is no break).
_FALSE_ALARMS = {"stored": {"profile.element.invariant.bdl-8"}}


@pytest.fixture(scope="module")
def schema() -> Callable[[dict[str, Json]], bool]:
    """Say whether R4's JSON Schema admits a resource."""
    from jsonschema import Draft6Validator
    from jsonschema.validators import extend

    whole = r4core.schema()
    one_of = Draft6Validator.VALIDATORS["oneOf"]
    for name, one in whole["definitions"].items():
        assert "oneOf" not in one or name == "ResourceList"
    for branch in whole["oneOf"]:
        one = whole["definitions"][branch["$ref"].rpartition("/")[2]]
        assert "resourceType" in one["required"] and "const" in one["properties"]["resourceType"]

    def of_its_type(validator: Json, branches: list[Json], instance: Json, schema: Json) -> Iterator[Json]:
        """Every branch demands a type of its own: the one of the resource's is the only one that can hold."""
        kind = instance.get("resourceType") if isinstance(instance, dict) else None
        mine = [one for one in branches if one["$ref"] == f"#/definitions/{kind}"]
        yield from one_of(validator, mine, instance, schema)

    return extend(Draft6Validator, {"oneOf": of_its_type})(whole).is_valid  # type: ignore[no-any-return]


@pytest.fixture(scope="module")
def pyrofile(tmp_path_factory: pytest.TempPathFactory) -> Opinion:
    """Return severity, code and path of what pyrofile says.

    Two of its issues are left out: profile.pattern, which fires on a coding with a display, and the fields of
    Timing.repeat, which it looks up in Element.
    """
    validator = pytest.importorskip("pyrofile_validator", reason="pip install pyrofile-validator")
    pytest.importorskip("fhirpathpy", reason="pyrofile judges most invariants through it: pip install fhirpathpy")
    config = pytest.importorskip("pyrofile_validator.config")
    loaded = validator.Validator(
        config.ValidatorConfig(
            local_package_paths=[str(r4core.path())], package_cache_dir=str(tmp_path_factory.mktemp("packages"))
        )
    )

    def opinion(resource: dict[str, Json]) -> set[tuple[str, str, str]]:
        return {
            (str(issue.severity.value), str(issue.code), str(issue.path))
            for issue in loaded.validate_resource(resource).issues
            if issue.code != "profile.pattern" and not issue.message.endswith(" in Element")
        }

    return opinion


def test_the_schema_admits_the_good(schema: Callable[[dict[str, Json]], bool]) -> None:
    assert [name for name, resource in GOOD.items() if not schema(resource)] == []


def test_the_schema_refuses_what_the_table_lists(schema: Callable[[dict[str, Json]], bool]) -> None:
    differ = [case.name for case in BROKEN if schema(case.resource) == case.schema]
    assert differ == []
    assert sum(case.schema for case in BROKEN) >= 30


def test_pyrofile_finds_no_error_in_the_good(pyrofile: Opinion) -> None:
    found = {name: {code for severity, code, _ in pyrofile(r) if severity == "error"} for name, r in GOOD.items()}
    assert {name: codes for name, codes in found.items() if codes} == _FALSE_ALARMS


def test_pyrofile_finds_what_the_table_lists(pyrofile: Opinion) -> None:
    """A break is found when something is said that is not said of the resource before it was broken."""
    before = {name: pyrofile(resource) for name, resource in GOOD.items()}

    def finds(case: Case) -> bool:
        return bool(pyrofile(case.resource) - before[case.of])

    if version("pyrofile-validator") == _PYROFILE:
        assert [case.name for case in BROKEN if finds(case) != case.pyrofile] == []
    else:
        assert [case.name for case in BROKEN if case.pyrofile and not finds(case)] == []
    assert sum(case.pyrofile for case in BROKEN) >= 90
