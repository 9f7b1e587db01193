"""Who may ask for calculations: keys of which the service holds only hashes.

A key has 256 random bits, so a plain SHA-256 of it can be neither reversed nor guessed; slow
hashes are for what people choose.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from typing import Final

from flask import g, request

from api.service.problems import ProblemError
from api.settings import listed

_BYTES: Final = 32
_LONGEST: Final = 200

WITHOUT_KEY: Final = (
    "The request carries no key that this service knows; send Authorization: Bearer and the key."
)
NO_KEY: Final = {"WWW-Authenticate": 'Bearer realm="evenloop"'}
"""Header that goes with it (RFC 6750)."""


def make_key() -> str:
    """New random key (43 characters)."""
    return secrets.token_urlsafe(_BYTES)


def hash_of(key: str) -> str:
    """What the service is told of a key: its SHA-256, in hexadecimal digits."""
    return hashlib.sha256(key.encode()).hexdigest()


def parse_keys(text: str) -> dict[str, str]:
    """Hash by name, of a setting that has passed its check."""
    return dict(each.split("=", 1) for each in listed(text))


def require_key(keys: dict[str, str]) -> None:
    """Refuse the current request unless it carries a key that is known.

    Parameters
    ----------
    keys
        Hash by name.

    Raises
    ------
    ProblemError
        key-required.
    """
    name = name_of(request.headers.get("Authorization", ""), keys)
    if name is None:
        raise ProblemError("key-required", WITHOUT_KEY, headers=NO_KEY)
    g.key_name = name


def name_of(authorization: str, keys: dict[str, str]) -> str | None:
    """Name of the key in an Authorization header, or None.

    Every hash is compared in full, whatever was found before.
    """
    kind, _, given = authorization.partition(" ")
    if kind.lower() != "bearer":
        return None
    hashed = hash_of(given.strip()[:_LONGEST])
    found = None
    for name, known in keys.items():
        if hmac.compare_digest(hashed, known):
            found = name
    return found
