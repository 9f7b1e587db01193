"""CoolProp's core, without what its package does when it is loaded.

The package's first act is to list all its fluids, for which it parses every one: two seconds,
and none of them is used here.
"""

from __future__ import annotations

import importlib
import importlib.util
import sys
from types import ModuleType


def _core() -> ModuleType:
    """The module of functions, loaded by itself; the package can still be loaded afterwards."""
    spec = importlib.util.find_spec("CoolProp")
    if "CoolProp" in sys.modules or spec is None:
        return importlib.import_module("CoolProp.CoolProp")
    package = sys.modules["CoolProp"] = ModuleType("CoolProp")
    package.__path__ = list(spec.submodule_search_locations or ())
    try:
        return importlib.import_module("CoolProp.CoolProp")
    finally:
        del sys.modules["CoolProp"]


_CORE = _core()
AbstractState = _CORE.AbstractState
PQ_INPUTS = _CORE.PQ_INPUTS
PT_INPUTS = _CORE.PT_INPUTS
iT_freeze = _CORE.iT_freeze  # noqa: N816 (as CoolProp calls it)
ifraction_max = _CORE.ifraction_max
ifraction_min = _CORE.ifraction_min
