"""What the service counts, for Prometheus; with several workers, all of them together.

Where PROMETHEUS_MULTIPROC_DIR is set before the start, as ``serve --production`` does, every worker
keeps its numbers in files of that folder and any one of them answers for all. The files are those
of the worker's place, not of its process: a replacement counts on in them, so that there are never
more of them and their room can be taken at the start.
"""

from __future__ import annotations

import os
import time
from typing import Final

from flask import Response, request
from prometheus_client import (
    CONTENT_TYPE_LATEST,
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    generate_latest,
    values,
)
from prometheus_client.multiprocess import MultiProcessCollector

FOLDER: Final = "PROMETHEUS_MULTIPROC_DIR"
_KINDS: Final = ("counter", "histogram", "gauge_livesum")
"""Kinds of metric below, each with a file of its own as the library names it."""
_place: int | None = None  # of this worker; None where none has been given


def _counted_under() -> str:
    return str(os.getpid() if _place is None else f"place{_place}")


if FOLDER in os.environ:  # the library has chosen files by process
    values.ValueClass = values.MultiProcessValue(_counted_under)  # type: ignore[no-untyped-call]

MEDIA_TYPE: Final = "text/plain"
_REGISTRY: Final = CollectorRegistry()
_TIMES: Final = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30)
_COUNTS: Final = (1, 3, 10, 30, 100, 300, 1_000, 3_000, 10_000, 100_000)
_METHODS: Final = frozenset({"GET", "HEAD", "POST", "OPTIONS", "PUT", "PATCH", "DELETE"})

REQUESTS: Final = Counter(
    "evenloop_requests", "Requests answered.", ("route", "method", "status"), registry=_REGISTRY
)
REQUEST_SECONDS: Final = Histogram(
    "evenloop_request_seconds", "Time from request to answer.", ("route",), buckets=_TIMES,
    registry=_REGISTRY,
)  # fmt: skip
SOLVE_SECONDS: Final = Histogram(
    "evenloop_solve_seconds", "Time that the engine took for one array.", buckets=_TIMES,
    registry=_REGISTRY,
)  # fmt: skip
ITERATIONS: Final = Histogram(
    "evenloop_solve_iterations", "Steps of the solution of one array.",
    buckets=(1, 2, 3, 4, 5, 7, 10, 15, 25, 50, 100), registry=_REGISTRY,
)  # fmt: skip
LOOPS: Final = Histogram(
    "evenloop_solve_loops", "Loops of one array.", buckets=_COUNTS, registry=_REGISTRY
)
UNDER_WAY: Final = Gauge(
    "evenloop_calculations_under_way", "Calculations under way.", registry=_REGISTRY,
    multiprocess_mode="livesum",
)  # fmt: skip
TURNED_AWAY: Final = Counter(
    "evenloop_turned_away", "Calculations not begun, or ended early, by reason.", ("reason",),
    registry=_REGISTRY,
)  # fmt: skip
CACHE: Final = Counter(
    "evenloop_cache", "Look-ups of identical calculations.", ("result",), registry=_REGISTRY
)
CACHE_BYTES: Final = Gauge(
    "evenloop_cache_bytes", "Memory held by kept answers.", registry=_REGISTRY,
    multiprocess_mode="livesum",
)  # fmt: skip
LOG_FAILURES: Final = Counter(
    "evenloop_log_failures", "Lines of the log that could not be written.", registry=_REGISTRY
)


def files_of(place: int | None) -> list[str]:
    """Names of the files in which a worker counts; None: this process, which has no place."""
    under = os.getpid() if place is None else f"place{place}"
    return [f"{kind}_{under}.db" for kind in _KINDS]


def take_place(place: int) -> None:
    """Count from now on in the files of a worker's place, beginning where its last holder ended."""
    global _place  # noqa: PLW0603 (one worker, one place)
    _place = place
    UNDER_WAY.set(0.0)
    CACHE_BYTES.set(0.0)


def count(response: Response, began: float) -> None:
    """Count the current request.

    Parameters
    ----------
    response
        Its answer.
    began
        When it came, by ``time.perf_counter`` [s].
    """
    # The rule, not the path: what strangers ask for must not make ever more time series.
    route = request.url_rule.rule if request.url_rule else "none"
    method = request.method if request.method in _METHODS else "other"
    REQUESTS.labels(route, method, str(response.status_code)).inc()
    REQUEST_SECONDS.labels(route).observe(time.perf_counter() - began)


def count_solve(seconds: float, iterations: int, loops: int) -> None:
    """Count one array that the engine solved."""
    SOLVE_SECONDS.observe(seconds)
    ITERATIONS.observe(iterations)
    LOOPS.observe(loops)


def exposition() -> Response:
    """Answer of GET /metrics."""
    registry = _REGISTRY
    if "PROMETHEUS_MULTIPROC_DIR" in os.environ:
        registry = CollectorRegistry()
        MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
    return Response(generate_latest(registry), content_type=CONTENT_TYPE_LATEST)
