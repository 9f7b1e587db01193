"""How every error leaves the service: as RFC 9457 problem details, whatever the route."""

from __future__ import annotations

import json
import logging
import uuid
from collections.abc import Mapping, Sequence
from typing import Any, Final

from flask import Flask, Response, has_request_context, request
from werkzeug.exceptions import HTTPException, MethodNotAllowed, NotFound, RequestEntityTooLarge

from api.refusals import (
    MISSING,
    Json,
    Refusal,
    RefusedError,
    pointer,
    refusals_of,
    shown,
    told_place,
    value_at,
)
from api.schemas.problem import ProblemSchema
from api.service.problem_types import PROBLEM_TYPES, ProblemType
from hydraulics.errors import HydraulicsError, NoSolutionError

MEDIA_TYPE: Final = "application/problem+json"
MOST_SHOWN: Final = 100
"""Most errors listed in one problem; the rest are counted."""

_log = logging.getLogger("evenloop")


class ProblemError(Exception):
    """Stop answering and send a problem of a known type.

    Parameters
    ----------
    slug
        Key of PROBLEM_TYPES.
    detail
        What is wrong this time.
    refusals
        Places of the request at fault.
    parameters
        Errors of the address instead: name and reason.
    headers
        Headers to send with it.
    """

    def __init__(
        self,
        slug: str,
        detail: str,
        refusals: Sequence[Refusal] = (),
        parameters: Sequence[tuple[str, str]] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(detail)
        self.type = PROBLEM_TYPES[slug]
        self.detail = detail
        self.refusals = tuple(refusals)
        self.parameters = tuple(parameters)
        self.headers = dict(headers or {})


_SCHEMA = ProblemSchema()


def _error(refusal: Refusal, document: Json) -> dict[str, Any]:
    error: dict[str, Any] = {
        "pointer": pointer(told_place(refusal.place)),
        "detail": refusal.detail,
    }
    value = refusal.value
    if value is MISSING:
        value = value_at(document, refusal.place)
    if value is not MISSING:
        error["value"] = shown(value)
    if refusal.allowed:
        error["allowed"] = refusal.allowed
    return error


def _send(problem: dict[str, Any]) -> Response:
    return Response(
        json.dumps(_SCHEMA.dump(problem), ensure_ascii=False),
        status=problem["status"],
        content_type=MEDIA_TYPE,
        headers={"Cache-Control": "no-store"},
    )


def send_plain(status: int, title: str, detail: str) -> Response:
    """Send a problem that HTTP's own status tells enough about."""
    return _send({"type": "about:blank", "title": title, "status": status, "detail": detail})


def _problem(
    kind: ProblemType, detail: str, errors: Sequence[dict[str, Any]] = (), instance: str = ""
) -> dict[str, Any]:
    return {
        "type": kind.uri, "title": kind.title, "status": kind.status, "detail": detail,
        **({"errors": list(errors)} if errors else {}),
        **({"instance": instance} if instance else {}),
    }  # fmt: skip


def _document() -> Json:
    """Body of the request as it was read; MISSING before that."""
    return request.environ.get("evenloop.document", MISSING)


def _from_refusals(
    kind: ProblemType,
    detail: str,
    refusals: Sequence[Refusal],
    document: Json,
    more: Sequence[dict[str, Any]] = (),
) -> dict[str, Any]:
    errors = [_error(each, document) for each in refusals[:MOST_SHOWN]]
    if len(refusals) > MOST_SHOWN:
        detail += f" The first {MOST_SHOWN} of {len(refusals)} are listed."
    return _problem(kind, detail, [*errors, *more])


def _of_refused(error: RefusedError, document: Json) -> dict[str, Any]:
    count = len(error.refusals)
    first = error.refusals[0].detail if count else ""
    detail = first if count == 1 else f"{count} faults in the input. The first: {first}"
    beyond = all(each.out_of_range for each in error.refusals)
    kind = PROBLEM_TYPES["outside-range" if beyond and count else "invalid-input"]
    return _from_refusals(kind, detail, error.refusals, document)


def problem_of(
    error: ProblemError | RefusedError | HydraulicsError, document: Json
) -> dict[str, Any]:
    """ProblemSchema's object of an error of the request.

    Parameters
    ----------
    error
        What was raised.
    document
        The input that the error's places lead into; MISSING where none was read.

    Returns
    -------
    dict
        The problem.
    """
    if isinstance(error, ProblemError):
        more = [{"parameter": shown(n), "detail": d} for n, d in error.parameters[:MOST_SHOWN]]
        return _from_refusals(error.type, error.detail, error.refusals, document, more)
    if isinstance(error, RefusedError):
        return _of_refused(error, document)
    refusals = refusals_of(error)
    if not isinstance(error, NoSolutionError):
        return _of_refused(RefusedError(refusals), document)
    detail = " ".join(each.detail for each in refusals[:1]) or "Nothing does what is asked."
    return _from_refusals(PROBLEM_TYPES["no-solution"], detail, refusals, document)


def _on_error_of_request(error: ProblemError | RefusedError | HydraulicsError) -> Response:
    response = _send(problem_of(error, _document()))
    response.headers.update(getattr(error, "headers", {}))
    return response


def too_large(limit: int) -> str:
    """What is said of a body of more bytes than the limit."""
    return f"The body is longer than {limit:,} bytes, the most that this service reads."


def _on_http(error: HTTPException) -> Response:
    status = error.code or 500
    if status < 400:  # a redirect is no problem
        return error.get_response()  # type: ignore[return-value]
    if isinstance(error, NotFound):
        detail = f"There is nothing at {shown(request.path)}."
        return _send(_problem(PROBLEM_TYPES["not-found"], detail))
    if isinstance(error, MethodNotAllowed):
        allowed = ", ".join(sorted(error.valid_methods or ()))
        detail = f"{shown(request.method)} is not allowed here; use {allowed}."
        response = _send(_problem(PROBLEM_TYPES["method-not-allowed"], detail))
        response.headers["Allow"] = allowed
        return response
    if isinstance(error, RequestEntityTooLarge):
        limit = (request.max_content_length or 1) - 1  # one more is let through, see create_app
        return _send(_problem(PROBLEM_TYPES["body-too-large"], too_large(limit)))
    return send_plain(status, error.name, "The request could not be served as sent.")


def fault_of_service(error: Exception) -> dict[str, Any]:
    """ProblemSchema's object of an error that is no fault of the request; it is logged."""
    instance = f"urn:uuid:{uuid.uuid4()}"
    asked = f"{request.method} {request.path}" if has_request_context() else "a case of a study"
    _log.error("%s failed, %s", asked, instance, exc_info=error)
    detail = "The service failed; nothing was computed. Its log has the cause under this instance."
    return _problem(PROBLEM_TYPES["internal-error"], detail, (), instance)


def _on_anything(error: Exception) -> Response:
    return _send(fault_of_service(error))


def register(app: Flask) -> None:
    """Send every error of an application as a problem."""
    for kind in (ProblemError, RefusedError, HydraulicsError):
        app.register_error_handler(kind, _on_error_of_request)
    app.register_error_handler(HTTPException, _on_http)
    app.register_error_handler(Exception, _on_anything)
