"""Keep a random sample of a cosmic-ray session, or list what survived in one that has run."""

from __future__ import annotations

import random
import sys

from cosmic_ray.work_db import WorkDB, use_db
from cosmic_ray.work_item import TestOutcome, WorkerOutcome, WorkResult

# `X | None` stands in annotations, which are never run.
SILENT = "ReplaceBinaryOperator_BitOr"


def sample(session: WorkDB, many: int, seed: int) -> None:
    """Skip all but `many` faults of the session."""
    pending = sorted(
        session.pending_work_items, key=lambda item: (str(item.mutations[0]), item.job_id)
    )
    loud = [item for item in pending if SILENT not in item.mutations[0].operator_name]
    draw = random.Random(seed)  # noqa: S311 (a sample, no secret)
    kept = {item.job_id for item in draw.sample(loud, min(many, len(loud)))}
    skipped = WorkResult(worker_outcome=WorkerOutcome.SKIPPED, output="not drawn")
    session.set_multiple_results(
        [item.job_id for item in pending if item.job_id not in kept], skipped
    )
    print(f"{len(kept)} of {len(loud)} faults drawn")


def survivors(session: WorkDB) -> None:
    """Print the faults that no test found."""
    tried = alive = 0
    for item, result in session.completed_work_items:
        if result.worker_outcome is WorkerOutcome.SKIPPED:
            continue
        tried += 1
        if result.test_outcome is TestOutcome.SURVIVED:
            alive += 1
            print(f"{item.mutations[0].module_path}\n{result.diff}\n")
    print(f"{alive} of {tried} survive")


if __name__ == "__main__":
    with use_db(sys.argv[1], mode=WorkDB.Mode.open) as opened:
        if len(sys.argv) > 2:
            sample(opened, int(sys.argv[2]), int(sys.argv[3]))
        else:
            survivors(opened)
