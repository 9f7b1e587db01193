"""Begins the process that runs studies, beside the service whose workers accept them."""

from __future__ import annotations

import fcntl
import os
import subprocess
import sys
import threading
import time
from typing import Final

from api.settings import Settings
from api.studies.folder import BEGINNING, LOCK, folder_of

_SERVICE: Final = os.getpid()
"""The service: the process that loaded this, of whose workers each is a copy."""
_PAUSE: Final = 10.0  # s before a runner that was killed, or that failed at once, is replaced


def begin_runner(settings: Settings) -> subprocess.Popen[bytes] | None:
    """Begin a runner; None where this machine has one, or one that is about to look for studies.

    Which runs looks once more before it ends, and which begins has not looked yet: each finds what
    was accepted before this is called.
    """
    folder = folder_of(settings)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    with (folder / LOCK).open("a") as running, (folder / BEGINNING).open("a") as beginning:
        try:
            fcntl.flock(running, fcntl.LOCK_EX | fcntl.LOCK_NB)
            fcntl.flock(running, fcntl.LOCK_UN)
            fcntl.flock(beginning, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return None
        # The runner holds what it was handed until it looks.
        handed = beginning.fileno()
        program = [sys.executable, "-m", "api.studies.runner", str(_SERVICE), str(handed)]
        runner = subprocess.Popen(program, start_new_session=True, pass_fds=(handed,))  # noqa: S603 (our own program)
    threading.Thread(target=_replace, args=(runner, settings), daemon=True).start()
    return runner


def _replace(runner: subprocess.Popen[bytes], settings: Settings) -> None:
    """Begin another where a runner was killed or failed; one that ends itself has no work left."""
    if runner.wait() != 0:
        time.sleep(_PAUSE)
        begin_runner(settings)


def resume(settings: Settings) -> None:
    """Begin a runner where studies were kept before, which may wait to go on."""
    if settings.database_url or (folder_of(settings) / "studies.sqlite").exists():
        begin_runner(settings)
