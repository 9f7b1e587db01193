"""How many calculations a minute one caller may ask for."""

from __future__ import annotations

import math
import time
from typing import Final

from flask import Response, g, request

from api.service.metrics import TURNED_AWAY
from api.service.problems import ProblemError

_WINDOW: Final = 60


class Rates:
    """Calculations of the last minute by caller, counted in this worker.

    Parameters
    ----------
    per_minute
        Most calculations a minute of one caller.
    """

    def __init__(self, per_minute: int) -> None:
        # Loaded here: few set a rate, and it takes a fiftieth of the start.
        from limits import RateLimitItemPerMinute  # noqa: PLC0415
        from limits.storage import MemoryStorage  # noqa: PLC0415
        from limits.strategies import SlidingWindowCounterRateLimiter  # noqa: PLC0415

        self._limit = RateLimitItemPerMinute(per_minute)
        self._limiter = SlidingWindowCounterRateLimiter(MemoryStorage())

    def count(self, calculations: int = 1) -> None:
        """Count calculations of the current request's caller.

        Parameters
        ----------
        calculations
            How many.

        Raises
        ------
        ProblemError
            too-many-requests; then they are not counted.
        """
        caller = g.get("key_name") or request.remote_addr or "unknown"
        allowed = self._limiter.hit(self._limit, caller, cost=calculations)
        state = self._limiter.get_window_stats(self._limit, caller)
        wait = max(1, math.ceil(state.reset_time - time.time()))
        # Field names and form of the IETF draft "RateLimit header fields for HTTP".
        g.rate_headers = {
            "RateLimit-Policy": f'"calculations";q={self._limit.amount};w={_WINDOW}',
            "RateLimit": f'"calculations";r={max(0, state.remaining)};t={wait}',
        }
        if not allowed:
            TURNED_AWAY.labels("too-many-requests").inc()
            raise ProblemError(
                "too-many-requests",
                f"{self._limit.amount:,} calculations a minute are allowed; try again in {wait} s.",
                headers={"Retry-After": str(wait)},
            )


def add_rate_headers(response: Response) -> Response:
    """Tell the caller what is left of the rate, where one is set."""
    response.headers.update(g.get("rate_headers", {}))
    return response
