"""Values are frozen and take no fields beyond their own: whoever holds one may rely on it."""

from __future__ import annotations

import dataclasses
import importlib
import pkgutil
from collections.abc import Iterator

import pytest

import api
import hydraulics

GROWN = {"hydraulics.layout.walk.Walk", "api.drawings.schematic._Pen",
         "api.drawings.schematic._Sheet", "api.drawings.tree.Placed"}  # fmt: skip
"""What is built up piece by piece within one function."""
OPEN = {"hydraulics.errors.Fault", "hydraulics.split.result.FlowSplit",
        "api.drawings.of_split.SplitDrawn"}  # fmt: skip
"""What keeps a number that is computed once, when first asked for; and what exceptions carry."""


def dataclasses_of_the_product() -> Iterator[tuple[str, type]]:
    for package in (hydraulics, api):
        for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            if found.name.endswith("__main__"):
                continue
            module = importlib.import_module(found.name)
            for name, each in vars(module).items():
                own = getattr(each, "__module__", None) == found.name
                if own and isinstance(each, type) and dataclasses.is_dataclass(each):
                    yield f"{found.name}.{name}", each


VALUES = dict(dataclasses_of_the_product())


def test_there_are_values_and_every_exception_is_one_of_them() -> None:
    assert len(VALUES) > 100
    assert VALUES.keys() >= GROWN | OPEN


@pytest.mark.parametrize("name", sorted(VALUES.keys() - GROWN))
def test_a_value_is_frozen(name: str) -> None:
    value: object = object.__new__(VALUES[name])
    with pytest.raises((dataclasses.FrozenInstanceError, AttributeError, TypeError)):
        setattr(value, dataclasses.fields(VALUES[name])[0].name, None)


@pytest.mark.parametrize("name", sorted(VALUES.keys() - OPEN))
def test_a_value_has_its_own_fields_alone(name: str) -> None:
    assert "__slots__" in vars(VALUES[name])
