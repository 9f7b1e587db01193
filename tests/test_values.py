"""Values are frozen and take no fields beyond their own: whoever holds one may rely on it."""

from __future__ import annotations

import dataclasses
import importlib
import pkgutil
from collections.abc import Iterator

import api
import hydraulics

GROWN = {"hydraulics.layout.walk.Walk", "api.drawings.schematic._Pen",
         "api.drawings.schematic._Sheet", "api.drawings.tree.Placed",
         "api.requests.plot_file.Reading", "api.requests.plot_dxf._Entity",
         "api.studies.runner._Pace"}  # fmt: skip
"""What is built up piece by piece within one function."""
OPEN = {"hydraulics.errors.Fault", "hydraulics.split.result.FlowSplit",
        "hydraulics.split.imbalance.Imbalance", "api.drawings.site_plan.LoopFlows",
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


def takes_another(kind: type) -> bool:
    value: object = object.__new__(kind)
    try:
        setattr(value, dataclasses.fields(kind)[0].name, None)
    except (dataclasses.FrozenInstanceError, AttributeError, TypeError):
        return False
    return True


def test_a_value_is_frozen() -> None:
    assert not [name for name in VALUES.keys() - GROWN if takes_another(VALUES[name])]
    assert takes_another(VALUES["hydraulics.layout.walk.Walk"])


def test_a_value_has_its_own_fields_alone() -> None:
    assert not [name for name in VALUES.keys() - OPEN if "__slots__" not in vars(VALUES[name])]
