"""How every error leaves the service: as RFC 9457 problem details, whatever the route."""

from __future__ import annotations

import json
import logging
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from flask import Flask, Response, request
from werkzeug.exceptions import HTTPException, MethodNotAllowed, NotFound, RequestEntityTooLarge

from api.refusals import MISSING, Json, Refusal, RefusedError, pointer, refusals_of, shown, value_at
from api.schemas.problem import ProblemSchema
from hydraulics.errors import HydraulicsError, NoSolutionError

MEDIA_TYPE: Final = "application/problem+json"
MOST_SHOWN: Final = 100
"""Most errors listed in one problem; the rest are counted."""

_log = logging.getLogger("evenloop")


@dataclass(frozen=True, slots=True)
class ProblemType:
    """A kind of problem that people can look up.

    Attributes
    ----------
    slug
        Last part of its URI.
    status
        HTTP status it is sent with.
    title
        Short name, the same every time.
    meaning
        When it is sent.
    remedy
        What to do.
    """

    slug: str
    status: int
    title: str
    meaning: str
    remedy: str

    @property
    def uri(self) -> str:
        """Stable, relative URI of the type and of its page."""
        return f"/v1/problems/{self.slug}"


PROBLEM_TYPES: Final[dict[str, ProblemType]] = {
    each.slug: each
    for each in (
        ProblemType(
            "empty-body", 400, "The request has no body",
            "A calculation was asked for without saying of what.",
            "Send the input as a JSON object with Content-Type: application/json.",
        ),
        ProblemType(
            "malformed-json", 400, "The body is not JSON",
            "The body breaks the grammar of RFC 8259: a missing comma, a trailing comma, NaN or "
            "Infinity, a field given twice, bytes that are not UTF-8, half of a surrogate pair.",
            "Mend the body at the line and column, or at the pointers, that the problem names.",
        ),
        ProblemType(
            "nested-too-deep", 400, "The body is nested too deep",
            "Objects and lists are nested deeper than this service reads.",
            "Flatten the array: a circuit inside a circuit takes three levels. The setting "
            "EVENLOOP_MAX_NESTING raises the limit.",
        ),
        ProblemType(
            "unknown-parameter", 400, "The address has an unknown parameter",
            "A parameter after the question mark would have been ignored.",
            "Put the input into the JSON body and leave the parameter out.",
        ),
        ProblemType(
            "unknown-value", 400, "A parameter has a value that is not on offer",
            "A parameter after the question mark is known, but not with this value, or it is given "
            "more than once.",
            "Use one of the values that the problem names.",
        ),
        ProblemType(
            "key-required", 401, "A key is required",
            "This service answers calculations to those with a key, and the request carries none "
            "that is known.",
            "Send Authorization: Bearer followed by your key; whoever runs the service gives it.",
        ),
        ProblemType(
            "not-found", 404, "There is nothing at this address",
            "The path is not one of this service.",
            "GET /v1 lists the addresses.",
        ),
        ProblemType(
            "method-not-allowed", 405, "The method is not allowed here",
            "The address exists, but not with this method.",
            "Use one of the methods in the Allow header.",
        ),
        ProblemType(
            "not-acceptable", 406, "The answer comes in another media type",
            "The Accept header rules out every media type that this address sends.",
            "Accept one of the media types that the problem names, or leave the header out.",
        ),
        ProblemType(
            "body-too-large", 413, "The body is too large",
            "The body is longer than this service reads.",
            "Give equal loops once with a count. The setting EVENLOOP_MAX_BODY_BYTES raises the "
            "limit.",
        ),
        ProblemType(
            "unsupported-media-type", 415, "The body must be JSON",
            "The Content-Type is not application/json, or the body is compressed.",
            "Send plain JSON in UTF-8 with Content-Type: application/json.",
        ),
        ProblemType(
            "invalid-input", 422, "The input cannot describe a real case",
            "The JSON is well formed, but a field is missing, unknown, of the wrong type or out of "
            "its range, or two fields contradict each other. All such faults are listed.",
            "Change each value that the problem points at to what it says is allowed.",
        ),
        ProblemType(
            "outside-range", 422, "A correlation does not reach this far",
            "The input is real, but outside the range for which a property or a law is published: "
            "a fluid at or below its freezing point, a strength that nobody measured.",
            "Stay in the range that the problem states; no value is extrapolated.",
        ),
        ProblemType(
            "no-solution", 422, "No steady flow was found",
            "The input is well formed, but no steady state exists: for instance, a pump that "
            "cannot overcome the circuit.",
            "Read the detail; change the pump, the duty or the array.",
        ),
        ProblemType(
            "too-many-requests", 429, "More requests than the rate allows",
            "This key, or this address where no keys are set, has asked for more calculations in a "
            "minute than the service allows.",
            "Wait for as long as Retry-After says. Several arrays go in one call to "
            "/v1/flow-splits, where each counts.",
        ),
        ProblemType(
            "internal-error", 500, "The service failed",
            "A fault of the service, not of the request. Nothing was computed.",
            "Report it with the instance that the problem names; it is in the service's log.",
        ),
        ProblemType(
            "too-busy", 503, "Too much is under way",
            "As many calculations are under way and waiting as the service takes on; this one was "
            "turned away before it began.",
            "Send it again after as long as Retry-After says, with longer pauses if it goes on.",
        ),
        ProblemType(
            "time-limit-exceeded", 503, "The calculation took too long",
            "The calculation was ended at the service's time limit. The same request would end "
            "the same way.",
            "Send a smaller array or fewer of them. The setting EVENLOOP_MAX_SECONDS raises the "
            "limit.",
        ),
    )
}  # fmt: skip


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
    error: dict[str, Any] = {"pointer": pointer(refusal.place), "detail": refusal.detail}
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


def _problem(
    kind: ProblemType, detail: str, errors: Sequence[dict[str, Any]] = (), instance: str = ""
) -> dict[str, Any]:
    problem: dict[str, Any] = {
        "type": kind.uri,
        "title": kind.title,
        "status": kind.status,
        "detail": detail,
    }
    if errors:
        problem["errors"] = list(errors)
    if instance:
        problem["instance"] = instance
    return problem


def _typed(
    kind: ProblemType, detail: str, errors: Sequence[dict[str, Any]], instance: str = ""
) -> Response:
    return _send(_problem(kind, detail, errors, instance))


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
    detail = " ".join(each.detail for each in refusals[:1]) or "No steady flow was found."
    return _from_refusals(PROBLEM_TYPES["no-solution"], detail, refusals, document)


def _on_error_of_request(error: ProblemError | RefusedError | HydraulicsError) -> Response:
    response = _send(problem_of(error, _document()))
    response.headers.update(getattr(error, "headers", {}))
    return response


def _on_http(error: HTTPException) -> Response:
    status = error.code or 500
    if status < 400:  # a redirect is no problem
        return error.get_response()  # type: ignore[return-value]
    if isinstance(error, NotFound):
        kind, detail = PROBLEM_TYPES["not-found"], f"There is nothing at {shown(request.path)}."
        return _typed(kind, detail, [])
    if isinstance(error, MethodNotAllowed):
        allowed = ", ".join(sorted(error.valid_methods or ()))
        detail = f"{shown(request.method)} is not allowed here; use {allowed}."
        response = _typed(PROBLEM_TYPES["method-not-allowed"], detail, [])
        response.headers["Allow"] = allowed
        return response
    if isinstance(error, RequestEntityTooLarge):
        limit = (request.max_content_length or 1) - 1  # one more is let through, see create_app
        return _typed(
            PROBLEM_TYPES["body-too-large"], f"The body may have up to {limit:,} bytes.", []
        )
    return _send(
        {"type": "about:blank", "title": error.name, "status": status,
         "detail": "The request could not be served as sent."}
    )  # fmt: skip


def fault_of_service(error: Exception) -> dict[str, Any]:
    """ProblemSchema's object of an error that is no fault of the request; it is logged."""
    instance = f"urn:uuid:{uuid.uuid4()}"
    _log.error("%s %s failed, %s", request.method, request.path, instance, exc_info=error)
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
