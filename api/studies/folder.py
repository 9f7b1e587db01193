"""In which folder of this machine do studies lie, and the lock of the one that runs them?"""

from __future__ import annotations

import os
from pathlib import Path

from api.settings import Settings


def folder_of(settings: Settings) -> Path:
    """The folder that the settings name, else that of the user's state (XDG)."""
    if settings.studies_folder:
        return Path(settings.studies_folder)
    state = os.environ.get("XDG_STATE_HOME", "")
    return (Path(state) if state else Path.home() / ".local" / "state") / "evenloop"
