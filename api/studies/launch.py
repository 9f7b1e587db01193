"""Begins the process that runs studies, beside the service whose workers accept them."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import Final

from api.settings import Settings
from api.studies.folder import folder_of

_SERVICE: Final = os.getpid()
"""The service: the process that loaded this, of whose workers each is a copy."""
_BEGUN: Final[list[subprocess.Popen[bytes]]] = []


def begin_runner() -> None:
    """Begin a runner; where this machine has one, the new one ends at once."""
    _BEGUN[:] = [each for each in _BEGUN if each.poll() is None]
    program = [sys.executable, "-m", "api.studies.runner", str(_SERVICE)]
    _BEGUN.append(subprocess.Popen(program, start_new_session=True))  # noqa: S603 (our own program)


def resume(settings: Settings) -> None:
    """Begin a runner where studies were kept before, which may wait to go on."""
    if settings.database_url or (folder_of(settings) / "studies.sqlite").exists():
        begin_runner()
