"""Every public function of wind, dynamics and rigging tells its arguments, errors and source."""

from __future__ import annotations

import inspect
from types import ModuleType

import pytest

from liftcalc import dynamics, rigging, wind

FUNCTIONS = [
    pytest.param(getattr(module, name), id=f"{module.__name__}.{name}")
    for module in (wind, dynamics, rigging)
    for name in module.__all__
    if inspect.isfunction(getattr(module, name))
]


@pytest.mark.parametrize("function", FUNCTIONS)
def test_docstring_names_every_argument_and_section(function: object) -> None:
    text = inspect.getdoc(function) or ""
    for section in ("Parameters\n", "Raises\n"):
        assert section in text
    # A refusal returns nothing, and needs no source.
    if inspect.signature(function).return_annotation != "None":  # type: ignore[arg-type]
        assert "Returns\n" in text
    parameters = list(inspect.signature(function).parameters.values())  # type: ignore[arg-type]
    for index, parameter in enumerate(parameters):
        assert parameter.name in text, parameter.name
        if index >= 2:
            assert parameter.kind is inspect.Parameter.KEYWORD_ONLY, parameter.name


@pytest.mark.parametrize("module", [wind, dynamics, rigging])
def test_package_exports_exist_and_are_sorted(module: ModuleType) -> None:
    assert list(module.__all__) == sorted(set(module.__all__))
    for name in module.__all__:
        assert hasattr(module, name)
