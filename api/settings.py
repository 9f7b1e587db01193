"""Which limits the service keeps: read from the environment once, checked at start."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Final

PREFIX: Final = "EVENLOOP_"


class SettingsError(ValueError):
    """A setting has a value that the service cannot start with; the message names each."""


def _limit(default: int, lowest: int, highest: int, meaning: str) -> int:
    """Declare one limit: default, range and meaning in one place."""
    declared: int = field(
        default=default, metadata={"lowest": lowest, "highest": highest, "meaning": meaning}
    )
    return declared


@dataclass(frozen=True, slots=True)
class Settings:
    """Limits of the service.

    Attributes
    ----------
    max_body_bytes
        Largest request body [bytes].
    max_nesting
        Deepest nesting of JSON objects and lists; a circuit in a circuit takes three levels.
    max_loops
        Most loops in one array, equal ones counted each.
    max_states
        Most states in one table of fluid properties.

    Raises
    ------
    SettingsError
        A limit is outside its range; each one at fault is named.
    """

    max_body_bytes: int = _limit(4_194_304, 1_024, 1_073_741_824, "largest request body, bytes")
    max_nesting: int = _limit(64, 8, 150, "deepest nesting of JSON objects and lists")
    max_loops: int = _limit(10_000, 1, 1_000_000, "most loops in one array")
    max_states: int = _limit(2_000, 1, 100_000, "most states in one table of fluid properties")

    def __post_init__(self) -> None:
        faults = []
        for each in fields(self):
            value = getattr(self, each.name)
            low, high = each.metadata["lowest"], each.metadata["highest"]
            if type(value) is not int or not low <= value <= high:
                faults.append(_fault(each.name, value, low, high))
        if faults:
            raise SettingsError("; ".join(faults))


def variable(name: str) -> str:
    """Name of a setting's environment variable."""
    return PREFIX + name.upper()


def _fault(name: str, value: object, low: int, high: int) -> str:
    return f"{variable(name)} is {value!r}; it must be a whole number from {low:,} to {high:,}"


def settings_from_environment(environment: Mapping[str, str] | None = None) -> Settings:
    """Read the settings from environment variables.

    Parameters
    ----------
    environment
        Variables; None for those of the process.

    Returns
    -------
    Settings
        A limit whose variable is absent or empty keeps its default.

    Raises
    ------
    SettingsError
        A variable is no whole number or out of range, or begins with the prefix and is no setting
        (a misspelt limit would otherwise be ignored). Every one at fault is named.
    """
    given = os.environ if environment is None else environment
    known = {variable(each.name): each for each in fields(Settings)}
    faults = [
        f"{name} is no setting; the settings are {', '.join(known)}"
        for name in given
        if name.startswith(PREFIX) and name not in known
    ]
    values: dict[str, int] = {}
    for name, each in known.items():
        text = given.get(name, "").strip()
        if not text:
            continue
        low, high = each.metadata["lowest"], each.metadata["highest"]
        if text.isascii() and text.isdigit() and len(text) < 20 and low <= int(text) <= high:
            values[each.name] = int(text)
        else:
            faults.append(_fault(each.name, text[:40], low, high))
    if faults:
        raise SettingsError("; ".join(faults))
    return Settings(**values)
