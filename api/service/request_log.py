"""What the service logs: one JSON object a line, with the request's id, never a body."""

from __future__ import annotations

import logging
import re
import sys
import time
import uuid
from typing import Final

from flask import Response, g, has_request_context, request
from pythonjsonlogger.json import JsonFormatter

from api.service.metrics import LOG_FAILURES
from api.settings import Settings
from api.version import VERSION, digest_of

HEADER: Final = "X-Request-Id"
DIGEST_HEADER: Final = "Evenloop-Body-SHA256"
VERSION_HEADER: Final = "Evenloop-Version"
_FIT: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._:=+/-]{0,63}")
_LONGEST_PATH: Final = 200

_log = logging.getLogger("evenloop.requests")


def request_id() -> str:
    """Id of the request under way; empty outside one."""
    return str(g.get("request_id", "")) if has_request_context() else ""


def identify() -> None:
    """Give the current request an id: its own, if that is plain and short, or a new one."""
    given = request.headers.get(HEADER, "")
    g.request_id = given if _FIT.fullmatch(given) else uuid.uuid4().hex


def log_request(response: Response, began: float) -> None:
    """Log the current request, without its body, and send its id with the answer.

    Parameters
    ----------
    response
        Its answer.
    began
        When it came, by ``time.perf_counter`` [s].
    """
    response.headers[HEADER] = request_id()
    if _log.isEnabledFor(logging.INFO):
        length = response.calculate_content_length()
        _log.info(
            "request",
            extra={
                "method": request.method[:20],
                "path": request.path[:_LONGEST_PATH],
                "status": response.status_code,
                "milliseconds": round(1e3 * (time.perf_counter() - began), 2),
                "bytes_in": request.content_length or 0,
                "bytes_out": length or 0,
                "address": request.remote_addr or "",
                **({"key": g.key_name} if "key_name" in g else {}),
                **g.get("told", {}),
            },
        )


def trace(response: Response) -> Response:
    """Tell by which version, and of which body, an answer was made."""
    document = request.environ.get("evenloop.document")
    if document is not None and response.status_code in (200, 207):
        digest = digest_of(document)
        response.headers[DIGEST_HEADER] = digest
        response.headers[VERSION_HEADER] = VERSION
        tell(body_sha256=digest)
    return response


def tell(**facts: float | str) -> None:
    """Add facts to the line of the request under way, such as the number of loops."""
    g.setdefault("told", {}).update(facts)


class _WithId(logging.Filter):
    """Adds the request's id to whatever is logged while one is under way."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.request_id = request_id()
        return True


class _Lossy(logging.StreamHandler):  # type: ignore[type-arg]
    """Drops and counts what cannot be written: a full disk must not stop the service."""

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802
        LOG_FAILURES.inc()


def start_logging(settings: Settings) -> None:
    """Log to standard error as JSON lines, from the level that the settings name.

    Parameters
    ----------
    settings
        Settings of the service.
    """
    handler = _Lossy(sys.stderr)
    handler.setFormatter(
        JsonFormatter(
            "%(asctime)s %(levelname)s %(name)s %(process)d %(request_id)s %(message)s",
            rename_fields={
                "asctime": "time",
                "levelname": "level",
                "name": "logger",
                "process": "worker",
            },
            datefmt="%Y-%m-%dT%H:%M:%S%z",
            json_ensure_ascii=True,
        )
    )
    handler.addFilter(_WithId())
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel("WARNING")
    logging.getLogger("evenloop").setLevel(settings.log_level.upper())
