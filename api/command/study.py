"""A study on a file: its cases computed here, with their progress, and its rows as a table."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, BinaryIO, Final

from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    TextColumn,
    TimeRemainingColumn,
)

from api.answers.csv_table import csv_lines
from api.app import create_app
from api.media_types import JSON
from api.settings import Settings
from api.studies.engines import engine_of
from api.studies.rows import plan_of_text
from api.studies.runner import run_study
from api.studies.store import Store, Study
from api.studies.tables import table_of, write_parquet

_HERE: Final = "command"
_HOLD: Final = 3_600.0  # s; nobody else looks into a store of one's own


class RefusedStudyError(Exception):
    """The study cannot be; status and problem tell why."""

    def __init__(self, status: int, problem: dict[str, Any]) -> None:
        super().__init__(problem.get("detail", ""))
        self.status, self.problem = status, problem


@contextmanager
def computed_study(text: bytes, given: Settings, console: Console) -> Iterator[tuple[Study, Store]]:
    """Compute a study in a store of its own, which is gone in the end.

    Parameters
    ----------
    text
        The study, as JSON.
    given
        Settings of a command.
    console
        Shows the progress.

    Yields
    ------
    tuple
        The study, finished, and the store that has its rows.

    Raises
    ------
    RefusedStudyError
        As POST /v1/studies would refuse it.
    """
    folder = tempfile.mkdtemp(prefix="evenloop-study-")
    settings = replace(given, studies_folder=folder, database_url="")
    try:
        answer = (
            create_app(settings).test_client().post("/v1/studies", data=text, content_type=JSON)
        )
        if answer.status_code >= 400:
            raise RefusedStudyError(answer.status_code, answer.get_json(force=True))
        store, engine = Store(settings), engine_of(settings)
        try:
            study = store.take(_HERE, _HOLD)
            assert study is not None
            with _progress(console) as progress:
                bar = progress.add_task("cases", total=study.cases, failed=0)
                failures = 0

                def told(done: int, failed: int) -> None:
                    nonlocal failures
                    failures += failed
                    progress.update(bar, advance=done, failed=failures)

                run_study(store, study, engine, _HERE, settings, told, hold=_HOLD)
            yield store.find("", study.id) or study, store
        finally:
            engine.close()
            store.close()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _progress(console: Console) -> Progress:
    return Progress(
        TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(),
        TextColumn("{task.fields[failed]} with a problem"), TimeRemainingColumn(), console=console,
    )  # fmt: skip


def write_rows(study: Study, store: Store, out: BinaryIO | Path) -> None:
    """Write the rows of a study: as Parquet where a file's name ends so, else as CSV.

    Parameters
    ----------
    study, store
        As :func:`computed_study` gives them.
    out
        Where to.
    """
    plan, rows = plan_of_text(study.document), store.every_row(study)
    if isinstance(out, Path) and out.suffix == ".parquet":
        write_parquet(plan, rows, out)
        return
    if isinstance(out, Path):
        with out.open("wb") as file:
            write_rows(study, store, file)
        return
    for line in csv_lines(table_of(plan, rows)):
        out.write(line.encode())
