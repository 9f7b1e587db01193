"""Keeps the last answers to calculations, so that the same request again costs no calculation.

An answer depends on the request and the version alone, so nothing kept can go stale.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from dataclasses import dataclass
from typing import Final

from flask import Response, g, request

from api.service.metrics import CACHE, CACHE_BYTES

_OVERHEAD: Final = 1_000
"""Bytes that an entry takes beside its body: objects, headers, key."""
_KEPT_STATUSES: Final = (200, 207)


@dataclass(frozen=True, slots=True)
class _Kept:
    body: bytes
    status: int
    headers: tuple[tuple[str, str], ...]


class AnswerCache:
    """Answers by request, the least recently used dropped first.

    Parameters
    ----------
    most_bytes
        Most memory; an answer of more than an eighth of it is not kept.
    """

    def __init__(self, most_bytes: int) -> None:
        self._most = most_bytes
        self._lock = threading.Lock()
        self._kept: OrderedDict[bytes, _Kept] = OrderedDict()
        self._bytes = 0

    def look_up(self, most_body: int) -> Response | None:
        """Kept answer to the current request; None where there is none.

        Parameters
        ----------
        most_body
            Longest body that the service reads [bytes]; whatever is longer is for others to refuse.

        Returns
        -------
        Response or None
            The answer as it was sent.
        """
        body = request.get_data()
        if len(body) > most_body:
            return None
        key = hashlib.sha256()
        for part in (
            request.full_path,
            request.headers.get("Content-Type", ""),
            request.headers.get("Content-Encoding", ""),
            request.headers.get("Accept", ""),
        ):
            key.update(part.encode("utf-8", "replace"))
            key.update(b"\0")
        key.update(body)
        found = key.digest()
        with self._lock:
            kept = self._kept.get(found)
            if kept is not None:
                self._kept.move_to_end(found)
        CACHE.labels("miss" if kept is None else "hit").inc()
        if kept is None:
            g.cache_key = found
            return None
        return Response(kept.body, kept.status, kept.headers)

    def keep(self, response: Response) -> None:
        """Keep the answer to the current request, if it was looked up and computed."""
        key: bytes | None = g.pop("cache_key", None)
        if key is None or response.status_code not in _KEPT_STATUSES or response.is_streamed:
            return
        kept = _Kept(response.get_data(), response.status_code, tuple(response.headers))
        size = len(kept.body) + _OVERHEAD
        if size > self._most / 8:
            return
        with self._lock:
            if key not in self._kept:
                self._kept[key] = kept
                self._bytes += size
            while self._bytes > self._most:
                _, dropped = self._kept.popitem(last=False)
                self._bytes -= len(dropped.body) + _OVERHEAD
            CACHE_BYTES.set(self._bytes)
