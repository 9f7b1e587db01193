"""In which folder of this machine do studies lie, and the lock of the one that runs them?"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

from api.settings import Settings

LOCK: Final = "runner.lock"
"""Held by the process that runs this machine's studies."""
BEGINNING: Final = "runner.beginning"
"""Held by one that is to run them and has not looked for any yet."""


def folder_of(settings: Settings) -> Path:
    """The folder that the settings name, else that of the user's state (XDG)."""
    if settings.studies_folder:
        return Path(settings.studies_folder)
    state = os.environ.get("XDG_STATE_HOME", "")
    return (Path(state) if state else Path.home() / ".local" / "state") / "evenloop"
