"""What the machine can do to a service: fill its disk, and set its clock."""

from __future__ import annotations

import contextlib
import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

from tests.load.bodies import array
from tests.load.load import PATH
from tests.load.scenarios import PLENTY, Figures
from tests.load.service import running

CLOCK = Path(__file__).with_name("jumping_clock")
DAY = 86_400


@contextlib.contextmanager
def small_disk(folder: Path, megabytes: int) -> Iterator[Path]:
    """A disk of its own; needs root.

    Raises
    ------
    OSError
        None can be mounted here.
    """
    size = ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", str(folder)]
    try:
        subprocess.run(size, check=True, capture_output=True)
    except subprocess.CalledProcessError as error:
        raise OSError(error.stderr.decode()) from error
    try:
        yield folder
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


def full_disk(folder: Path) -> Figures:
    """Fill the disk on which bodies and the log lie: statuses while it is full, and after."""
    settings = {**PLENTY, "EVENLOOP_WORKERS": "1", "TMPDIR": str(folder)}
    long = array(3) + b" " * 1_500_000
    with running(settings, log=str(folder / "log")) as service:
        with (folder / "fill").open("wb", buffering=0) as file, contextlib.suppress(OSError):
            while True:
                file.write(bytes(65_536))
        during = {
            "short": service.post(PATH, array(4))[0],
            "long": service.post(PATH, long)[0],
            "report": service.post("/v1/report.pdf", array(4))[0],
            "health": service.get("/healthz")[0],
            "metrics": service.get("/metrics")[0],
        }
        (folder / "fill").unlink()
        return {**during, "long_after": service.post(PATH, long)[0]}


def jumping_clock(folder: Path) -> Figures:
    """Set the service's clock on and back by a day: statuses, and whether a worker was lost."""
    told = folder / "jump"
    told.write_text("0", "ascii")
    path = os.pathsep.join([str(CLOCK), *filter(None, [os.environ.get("PYTHONPATH")])])
    settings = {**PLENTY, "EVENLOOP_WORKERS": "2", "EVENLOOP_RATE_PER_MINUTE": "1000",
                "CLOCK_JUMP": str(told), "PYTHONPATH": path}  # fmt: skip
    statuses = set()
    with running(settings) as service:
        before = service.workers()
        for jump in (DAY, 0, -DAY, 0):
            told.write_text(str(jump), "ascii")
            statuses |= {service.post(PATH, array(3, turn))[0] for turn in range(8)}
            statuses.add(service.get("/readyz")[0])
        # A worker may still have been starting: none of those before may be lost.
        kept = set(before) <= set(service.workers())
        return {"statuses": sorted(statuses), "same_workers": kept}
