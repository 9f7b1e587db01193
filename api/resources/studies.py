"""/v1/studies: many cases of one job, kept and computed beside the service."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import IO, TYPE_CHECKING, Any, Final, TypeVar

import numpy as np
import orjson
from flask import Blueprint, Flask, Response, current_app, g, request

from api.answers.csv_table import csv_lines
from api.media_types import CSV, PARQUET, SVG
from api.refusals import Refusal, RefusedError
from api.schemas.objects import StrictSchema
from api.schemas.studies import BestSchema, DependenceSchema
from api.service.problems import ProblemError
from api.service.replies import read_document, reply, reply_picture, settings
from api.service.request_log import tell
from api.studies import found
from api.studies.found import words_of
from api.studies.launch import begin_runner, resume
from api.studies.plan import Plan, plan_of
from api.studies.rows import plan_of_text
from api.studies.tables import has_parquet, table_of, told_rows, write_parquet
from api.version import digest_of

if TYPE_CHECKING:
    from api.studies.store import Store, Study

# The store's library is loaded where a study is first asked for: a service without studies neither
# waits for it nor holds it.
# ruff: noqa: PLC0415

blueprint: Final = Blueprint("studies", __name__)

RUNS: Final = "EVENLOOP_RUNS_STUDIES"
"""Set in the configuration of an application that has a runner beside it."""
_STORE: Final = "evenloop.store"
_USUAL_PAGE: Final = 100
_WAIT: Final = 5  # s after which a store that could not be reached is worth another try
_PIECE: Final = 500  # lines of a table that are sent at a time


def run_beside(app: Flask) -> Flask:
    """Have a process run what an application accepts of studies, and what waits from before."""
    app.config[RUNS] = True
    resume(app.config["EVENLOOP"])
    return app


@contextmanager
def _store() -> Iterator[Store]:
    """The store of this process; what cannot be reached is told as such."""
    from sqlalchemy.exc import SQLAlchemyError

    from api.studies.store import Store

    kept = current_app.extensions.setdefault(_STORE, {})
    try:
        if os.getpid() not in kept:  # a connection is of the process that made it
            kept[os.getpid()] = Store(settings())
        yield kept[os.getpid()]
    except (SQLAlchemyError, OSError) as error:
        current_app.logger.warning("studies cannot be kept: %s", str(error)[:500])
        detail = "The database of studies cannot be reached, or there is no room on a disk."
        raise ProblemError("no-store", detail, headers={"Retry-After": str(_WAIT)}) from error


def _owner() -> str:
    return str(g.get("key_name", ""))


def _found(store: Store, study: str) -> Study:
    found = store.find(_owner(), study)
    if found is None:
        raise ProblemError("not-found", f"There is no study {study[:40]!r} of this caller.")
    return found


@blueprint.post("/v1/studies")
def post_study() -> Response:
    """Keep a study; it is computed beside the service."""
    from api.studies.store import OnceReusedError

    document = read_document()
    plan = plan_of(document, settings())
    text = orjson.dumps(document)
    with _store() as store:
        once = _once()
        known = once is not None and store.has(_owner(), once)
        if not known and store.count(_owner()) >= settings().max_studies:
            detail = (
                f"{settings().max_studies:,} studies are kept, as many as this service keeps (its "
                "setting EVENLOOP_MAX_STUDIES); delete some."
            )
            raise ProblemError("too-many-studies", detail)
        try:
            found = store.accept(
                _owner(), once, digest_of(document), text, plan.name, plan.calculation, plan.cases
            )
        except OnceReusedError:
            detail = "A study was accepted with this Idempotency-Key and another body."
            raise ProblemError("key-used-otherwise", detail) from None
        store.forget_old()
    _have_it_run()
    tell(study=found.id, cases=found.cases)
    return _accepted(found)


def _have_it_run() -> None:
    if current_app.config.get(RUNS):
        begin_runner(settings())


def _once() -> str | None:
    given = request.headers.get("Idempotency-Key")
    if given is not None and not re.fullmatch(r"[!-~]{1,200}", given):
        detail = "It is to be 1 to 200 characters of ASCII without blanks."
        raise ProblemError("unknown-parameter", detail, parameters=[("Idempotency-Key", detail)])
    return given


def _accepted(study: Study) -> Response:
    response = reply(state_of(study))
    response.status_code = 202
    response.headers["Location"] = f"/v1/studies/{study.id}"
    return response


def state_of(study: Study) -> dict[str, Any]:
    """How far a study is, as the contract has it."""
    told: dict[str, Any] = {
        "study": study.id, "calculation": study.calculation, "state": study.state,
        "cases": study.cases, "done": study.done, "failed": study.failed,
        "created": _time(study.created),
    }  # fmt: skip
    if study.name:
        told["name"] = study.name
    if study.ended is not None:
        told["ended"] = _time(study.ended)
    if study.state == "running" and study.rate:
        told["cases_per_s"] = float(f"{study.rate:.3g}")
        told["left_s"] = float(f"{(study.cases - study.done) / study.rate:.3g}")
    return told


def _time(seconds: float) -> str:
    return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


@blueprint.get("/v1/studies")
def get_studies() -> Response:
    """List the caller's studies."""
    most = int(request.args.get("most", _USUAL_PAGE))
    with _store() as store:
        found = store.listed(_owner(), request.args.get("after", None, int), most + 1)
    content: dict[str, Any] = {"studies": [state_of(each) for each in found[:most]]}
    if len(found) > most:
        content["next"] = found[most - 1].number
    return reply(content)


@blueprint.get("/v1/studies/<study>")
def get_study(study: str) -> Response:
    """How far a study is."""
    with _store() as store:
        found = _found(store, study)
    if found.state in {"queued", "running"}:
        _have_it_run()
    return reply(state_of(found))


@blueprint.delete("/v1/studies/<study>")
def delete_study(study: str) -> Response:
    """Remove a study."""
    with _store() as store:
        found = _found(store, study)
        store.delete(found)
    return reply(state_of(found))


@blueprint.post("/v1/studies/<study>/cancellation")
def post_cancellation(study: str) -> Response:
    """End a study."""
    with _store() as store:
        store.cancel(_found(store, study))
        return _accepted(_found(store, study))


@blueprint.get("/v1/studies/<study>/results")
def get_results(study: str) -> Response:
    """Rows of a study, a page of them."""
    most = int(request.args.get("most", _USUAL_PAGE))
    with _store() as store:
        found = _found(store, study)
        stored = store.rows(found, int(request.args.get("after", 0)), most + 1)
    content: dict[str, Any] = {"rows": told_rows(plan_of_text(found.document), stored[:most])}
    if len(stored) > most:
        content["next"] = stored[most - 1][0] + 1
    return reply(content)


@blueprint.get("/v1/studies/<study>/results.csv")
def get_results_csv(study: str) -> Response:
    """Rows of a study as a table, read from the store while it is sent."""
    with _store() as store:
        found = _found(store, study)
    form = {
        "decimal_comma": request.args.get("decimal") == "comma",
        "byte_order_mark": request.args.get("byte_order_mark") == "true",
    }
    table = table_of(plan_of_text(found.document), store.every_row(found))
    return _file(_pieces(csv_lines(table, **form)), f"{CSV}; charset=utf-8; header=present", "csv")


def _pieces(lines: Iterator[str]) -> Iterator[str]:
    some: list[str] = []
    for line in lines:
        some.append(line)
        if len(some) == _PIECE:
            yield "".join(some)
            some = []
    yield "".join(some)


@blueprint.get("/v1/studies/<study>/results.parquet")
def get_results_parquet(study: str) -> Response:
    """Rows of a study as Parquet, written to a file that is gone once it is sent."""
    if not has_parquet():
        detail = "This service was installed without what writes Parquet."
        raise ProblemError("not-installed", detail)
    with _store() as store:
        found = _found(store, study)
        file = tempfile.TemporaryFile()  # noqa: SIM115 (closed once it is sent)
        write_parquet(plan_of_text(found.document), store.every_row(found), file)
        file.flush()  # a disk that is full is told before the answer begins
    return _file(_sent(file), PARQUET, "parquet")


def _sent(file: IO[bytes]) -> Iterator[bytes]:
    with file:
        file.seek(0)
        while piece := file.read(65_536):
            yield piece


@blueprint.post("/v1/studies/<study>/best")
def post_best(study: str) -> Response:
    """The best cases of a study by one goal, or the front by several."""
    return reply(_asked(study, BestSchema, found.best_of))


@blueprint.post("/v1/studies/<study>/front.svg")
def post_front_svg(study: str) -> Response:
    """The front among all cases, drawn."""

    def drawn(asked: dict[str, Any], plan: Plan, kept: Study, store: Store) -> Response:
        from api.drawings.render import svg_of
        from api.drawings.study import Axis, front_figure, front_text

        if len(asked["goals"]) != 2:
            detail = f"{len(asked['goals'])} goals are given; a picture has two axes."
            raise RefusedError([Refusal(("goals",), detail, allowed="two goals")])
        best = found.found_best(asked, plan, kept, store)
        across, up = (Axis(words_of(goal), goal["towards"]) for goal in asked["goals"])
        costs, on = best.goals[:, best.able], np.isin(np.flatnonzero(best.able), best.order)
        text = front_text(across, up, costs, on)
        figure = front_figure(across, up, costs, on, title=plan.name)
        return reply_picture(svg_of(figure, plan.name or "Front", text), SVG, text)

    return _asked(study, BestSchema, drawn)


@blueprint.post("/v1/studies/<study>/sensitivity")
def post_sensitivity(study: str) -> Response:
    """What results of a study depend on."""
    return reply(_asked(study, DependenceSchema, found.sensitivities_of))


@blueprint.post("/v1/studies/<study>/sensitivity.svg")
def post_sensitivity_svg(study: str) -> Response:
    """What results of a study depend on, drawn as bars."""

    def drawn(asked: dict[str, Any], plan: Plan, kept: Study, store: Store) -> Response:
        from api.drawings.render import svg_of
        from api.drawings.study import influence_figure, influence_text

        told = found.sensitivities_of(asked, plan, kept, store)["results"]
        figure, text = influence_figure(told, title=plan.name), influence_text(told)
        return reply_picture(svg_of(figure, plan.name or "Sensitivity", text), SVG, text)

    return _asked(study, DependenceSchema, drawn)


_Of = TypeVar("_Of")


def _asked(
    study: str,
    schema: type[StrictSchema],
    of: Callable[[dict[str, Any], Plan, Study, Store], _Of],
) -> _Of:
    """What is asked of a study, its body read before the study is looked for."""
    asked = found.read_asked(schema, read_document())
    with _store() as store:
        kept = _found(store, study)
        return of(asked, plan_of_text(kept.document), kept, store)


def _file(content: Iterator[Any], kind: str, ending: str) -> Response:
    headers = {
        "Cache-Control": "no-store",
        "Content-Disposition": f'attachment; filename="study.{ending}"',
    }
    return Response(content, content_type=kind, headers=headers)
