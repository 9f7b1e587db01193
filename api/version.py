"""By which version of the service, and of which body, was an answer made?"""

import hashlib
from importlib.metadata import version
from typing import Final

import orjson

VERSION: Final = version("evenloop")


def digest_of(document: object) -> str:
    """SHA-256 of a body as compact JSON in UTF-8 with its names in order.

    It is the body's however that was written: the same digest by the same version, the same answer.
    """
    return hashlib.sha256(orjson.dumps(document, option=orjson.OPT_SORT_KEYS)).hexdigest()
