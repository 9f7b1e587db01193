"""Rows of a study as JSON, as a table, and as Parquet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import IO, Any, Final

import orjson

from api.answers.csv_table import Table
from api.refusals import Json, pointer
from api.schemas.fields import Flag, Integer, Number
from api.studies.plan import Plan, result_field

Stored = tuple[int, int, bytes]
"""Case from 0, status, and what is kept of it."""

_BATCH: Final = 5_000
_FOUND: Final = ("errors", "warnings")


def told_rows(plan: Plan, stored: Sequence[Stored]) -> list[dict[str, Any]]:
    """Rows as the contract has them.

    Parameters
    ----------
    plan
        The study.
    stored
        Rows as the store has them.

    Returns
    -------
    list of dict
        In the order given.
    """
    varied_at = [pointer(place) for place in plan.places]
    results_at = [pointer(place) for place in plan.results]
    told = []
    for (case, status, cells), values in zip(
        stored, plan.varied([each[0] for each in stored]), strict=True
    ):
        row = {"case": case + 1, "varied": dict(zip(varied_at, values, strict=True))}
        row["status"] = status
        held = orjson.loads(cells)
        if status == 200:
            *held, row["errors"], row["warnings"] = held
            pairs = zip(results_at, held, strict=True)
            row["results"] = {at: value for at, value in pairs if value is not None}
        else:
            row["problem"] = held
        told.append(row)
    return told


def table_of(plan: Plan, stored: Iterable[Stored]) -> Table:
    """Rows as a table: case, what was varied (``job/...``), status, results (``answer/...``).

    Parameters
    ----------
    plan
        The study.
    stored
        Rows as the store has them; read while the table is written.
    """
    varied = [f"job{pointer(place)}" for place in plan.places]
    results = [f"answer{pointer(place)}" for place in plan.results]

    def rows() -> Iterator[dict[str, Any]]:
        for some in _batches(stored):
            for (case, status, cells), values in zip(
                some, plan.varied([each[0] for each in some]), strict=True
            ):
                row = dict(zip(varied, map(_cell, values), strict=True))
                row |= {"case": case + 1, "status": status}
                held = orjson.loads(cells)
                if status == 200:
                    row |= dict(zip((*results, *_FOUND), held, strict=True))
                else:
                    row["detail"] = held["detail"]
                yield row

    return Table(("case", *varied, "status", *results, *_FOUND, "detail"), rows())


def has_parquet() -> bool:
    """Whether the library that writes Parquet is installed."""
    return find_spec("pyarrow") is not None


def write_parquet(plan: Plan, stored: Iterable[Stored], file: Path | IO[bytes]) -> None:
    """Write rows as Parquet, in the columns of :func:`table_of`.

    Parameters
    ----------
    plan
        The study.
    stored
        Rows as the store has them.
    file
        Where to.
    """
    import pyarrow as pa  # noqa: PLC0415 (large, and an extra)
    from pyarrow.parquet import ParquetWriter  # noqa: PLC0415

    table = table_of(plan, stored)
    kinds = {"case": pa.int64(), "status": pa.int16(), "detail": pa.string()}
    kinds |= dict.fromkeys(_FOUND, pa.int32())
    for place in plan.results:
        field = result_field(pointer(place), plan.calculation)
        kind = pa.float64() if isinstance(field, Number) else pa.string()
        if isinstance(field, (Integer, Flag)):
            kind = pa.int64() if isinstance(field, Integer) else pa.bool_()
        kinds[f"answer{pointer(place)}"] = kind
    for place, numbers in zip(plan.places, plan.are_numbers, strict=True):
        kinds[f"job{pointer(place)}"] = pa.float64() if numbers else pa.string()
    schema = pa.schema([(name, kinds[name]) for name in table.columns])
    with ParquetWriter(file, schema) as writer:
        for some in _batches(table.rows):
            columns = [
                pa.array(
                    [_fit(row.get(name), kinds[name] == pa.string()) for row in some], kinds[name]
                )
                for name in table.columns
            ]
            writer.write_table(pa.Table.from_arrays(columns, schema=schema))


def _batches(rows: Iterable[Any]) -> Iterator[list[Any]]:
    """Rows in lists of some thousands."""
    some: list[Any] = []
    for row in rows:
        some.append(row)
        if len(some) == _BATCH:
            yield some
            some = []
    if some:
        yield some


def _cell(value: Json) -> Json:
    """A value as a cell: what is an object or a list as its JSON."""
    return orjson.dumps(value).decode() if isinstance(value, (dict, list)) else value


def _fit(value: Json, as_text: bool) -> Json:
    """A value as its column holds it."""
    if value is None or isinstance(value, str) or not as_text:
        return value
    return orjson.dumps(value).decode()
