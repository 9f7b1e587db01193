"""Where do two documents differ, number by number?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any


def differences(kept: Any, now: Any, *, rel: float = 1e-6, place: str = "") -> Iterator[str]:
    """Tell every field that differs, with both values; numbers by their relative difference.

    Parameters
    ----------
    kept, now
        The documents.
    rel
        Largest relative difference that is none: six digits are answered, and the last may differ
        between processors. Below 1e-9 a number is rounding noise.
    place
        JSON Pointer of what is compared.

    Yields
    ------
    str
        Place, value kept, value now.
    """
    if isinstance(kept, dict) and isinstance(now, dict):
        for key in kept.keys() | now.keys():
            if key not in kept or key not in now:
                yield f"{place}/{key}: only {'now' if key in now else 'kept'}"
            else:
                yield from differences(kept[key], now[key], rel=rel, place=f"{place}/{key}")
    elif isinstance(kept, list) and isinstance(now, list):
        if len(kept) != len(now):
            yield f"{place}: {len(kept)} items kept, {len(now)} now"
        for index, pair in enumerate(zip(kept, now, strict=False)):
            yield from differences(*pair, rel=rel, place=f"{place}/{index}")
    elif isinstance(kept, float) and isinstance(now, float | int) and not isinstance(now, bool):
        if not math.isclose(kept, now, rel_tol=rel, abs_tol=1e-9):
            yield f"{place}: {kept!r} kept, {now!r} now"
    elif kept != now or type(kept) is not type(now):
        yield f"{place}: {kept!r} kept, {now!r} now"
