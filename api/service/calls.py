"""What happens to every call before and after its resource.

On the way in: id, key, rate, kept answer, turn, time limit. On the way out: tag, compression, safe
headers, count and log. All POST addresses are calculations; the others cost next to nothing and
have neither turn nor rate.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any, Final

from flask import Flask, Response, current_app, g, request
from flask_cors import CORS
from werkzeug.middleware.proxy_fix import ProxyFix

from api.media_types import JSON, PLOT_FILES
from api.service.answer_cache import AnswerCache
from api.service.deadline import TimeLimitError, time_limit
from api.service.delivery import add_tag, compress, harden
from api.service.keys import parse_keys, require_key
from api.service.metrics import TURNED_AWAY, count
from api.service.problems import ProblemError
from api.service.rates import Rates, add_rate_headers
from api.service.request_log import DIGEST_HEADER, VERSION_HEADER, identify, log_request, trace
from api.service.request_log import HEADER as REQUEST_ID
from api.service.turns import Turns
from api.settings import Settings, listed

_NAME: Final = "evenloop"
_WITH_KEY: Final = ("metrics.get_metrics",)
"""Addresses besides the calculations and studies that need a key where keys are set."""
_STUDIES: Final = "studies."
"""How the endpoints of studies begin: their answers change, and are for their owners alone."""
_DAY: Final = 86_400  # s


@dataclass(frozen=True, slots=True)
class Guards:
    """What stands before the calculations of one application.

    Attributes
    ----------
    keys
        Hash of each key by name; empty where anyone may ask.
    turns
        Turns of this worker.
    rates
        Rate limit, or None.
    cache
        Kept answers, or None.
    """

    keys: dict[str, str]
    turns: Turns
    rates: Rates | None
    cache: AnswerCache | None


def guards() -> Guards:
    """Guards of the running application."""
    kept: Guards = current_app.extensions[_NAME]
    return kept


def count_calculations(more: int) -> None:
    """Count further calculations of the current call against its caller's rate."""
    rates = guards().rates
    if rates is not None and more > 0:
        rates.count(more)


def accompany(app: Flask, settings: Settings, refuse_early: Callable[[], None]) -> None:
    """Set up an application whose addresses are all registered.

    Parameters
    ----------
    app
        The application.
    settings
        Its settings.
    refuse_early
        Refuses calls that no address could answer, before anything is spent on them.
    """
    app.extensions[_NAME] = Guards(
        keys=parse_keys(settings.api_keys),
        turns=Turns(settings.max_calculations, settings.max_waiting, settings.max_wait_seconds),
        rates=Rates(settings.rate_per_minute) if settings.rate_per_minute else None,
        cache=AnswerCache(settings.cache_bytes) if settings.cache_bytes else None,
    )
    if settings.cors_origins:
        # What is registered first is done last: no kept answer holds a caller's origin.
        _allow_origins(app, settings.cors_origins)
    app.before_request(_begin)
    app.before_request(refuse_early)
    app.before_request(_admit)
    app.after_request(_finish)
    for rule in app.url_map.iter_rules():
        if "POST" in (rule.methods or ()):
            view = app.view_functions[rule.endpoint]
            app.view_functions[rule.endpoint] = _in_turn(view, settings.max_seconds)
    if settings.trusted_proxies:
        number = settings.trusted_proxies
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=number, x_proto=number, x_host=number)  # type: ignore[method-assign]


def _begin() -> None:
    g.began = time.perf_counter()
    identify()


def _admit() -> Response | None:
    """Refuse who may not ask, and answer at once what was asked before."""
    calculation = request.method == "POST"
    of_studies = (request.endpoint or "").startswith(_STUDIES) and request.method != "OPTIONS"
    if not calculation and not of_studies and request.endpoint not in _WITH_KEY:
        return None
    guard = guards()
    if guard.keys:
        require_key(guard.keys)
    if not calculation or request.url_rule is None:
        return None
    if guard.rates is not None:
        guard.rates.count()
    if guard.cache is None or of_studies:
        return None
    return guard.cache.look_up(current_app.config["EVENLOOP"].max_body_bytes)


def _in_turn(view: Callable[..., Any], seconds: float) -> Callable[..., Any]:
    """Let a calculation wait for its turn, and end it at the time limit."""

    @wraps(view)
    def calculate(**given: str) -> Any:  # noqa: ANN401 (whatever the view gives)
        try:
            with guards().turns.turn(), time_limit(seconds):
                return view(**given)
        except TimeLimitError:
            TURNED_AWAY.labels("time-limit-exceeded").inc()
            raise ProblemError(
                "time-limit-exceeded",
                f"The calculation was ended after {seconds:g} s, the most that this service gives "
                "to one request.",
            ) from None

    return calculate


def _finish(response: Response) -> Response:
    guard = guards()
    trace(response)
    if guard.cache is not None:
        guard.cache.keep(response)
    if request.method == "OPTIONS" and response.status_code == 200:
        _tell_options(response)
    response = harden(compress(add_tag(response)))
    add_rate_headers(response)
    began = g.get("began", 0.0)
    count(response, began)
    log_request(response, began)
    return response


def _tell_options(response: Response) -> None:
    """Tell by headers alone what an address takes: there is nothing to read."""
    response.status_code = 204
    del response.headers["Content-Type"]
    if "POST" in response.allow:
        of_files = request.endpoint == "plot_file.post_plot_file"
        response.headers["Accept-Post"] = ", ".join(PLOT_FILES) if of_files else JSON


def _allow_origins(app: Flask, origins: str) -> None:
    CORS(
        app,
        origins=list(listed(origins)),
        methods=["DELETE", "GET", "HEAD", "POST"],
        allow_headers=[
            "Accept",
            "Authorization",
            "Content-Type",
            "Idempotency-Key",
            "If-None-Match",
            REQUEST_ID,
        ],
        expose_headers=[
            "ETag",
            "Location",
            "RateLimit",
            "RateLimit-Policy",
            "Retry-After",
            REQUEST_ID,
            DIGEST_HEADER,
            VERSION_HEADER,
        ],
        max_age=_DAY,
        send_wildcard=True,
        vary_header=True,
    )
