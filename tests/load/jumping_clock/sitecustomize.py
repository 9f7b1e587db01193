"""Has a Python process tell another time: true time and what a file says, in seconds."""

import os
import time
from pathlib import Path

_true = time.time


def _told() -> float:
    return _true() + float(Path(os.environ["CLOCK_JUMP"]).read_text("ascii") or 0)


time.time = _told
