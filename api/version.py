"""By which version of the service, and of which body, was an answer made?"""

import hashlib
import json
from importlib.metadata import version
from typing import Final

import orjson

VERSION: Final = version("evenloop")


def digest_of(document: object) -> str:
    """SHA-256 of a body as compact JSON in UTF-8 with its names in order.

    It is the body's however that was written: the same digest by the same version, the same answer.
    """
    try:
        written = orjson.dumps(document, option=orjson.OPT_SORT_KEYS)
    except TypeError:  # an integer of more than 64 bits, as one refused job of a batch may hold
        told = json.dumps(document, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
        written = told.encode()
    return hashlib.sha256(written).hexdigest()
