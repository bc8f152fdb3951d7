"""What the public names are documented with: each parameter, and an example, which pytest runs (--doctest-modules)."""

from __future__ import annotations

import inspect

import pytest

import woundfhir
from woundfhir import drawing, measures

NAMES = {
    f"{module.__name__}.{name}": getattr(module, name)
    for module in (woundfhir, drawing, measures)
    for name in module.__all__
    if callable(getattr(module, name))
}


@pytest.mark.parametrize(
    "name", [name for name in NAMES if name.startswith(("woundfhir.drawing.", "woundfhir.measures."))]
)
def test_a_function_of_a_public_module_has_an_example(name: str) -> None:
    assert inspect.isclass(NAMES[name]) or ">>> " in inspect.getdoc(NAMES[name])


@pytest.mark.parametrize("name", [f"woundfhir.{name}" for name in woundfhir.__all__ if name != "__version__"])
def test_a_public_name_has_an_example(name: str) -> None:
    assert "Examples\n--------\n>>> " in inspect.getdoc(NAMES[name])


@pytest.mark.parametrize("name", [name for name, found in NAMES.items() if inspect.isfunction(found)])
def test_a_public_function_says_what_each_parameter_is(name: str) -> None:
    written = inspect.getdoc(NAMES[name])
    described = {one.strip() for line in written.splitlines() for one in line.split(",")}
    assert [one for one in inspect.signature(NAMES[name]).parameters if one not in described] == []
