"""Where are studies and their rows kept? In SQLite, or in the database that the settings name."""

from __future__ import annotations

import fcntl
import os
import time
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from sqlalchemy import (
    BigInteger,
    Column,
    Engine,
    Float,
    Integer,
    LargeBinary,
    MetaData,
    SmallInteger,
    String,
    Table,
    UniqueConstraint,
    create_engine,
    event,
    func,
    insert,
    inspect,
    or_,
    select,
    text,
    update,
)
from sqlalchemy import (
    Row as SqlRow,
)
from sqlalchemy.exc import IntegrityError

from api.settings import Settings
from api.studies.folder import folder_of
from api.studies.rows import Row

TABLES: Final = MetaData()
_BIG: Final = BigInteger().with_variant(Integer, "sqlite")  # which numbers rows by INTEGER alone
STUDY: Final = Table(
    "study",
    TABLES,
    Column("number", _BIG, primary_key=True, autoincrement=True),
    Column("id", String(32), nullable=False, unique=True),
    Column("owner", String(40), nullable=False),
    Column("once", String(200)),  # the Idempotency-Key
    Column("digest", String(64), nullable=False),
    Column("document", LargeBinary, nullable=False),
    Column("name", String(80), nullable=False),
    Column("calculation", String(20), nullable=False),
    Column("cases", BigInteger, nullable=False),
    Column("done", BigInteger, nullable=False),
    Column("failed", BigInteger, nullable=False),
    Column("state", String(10), nullable=False),
    Column("rate", Float),  # cases a second
    Column("created", Float, nullable=False),  # s since 1970
    Column("ended", Float),
    Column("runner", String(80)),
    Column("until", Float),  # when the runner's hold ends, unless it renews it
    UniqueConstraint("owner", "once"),
)
ROW: Final = Table(
    "study_row",
    TABLES,
    Column("study", _BIG, primary_key=True, autoincrement=False),
    Column("case_number", _BIG, primary_key=True, autoincrement=False),  # from 0
    Column("status", SmallInteger, nullable=False),
    Column("cells", LargeBinary, nullable=False),
    sqlite_with_rowid=False,
)
HEAD: Final = "0001"
"""The last migration; a store that is behind it is brought up to it when it is opened."""
_LOCK: Final = 761_300_118  # of PostgreSQL, while the tables are brought up to date
_PAGE: Final = 5_000
_DAY: Final = 86_400.0
UNFINISHED: Final = ("queued", "running")


class OnceReusedError(Exception):
    """An Idempotency-Key came with another body before."""


class HoldLostError(Exception):
    """A study is no longer this runner's: another has it, or it was cancelled or deleted."""


@dataclass(frozen=True, slots=True)
class Study:
    """A study as the store has it; times in s since 1970."""

    number: int
    id: str
    document: bytes
    name: str
    calculation: str
    cases: int
    done: int
    failed: int
    state: str
    rate: float | None
    created: float
    ended: float | None


_TOLD: Final = [STUDY.c[name] for name in Study.__dataclass_fields__]


def _study(row: SqlRow[Any]) -> Study:
    return Study(**row._mapping)


class Store:
    """Studies and their rows.

    Parameters
    ----------
    settings
        Which database, or which folder.

    Raises
    ------
    sqlalchemy.exc.SQLAlchemyError, OSError
        It cannot be reached; every method may raise these.
    """

    def __init__(self, settings: Settings) -> None:
        self.folder = folder_of(settings)
        self.days = settings.study_days
        self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        url = settings.database_url or f"sqlite:///{self.folder / 'studies.sqlite'}"
        self.engine = _engine(url)
        self._bring_up_to_date()

    def _bring_up_to_date(self) -> None:
        if self._version() == HEAD:
            return
        from alembic import command  # noqa: PLC0415 (needed once in a store's life)
        from alembic.config import Config  # noqa: PLC0415

        config = Config()
        config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
        with _alone(self.folder / "migration.lock"), self.engine.begin() as connection:
            if self.engine.dialect.name == "postgresql":
                connection.execute(select(func.pg_advisory_xact_lock(_LOCK)))
            config.attributes["connection"] = connection
            command.upgrade(config, "head")

    def _version(self) -> str | None:
        with self.engine.connect() as connection:
            if not inspect(connection).has_table("alembic_version"):
                return None
            return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()

    def close(self) -> None:
        """Let go of all connections."""
        self.engine.dispose()

    # ------------------------------------------------------------------------------- for callers

    def accept(  # noqa: PLR0917
        self, owner: str, once: str | None, digest: str, document: bytes, name: str,
        calculation: str, cases: int,
    ) -> Study:  # fmt: skip
        """Keep a new study; once it is given back it is in the store.

        Parameters
        ----------
        owner
            Name of the caller's key; empty where no keys are set.
        once
            Its Idempotency-Key: the same, with the same body, gives the study made before.
        digest
            Of the body.
        document
            The study, as JSON.
        name, calculation, cases
            As the study has them.

        Raises
        ------
        OnceReusedError
            The Idempotency-Key came with another body before.
        """
        values = {
            "id": uuid.uuid4().hex, "owner": owner, "once": once, "digest": digest,
            "document": document, "name": name, "calculation": calculation, "cases": cases,
            "done": 0, "failed": 0, "state": "queued", "created": time.time(),
        }  # fmt: skip
        if once is None:
            return self._insert(values)
        try:
            return self._before(owner, once, digest) or self._insert(values)
        except IntegrityError:  # the same came twice at once
            found = self._before(owner, once, digest)
            if found is None:
                raise
            return found

    def _insert(self, values: dict[str, Any]) -> Study:
        with self.engine.begin() as connection:
            connection.execute(insert(STUDY).values(values))
            row = connection.execute(select(*_TOLD).where(STUDY.c.id == values["id"])).one()
        return _study(row)

    def _before(self, owner: str, once: str, digest: str) -> Study | None:
        asked = select(STUDY.c.digest, *_TOLD).where(
            STUDY.c.owner == owner, STUDY.c.once == once, self._kept()
        )
        with self.engine.connect() as connection:
            row = connection.execute(asked).one_or_none()
        if row is None:
            return None
        if row.digest != digest:
            raise OnceReusedError
        return Study(*row[1:])

    def _kept(self) -> Any:  # noqa: ANN401 (a condition of SQLAlchemy)
        """Condition of studies that are kept for no longer than the settings say."""
        if not self.days:
            return text("1 = 1")
        return or_(STUDY.c.ended.is_(None), STUDY.c.ended > time.time() - self.days * _DAY)

    def has(self, owner: str, once: str) -> bool:
        """Whether a study came with an Idempotency-Key."""
        asked = select(STUDY.c.number).where(STUDY.c.owner == owner, STUDY.c.once == once)
        with self.engine.connect() as connection:
            return connection.execute(asked).first() is not None

    def find(self, owner: str, study: str) -> Study | None:
        """A study of a caller."""
        asked = select(*_TOLD).where(STUDY.c.owner == owner, STUDY.c.id == study, self._kept())
        with self.engine.connect() as connection:
            row = connection.execute(asked).one_or_none()
        return None if row is None else _study(row)

    def listed(self, owner: str, before: int | None, most: int) -> list[Study]:
        """Studies of a caller, the newest first, those after the one of a number."""
        asked = select(*_TOLD).where(STUDY.c.owner == owner, self._kept())
        if before is not None:
            asked = asked.where(STUDY.c.number < before)
        with self.engine.connect() as connection:
            rows = connection.execute(asked.order_by(STUDY.c.number.desc()).limit(most)).all()
        return [_study(row) for row in rows]

    def count(self, owner: str) -> int:
        """How many studies of a caller are kept."""
        asked = select(func.count()).select_from(STUDY).where(STUDY.c.owner == owner, self._kept())
        with self.engine.connect() as connection:
            return int(connection.execute(asked).scalar_one())

    def cancel(self, study: Study) -> None:
        """End a study that is not finished; its rows stay."""
        ended = {"state": "cancelled", "ended": time.time(), "rate": None}
        unfinished = STUDY.c.state.in_(UNFINISHED)
        with self.engine.begin() as connection:
            connection.execute(
                update(STUDY).where(STUDY.c.number == study.number, unfinished).values(ended)
            )

    def delete(self, study: Study) -> None:
        """Remove a study and its rows."""
        with self.engine.begin() as connection:
            connection.execute(STUDY.delete().where(STUDY.c.number == study.number))
            connection.execute(ROW.delete().where(ROW.c.study == study.number))

    def forget_old(self) -> None:
        """Remove studies that ended longer ago than the settings keep them."""
        if not self.days:
            return
        before = time.time() - self.days * _DAY
        with self.engine.connect() as connection:
            old = connection.execute(select(*_TOLD).where(STUDY.c.ended < before)).all()
        for row in old:
            self.delete(_study(row))

    def rows(self, study: Study, first: int, most: int) -> list[tuple[int, int, bytes]]:
        """Rows of a study in the order of cases: case from 0, status, cells.

        Parameters
        ----------
        study
            The study.
        first
            The first case that may be among them, from 0.
        most
            Most of them.
        """
        asked = (
            select(ROW.c.case_number, ROW.c.status, ROW.c.cells)
            .where(ROW.c.study == study.number, ROW.c.case_number >= first)
            .order_by(ROW.c.case_number)
            .limit(most)
        )
        with self.engine.connect() as connection:
            return [(row[0], row[1], bytes(row[2])) for row in connection.execute(asked)]

    def rows_of(self, study: Study, cases: Sequence[int]) -> list[tuple[int, int, bytes]]:
        """Rows of some cases of a study, their numbers from 0, in the order asked."""
        asked = select(ROW.c.case_number, ROW.c.status, ROW.c.cells).where(
            ROW.c.study == study.number, ROW.c.case_number.in_(cases)
        )
        with self.engine.connect() as connection:
            found = {row[0]: (row[0], row[1], bytes(row[2])) for row in connection.execute(asked)}
        return [found[case] for case in cases]

    def every_row(self, study: Study) -> Iterator[tuple[int, int, bytes]]:
        """All rows of a study, a page of them held at a time."""
        first = 0
        while page := self.rows(study, first, _PAGE):
            yield from page
            first = page[-1][0] + 1

    # ------------------------------------------------------------------------------- for runners

    def take(self, runner: str, seconds: float) -> Study | None:
        """Take hold of a study that nobody runs, that with the least left to do.

        Parameters
        ----------
        runner
            Name of the runner.
        seconds
            How long the hold lasts unless it is renewed [s].
        """
        now = time.time()
        free = or_(STUDY.c.until.is_(None), STUDY.c.until < now, STUDY.c.runner == runner)
        open_ = STUDY.c.state.in_(UNFINISHED) & free
        asked = select(*_TOLD).where(open_).order_by(STUDY.c.cases - STUDY.c.done, STUDY.c.number)
        with self.engine.connect() as connection:
            waiting = connection.execute(asked.limit(10)).all()
        for row in waiting:
            held = {"state": "running", "runner": runner, "until": now + seconds}
            with self.engine.begin() as connection:
                done = connection.execute(
                    update(STUDY).where(STUDY.c.number == row.number, open_).values(held)
                )
            if done.rowcount == 1:
                return _study(row)
        return None

    def is_waited_for(self) -> bool:
        """Whether some study is not finished, whoever has it."""
        asked = select(STUDY.c.number).where(STUDY.c.state.in_(UNFINISHED)).limit(1)
        with self.engine.connect() as connection:
            return connection.execute(asked).first() is not None

    def lacking(self, study: Study) -> list[tuple[int, int]]:
        """Stretches of cases without a row: the first, from 0, and how many."""
        after = func.lead(ROW.c.case_number).over(order_by=ROW.c.case_number)
        own = select(ROW.c.case_number.label("own"), after.label("after")).where(
            ROW.c.study == study.number
        )
        pairs = own.subquery()
        asked = select(pairs.c.own, pairs.c.after).where(
            or_(pairs.c.after.is_(None), pairs.c.after > pairs.c.own + 1)
        )
        ends = select(func.min(ROW.c.case_number)).where(ROW.c.study == study.number)
        with self.engine.connect() as connection:
            begin = connection.execute(ends).scalar()
            found = connection.execute(asked.order_by(pairs.c.own)).all()
        if begin is None:
            return [(0, study.cases)]
        gaps = [(0, int(begin))] if begin else []
        for own_, after_ in found:
            until = study.cases if after_ is None else int(after_)
            if until > own_ + 1:
                gaps.append((int(own_) + 1, until - int(own_) - 1))
        return gaps

    def keep(  # noqa: PLR0917
        self, study: Study, runner: str, seconds: float, rate: float | None, first: int,
        rows: Sequence[Row],
    ) -> None:  # fmt: skip
        """Keep rows of cases that follow one another, all or none, and renew the hold.

        Raises
        ------
        HoldLostError
            The study is no longer this runner's; nothing was kept.
        """
        failed = sum(status != 200 for status, _ in rows)
        more = {"done": STUDY.c.done + len(rows), "failed": STUDY.c.failed + failed}
        given = [
            {"study": study.number, "case_number": first + n, "status": status, "cells": cells}
            for n, (status, cells) in enumerate(rows)
        ]
        try:
            with self.engine.begin() as connection:
                self._renew(connection, study, runner, seconds, {"rate": rate, **more})
                if given:
                    connection.execute(insert(ROW), given)
        except IntegrityError as error:  # a case has its row already, of another runner
            raise HoldLostError from error

    def finish(self, study: Study, runner: str) -> None:
        """Set a study whose cases all have rows to finished."""
        ended = {"state": "finished", "ended": time.time(), "rate": None}
        with self.engine.begin() as connection:
            self._renew(connection, study, runner, 0.0, ended)

    @staticmethod
    def _renew(
        connection: Any,  # noqa: ANN401 (SQLAlchemy's)
        study: Study,
        runner: str,
        seconds: float,
        more: dict[str, Any],
    ) -> None:
        own = (STUDY.c.number == study.number) & (STUDY.c.runner == runner)
        held = {"until": time.time() + seconds, **more}
        done = connection.execute(update(STUDY).where(own, STUDY.c.state == "running").values(held))
        if done.rowcount != 1:
            raise HoldLostError


def _engine(url: str) -> Engine:
    if not url.startswith("sqlite"):
        try:
            return create_engine(url, pool_size=2, max_overflow=8, pool_pre_ping=True)
        except ModuleNotFoundError as error:
            raise OSError("PostgreSQL is reached by the extra postgresql, not installed") from error
    engine = create_engine(url, connect_args={"timeout": 30.0})

    @event.listens_for(engine, "connect")
    def prepare(connection: Any, _: object) -> None:  # noqa: ANN401 (of the driver)
        for words in ("journal_mode = WAL", "synchronous = FULL"):
            connection.execute(f"PRAGMA {words}")

    return engine


@contextmanager
def _alone(lock: Path) -> Iterator[None]:
    """Hold a lock of this machine's processes."""
    with lock.open("a", encoding="utf-8") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def runner_name(folder: Path) -> str:
    """Name of the runner of a folder of studies, of which there is one at a time.

    The next one has the same: what the one before it held is its own at once.
    """
    file = folder / "runner.name"
    with _alone(folder / "name.lock"):
        if not file.exists():
            file.write_text(uuid.uuid4().hex, "utf-8")
        return f"{os.uname().nodename[:40]}/{file.read_text('utf-8')}"
