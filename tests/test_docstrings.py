"""What the public names are documented with: each parameter, and an example, which pytest runs (--doctest-modules)."""

from __future__ import annotations

import inspect

import pytest

import woundfhir
from woundfhir import checklist, drawing, fhir, flat, handover, measures, record, report, site

NAMES = {
    f"{module.__name__}.{name}": getattr(module, name)
    for module in (woundfhir, drawing, measures)
    for name in module.__all__
    if callable(getattr(module, name))
}

#: What an integrator imports from a part of the package: functions and classes, but an error that only names itself,
#: and a decorator whose example is that of its module.
PARTS = {
    f"{module.__name__}.{name}": getattr(module, name)
    for module in (checklist, drawing, fhir, flat, handover, measures, record, report, site)
    for name in module.__all__
    if inspect.isroutine(getattr(module, name)) or inspect.isclass(getattr(module, name))
}
del PARTS["woundfhir.checklist.RuleError"], PARTS["woundfhir.checklist.rule"]


@pytest.mark.parametrize("name", PARTS)
def test_a_public_name_of_a_part_has_an_example(name: str) -> None:
    assert ">>> " in inspect.getdoc(PARTS[name])


@pytest.mark.parametrize("kind", [woundfhir.History, woundfhir.Losses, woundfhir.Coverage, woundfhir.InputError])
def test_a_public_method_has_an_example(kind: type) -> None:
    methods = {name: found for name, found in vars(kind).items() if inspect.isfunction(found) and name[0] != "_"}
    assert methods
    assert [name for name, found in methods.items() if ">>> " not in (inspect.getdoc(found) or "")] == []


@pytest.mark.parametrize("name", [f"woundfhir.{name}" for name in woundfhir.__all__ if name != "__version__"])
def test_a_public_name_has_an_example(name: str) -> None:
    assert "Examples\n--------\n>>> " in inspect.getdoc(NAMES[name])


@pytest.mark.parametrize("name", [name for name, found in NAMES.items() if inspect.isfunction(found)])
def test_a_public_function_says_what_each_parameter_is(name: str) -> None:
    written = inspect.getdoc(NAMES[name])
    described = {one.strip() for line in written.splitlines() for one in line.split(",")}
    assert [one for one in inspect.signature(NAMES[name]).parameters if one not in described] == []
